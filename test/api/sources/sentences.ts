import { relative, resolve } from 'node:path';
import ts from 'typescript';
import { describe, expect, it } from 'vitest';
import { isPlanted, ownSources, plant, sourceProgram } from '../../support/sql/program.js';

/** Reading the types of the whole application takes its time on a busy machine. */
const PROGRAM_MS_MAX = 900_000;

/**
 * Every sentence a person may read or that is kept is a template; what stands in one as a bare number has lost its unit.
 * An amount is written by `amountText`, anything else that is counted by `count`, both of which are text.
 */
const SAYING = new Set(['conflict', 'invalid', 'notFound', 'Problem', 'StartProblem', 'report']);
const KEPT = /^(detail|title|note|why|reason|text|message|lossReason)$/;

/** Numbers that are names or places, and bounds that stand in the code, stay bare. */
const NAMES =
  /(^|\.)(\w*[iI]d|at|line|position|length|code|index|occurrence|version|pid|port|holder|stranger|major|seconds|[A-Z_]+)$|^[A-Z_]+ [/]|^port \+ 1$/;

/** What a number may be of that is no amount: said right behind it. */
const UNITS =
  /^ (x \d|mm|rows?|lines?|lots?|labels|packs|cells|columns|characters|photos|bytes|days|weeks|fields|with at most)\b/;

interface Spoken {
  where: string;
  bare: string;
}

function bareNumbers(files: readonly ts.SourceFile[]): { sentences: number; bare: Spoken[] } {
  const checker = sourceProgram().getTypeChecker();
  const bare: Spoken[] = [];
  let sentences = 0;
  const look = (node: ts.Node): void => {
    if (ts.isTemplateExpression(node) && isSaid(node)) {
      sentences += 1;
      for (const [at, { expression, literal }] of node.templateSpans.entries()) {
        const behind = / (of|x) $/.test(literal.text) ? node.templateSpans[at + 1]?.literal : literal;
        if (UNITS.test(behind?.text ?? '')) continue;
        const type = checker.getTypeAtLocation(expression);
        const parts = type.isUnion() ? type.types : [type];
        const text = expression.getText();
        if (!parts.some((part) => (part.flags & ts.TypeFlags.NumberLike) !== 0) || NAMES.test(text)) continue;
        const file = node.getSourceFile();
        const { line } = file.getLineAndCharacterOfPosition(expression.getStart());
        bare.push({ where: `${relative('.', file.fileName)}:${line + 1}`, bare: text });
      }
    }
    ts.forEachChild(node, look);
  };
  files.forEach(look);
  return { sentences, bare };
}

/** Whether a template is an argument of what says something, or what is kept under a name that is read. */
function isSaid(template: ts.Node): boolean {
  for (let node = template.parent, from: ts.Node = template; node; from = node, node = node.parent) {
    if (ts.isCallExpression(node) || ts.isNewExpression(node)) {
      const called = node.expression.getText().split('.').at(-1)!;
      if (from === node.expression) continue;
      if (SAYING.has(called)) return true;
      // text that goes into a row
      if (called === 'query') return node.arguments?.[0] !== from;
      return false;
    }
    if (ts.isPropertyAssignment(node) && KEPT.test(node.name.getText())) return true;
    if (ts.isVariableDeclaration(node)) return KEPT.test(node.name.getText());
    if (ts.isFunctionLike(node) || ts.isStatement(node)) return false;
  }
  return false;
}

const PLANTED = plant(
  'stock',
  `
  declare const onHand: number, code: string, lot: { left: number; id: number };
  declare function conflict(code: string, detail: string): Error;
  declare function amountText(amount: number): string;
  declare const tx: { query(sql: string, values: unknown[]): void };
  conflict('x', \`Lot \${code} has \${onHand} on hand.\`);
  conflict('x', \`Lot \${code} has \${amountText(onHand)} on hand, id \${lot.id}.\`);
  const kept = { note: \`left out \${lot.left}\`, other: \`\${onHand}\` };
  tx.query(\`select \${onHand}\`, [\`worked in \${onHand}\`]);
  export {};`,
);

describe('a sentence', () => {
  it('says no amount without its unit, in no message and in nothing that is kept', { timeout: PROGRAM_MS_MAX }, () => {
    const own = ownSources(sourceProgram()).filter(({ fileName }) => !isPlanted(fileName));
    const found = bareNumbers(own.filter(({ fileName }) => !fileName.includes('/src/kernel/')));
    expect(found.sentences).toBeGreaterThan(100);
    expect(found.bare).toEqual([]);
  });

  it('with a bare amount is found: in a message, in a property that is kept, in what goes into a row', () => {
    const { bare, sentences } = bareNumbers([sourceProgram().getSourceFile(resolve(PLANTED))!]);
    expect(sentences).toBe(4);
    expect(bare.map((one) => one.bare)).toEqual(['onHand', 'lot.left', 'onHand']);
  });
});
