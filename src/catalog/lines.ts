import type { EntityManager } from 'typeorm';
import { solveFormula } from '../kernel/formula/formula.js';
import type { FormulaError } from '../kernel/formula/formula.js';
import type { ProblemPart } from '../platform/problem.js';
import { Problem } from '../platform/problem.js';
import { positiveAmountOf, scaledDecimal } from './amount.js';
import type { Step } from './formula.entity.js';
import type { Basis } from '../kernel/formula/formula.js';
import type { LineInput } from './formulas.schema.js';
import type { Item, ItemKind } from './item.entity.js';
import { itemsByCode } from './items.service.js';

/** A line as it is kept: its item found, its amount in base units, its part of the weight put in solved. */
export interface ReadLine {
  position: number;
  item: Item;
  basis: Basis;
  amount: number | null;
  isBase: boolean;
  ratioOf: number[];
  step: Step;
  partPpb: number | null;
}

const DEFAULT_STEP: Record<ItemKind, Step> = { material: 'make', bulk: 'make', product: 'fill', set: 'pack' };

/**
 * Reads and solves the lines of a formula for an item of this kind. Throws one 422 problem that points at every line
 * at fault: `bad-line` when a line alone is wrong, `unsolvable` when they do not fit together.
 */
export async function readLines(tx: EntityManager, inputs: readonly LineInput[], kind: ItemKind): Promise<ReadLine[]> {
  const named = inputs.map(({ item }, index) => ({ code: item, pointer: `/lines/${index}/item` }));
  const items = await itemsByCode(tx, named);
  const errors: ProblemPart[] = [];
  const lines = inputs.map((input, index) => readLine(input, index, items.get(input.item)!, kind, errors));
  if (errors.length > 0) throw new Problem({ status: 422, code: 'bad-line', detail: errors[0]!.detail, errors });
  const solved = solveFormula(lines);
  if (!solved.ok) throw unsolvable(solved.errors);
  return lines.map((line, index) => ({ ...line, partPpb: solved.partsPpb[index] ?? null }));
}

function readLine(input: LineInput, index: number, item: Item, kind: ItemKind, errors: ProblemPart[]): ReadLine {
  const at = `/lines/${index}`;
  const refuse = (pointer: string, detail: string, code: string) => errors.push({ pointer, detail, code });
  const isInside = input.basis !== 'each' && input.basis !== 'fixed';
  if (isInside && item.measure === 'counted')
    refuse(
      `${at}/item`,
      `${item.code} is counted, so it cannot be a part of the weight: use each or fixed.`,
      'counted',
    );
  if (isInside && kind !== 'bulk')
    refuse(`${at}/basis`, `A ${kind} is put together by each and fixed amounts.`, 'basis-not-allowed');
  if (input.basis === 'each' && kind === 'bulk')
    refuse(`${at}/basis`, 'A bulk is not made in units: use a share, or fixed for each batch.', 'basis-not-allowed');
  return {
    position: index + 1,
    item,
    basis: input.basis,
    amount: lineAmount(input, item, `${at}/amount`, errors),
    isBase: isInside ? (input.isBase ?? false) : false,
    ratioOf: input.basis === 'ratio' ? [...new Set(input.ratioOf)] : [],
    step: input.step ?? DEFAULT_STEP[kind],
    partPpb: null,
  };
}

function lineAmount(input: LineInput, item: Item, pointer: string, errors: ProblemPart[]): number | null {
  if (input.basis === 'qs') return null;
  if (input.basis === 'share' || input.basis === 'load') return input.amount;
  if (input.basis === 'ratio') {
    const ratio = scaledDecimal(input.amount, 9);
    if (ratio === null)
      errors.push({
        pointer,
        detail: 'Write a number such as 1 or "0.5", with at most nine decimals.',
        code: 'bad-ratio',
      });
    return ratio ?? 0;
  }
  try {
    return positiveAmountOf(input.amount, item, pointer);
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    errors.push(...error.errors);
    return 0;
  }
}

/** The kernel speaks of positions, an answer of places in the body. */
function unsolvable(errors: readonly FormulaError[]): Problem {
  const parts = errors.flatMap(({ code, positions, message }) =>
    positions.length === 0
      ? [{ pointer: '/lines', detail: message, code }]
      : positions.map((position) => ({ pointer: `/lines/${position - 1}`, detail: message, code })),
  );
  return new Problem({ status: 422, code: 'unsolvable', detail: errors[0]!.message, errors: parts });
}
