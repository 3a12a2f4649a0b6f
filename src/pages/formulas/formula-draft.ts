import type { BookVersion, FormulaBook } from '../../catalog/formula-book.service.js';
import { STEPS } from '../../catalog/formula.entity.js';
import type { Basis } from '../../kernel/formula/formula.js';
import { printQuantity } from '../../kernel/measure/quantity.js';
import { invalid } from '../../platform/problem.js';
import { type Fault, type Sent, written, writtenAmount } from '../../ui/form.js';

/** Rows a new form has beside those that are filled. */
export const SPARE_ROWS = 3;
export const ROWS_MAX = 64;

/** The filled rows of a sent form, by their number on the page; the formula's lines are numbered without the gaps. */
export function filledRows(sent: Sent): number[] {
  return Array.from({ length: rowsOf(sent) }, (_, at) => at + 1).filter(
    (row) => written(sent, `item.${row}`) !== undefined || written(sent, `amount.${row}`) !== undefined,
  );
}

/** How many rows the page had. */
export function rowsOf(sent: Sent): number {
  const rows = Number(sent['rows']);
  return Number.isInteger(rows) && rows >= 1 ? Math.min(rows, ROWS_MAX) : 1;
}

/** The lines as the API takes them; what is not of their form is said there. */
export function linesOf(sent: Sent): Record<string, unknown>[] {
  const filled = filledRows(sent);
  return filled.map((row) => {
    const basis = (written(sent, `basis.${row}`) ?? 'share') as Basis;
    const line: Record<string, unknown> = {
      item: (written(sent, `item.${row}`) ?? '').toUpperCase(),
      basis,
      step: written(sent, `step.${row}`),
    };
    if (basis !== 'qs') line['amount'] = written(sent, `amount.${row}`);
    if (basis === 'ratio') line['ratioOf'] = ratioOf(written(sent, `of.${row}`), filled);
    if (basis !== 'each' && basis !== 'fixed' && sent[`base.${row}`] === 'yes') line['isBase'] = true;
    return line;
  });
}

/** "2, 3" as numbers of the formula's lines: a row that is not filled is no line, and is refused as such. */
function ratioOf(text: string | undefined, filled: readonly number[]): number[] {
  return (text ?? '')
    .split(/[\s,+]+/)
    .filter((part) => /^\d{1,3}$/.test(part))
    .map((part) => filled.indexOf(Number(part)) + 1 || ROWS_MAX);
}

/** Everything the API takes for a new version. Throws a 422 problem for a number that is none. */
export function formulaOf(sent: Sent, isWeighed: boolean): Record<string, unknown> {
  const amount = (name: string): string | undefined => {
    const text = written(sent, name);
    return text === undefined ? undefined : writtenAmount(text, isWeighed);
  };
  const residue = written(sent, 'residue');
  return {
    lines: linesOf(sent),
    vesselKind: written(sent, 'vesselKind') ?? null,
    batchMin: amount('batchMin'),
    batchMax: amount('batchMax') ?? null,
    batchMultiple: amount('batchMultiple'),
    loss: written(sent, 'loss'),
    residue: residue === undefined ? undefined : writtenAmount(residue, true),
    minutesBatch: wholeNumber(sent, 'minutesBatch'),
    secondsUnit: wholeNumber(sent, 'secondsUnit'),
    restDays: wholeNumber(sent, 'restDays'),
    skill: written(sent, 'skill') ?? null,
    steps: stepsOf(sent),
    note: written(sent, 'note'),
  };
}

function wholeNumber(sent: Sent, name: string): number | undefined {
  const text = written(sent, name);
  if (text === undefined) return undefined;
  if (!/^\d{1,9}$/.test(text)) throw invalid(`/${name}`, 'Write a whole number, such as 40.');
  return Number(text);
}

/** An empty line parts one step from the next. */
function stepsOf(sent: Sent): { phase: string; instruction: string }[] {
  return STEPS.flatMap((phase) =>
    (sent[`steps.${phase}`] ?? '')
      .split(/\r?\n[ \t]*\r?\n/)
      .map((instruction) => instruction.trim())
      .filter((instruction) => instruction !== '')
      .map((instruction) => ({ phase, instruction })),
  );
}

/** What is wrong with each row, by its number on the page: a problem points at lines, which have no gaps. */
export function faultsByRow(sent: Sent, fault: Fault | undefined): Map<number, string> {
  const filled = filledRows(sent);
  const faults = new Map<number, string>();
  for (const [pointer, detail] of Object.entries(fault?.fields ?? {})) {
    const [, index] = /^lines\/(\d+)/.exec(pointer) ?? [];
    const row = index === undefined ? undefined : filled[Number(index)];
    if (row !== undefined && !faults.has(row)) faults.set(row, detail);
  }
  return faults;
}

/** The form as it is first shown: the version it follows, and a few empty rows. */
export function draftOf({ item, shown }: FormulaBook): Sent {
  const lines = shown?.lines ?? [];
  const draft: Sent = { rows: String(Math.min(ROWS_MAX, lines.length + SPARE_ROWS)) };
  for (const line of lines) {
    draft[`item.${line.line}`] = line.item;
    draft[`basis.${line.line}`] = line.basis;
    draft[`amount.${line.line}`] = statedAmount(line);
    draft[`of.${line.line}`] = line.ratioOf.join(', ');
    draft[`step.${line.line}`] = line.step;
    if (line.isBase) draft[`base.${line.line}`] = 'yes';
  }
  if (!shown)
    return {
      ...draft,
      batchMin: item.measure === 'weighed' ? '1 kg' : '1',
      batch: item.measure === 'weighed' ? '1 kg' : '1',
    };
  const amount = (quantity: number): string => printQuantity(quantity, item.measure);
  return {
    ...draft,
    vesselKind: shown.vesselKind ?? '',
    batch: amount(shown.batchMin),
    batchMin: amount(shown.batchMin),
    batchMax: shown.batchMax === null ? '' : amount(shown.batchMax),
    batchMultiple: shown.batchMultiple === 1 ? '' : amount(shown.batchMultiple),
    loss: String(shown.lossPpb / 10_000_000),
    residue: shown.residueMg === 0 ? '' : printQuantity(shown.residueMg, 'weighed'),
    minutesBatch: String(shown.minutesBatch),
    secondsUnit: String(shown.secondsUnit),
    restDays: String(shown.restDays),
    skill: shown.skill ?? '',
    note: shown.note,
    ...Object.fromEntries(
      STEPS.map((phase) => [
        `steps.${phase}`,
        shown.steps
          .filter((step) => step.phase === phase)
          .map((step) => step.instruction)
          .join('\n\n'),
      ]),
    ),
  };
}

function statedAmount(line: BookVersion['lines'][number]): string {
  if (line.amount === null) return '';
  if (line.basis === 'share' || line.basis === 'load') return String(line.amount / 10_000_000);
  if (line.basis === 'ratio') return String(line.amount / 1_000_000_000);
  return printQuantity(line.amount, line.measure);
}
