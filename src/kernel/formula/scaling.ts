import { PPB_ONE } from '../measure/quantity.js';

/**
 * Shares `total` over `weights` in whole steps that sum to `total` exactly (largest remainder; ties by index).
 *
 * A zero weight gets nothing, every other part lies within one step of its exact value. Not monotone: a larger total
 * may lower a part (the Alabama paradox), which is why a sheet is always computed from its own batch.
 * Throws RangeError when total is not a multiple of step, a weight is negative, or all are zero and total is not.
 */
export function largestRemainder(weights: readonly (bigint | number)[], total: number, step = 1): number[] {
  const steps = BigInt(stepsIn(total, step));
  const exactWeights = weights.map(BigInt);
  const sum = exactWeights.reduce((a, w) => a + w, 0n);
  if (exactWeights.some((w) => w < 0n)) throw new RangeError('weights must not be negative');
  if (sum === 0n) {
    if (steps > 0n) throw new RangeError('nothing to share over: every weight is zero');
    return weights.map(() => 0);
  }
  const parts = exactWeights.map((w) => Number((w * steps) / sum));
  const remainders = exactWeights.map((w) => (w * steps) % sum);
  const left = Number(remainders.reduce((a, r) => a + r, 0n) / sum);
  for (const index of byRemainder(remainders).slice(0, left)) parts[index]! += 1;
  return parts.map((n) => n * step);
}

/** What a maker can do about a line too light for the scale. */
export const TOO_LIGHT_ADVICE = ['finer-scale', 'predilution', 'larger-batch'] as const;

export interface SheetFlag {
  /** index into `partsPpb` */
  line: number;
  /**
   * `below-smallest`: lighter than the scale weighs well. `finer-scale-needed`: could not be held at the scale's
   * readability without rounding to nothing or past its limit, so the whole sheet has a finer step. `not-weighable`:
   * not even whole milligrams can hold it.
   */
  code: 'below-smallest' | 'finer-scale-needed' | 'not-weighable';
  advice: readonly (typeof TOO_LIGHT_ADVICE)[number][];
  /** the least batch in which the line reaches the smallest weighing, in mg put in */
  largerBatchMg: number;
}

export interface ScaledSheet {
  /** mg by line, summing to `putInMg`; multiples of `stepMg` */
  weightsMg: number[];
  /** the scale's step, or a finer one where a line demanded it (see `finer-scale-needed`) */
  stepMg: number;
  flags: SheetFlag[];
}

/**
 * The weights of a batch's lines, rounded to the scale's readability and summing exactly to the batch.
 *
 * `partsPpb` sum to 1e9. A line that is not zero never becomes zero, every weight lies within one step of its exact
 * value, and a line with a `maxPpb` (largest part of the batch, such as a use limit) is never rounded past it; where
 * the scale's step does not allow that, the sheet takes a ten times finer step, and says so.
 * Throws RangeError when `putInMg` is not a multiple of `stepMg`: the batch is rounded up to its multiple before.
 */
export function scaleSheet(sheet: {
  partsPpb: readonly number[];
  putInMg: number;
  stepMg: number;
  leastMg: number;
  maxPpb?: readonly (number | null)[];
}): ScaledSheet {
  const { partsPpb, putInMg, leastMg } = sheet;
  stepsIn(putInMg, sheet.stepMg);
  if (partsPpb.reduce((a, p) => a + p, 0) !== PPB_ONE) throw new RangeError('parts must sum to 1 000 000 000');
  const maxPpb = sheet.maxPpb ?? [];
  let step = sheet.stepMg;
  let rounded = roundWithin(partsPpb, maxPpb, putInMg, step);
  const unfit = rounded.unfit;
  while (rounded.weightsMg === null && step > 1) {
    step = step % 10 === 0 ? step / 10 : 1;
    rounded = roundWithin(partsPpb, maxPpb, putInMg, step);
  }
  const weightsMg = rounded.weightsMg ?? largestRemainder(partsPpb, putInMg);
  const one = BigInt(PPB_ONE);
  const flags: SheetFlag[] = [];
  for (const [line, ppb] of partsPpb.entries()) {
    if (ppb === 0 || putInMg === 0) continue;
    const largerBatchMg = Number((BigInt(leastMg) * one + BigInt(ppb) - 1n) / BigInt(ppb));
    const flag = (code: SheetFlag['code']) => flags.push({ line, code, advice: TOO_LIGHT_ADVICE, largerBatchMg });
    const weight = BigInt(weightsMg[line]!) * one;
    const limit = BigInt(Math.max(ppb, maxPpb[line] ?? PPB_ONE)) * BigInt(putInMg);
    if (rounded.weightsMg === null && (weight === 0n || weight > limit)) flag('not-weighable');
    else if (unfit.includes(line)) flag('finer-scale-needed');
    else if (weightsMg[line]! < leastMg) flag('below-smallest');
  }
  return { weightsMg, stepMg: step, flags };
}

/**
 * Weights at one step, each between the step below and the step above its exact value, at least one step unless zero
 * and at most its maximum. Null with the lines at fault when no such weights sum to the batch.
 */
function roundWithin(
  partsPpb: readonly number[],
  maxPpb: readonly (number | null)[],
  putInMg: number,
  step: number,
): { weightsMg: number[] | null; unfit: number[] } {
  const steps = BigInt(stepsIn(putInMg, step));
  const one = BigInt(PPB_ONE);
  const remainders: bigint[] = [];
  const least: number[] = [];
  const most: number[] = [];
  const light: number[] = [];
  const capped: number[] = [];
  for (const [line, ppb] of partsPpb.entries()) {
    const exact = BigInt(ppb) * steps;
    const floor = Number(exact / one);
    const max = maxPpb[line] ?? null;
    const above = exact % one === 0n ? floor : floor + 1;
    // a formula past its limit is judged elsewhere; here it is only not made worse
    const atMost = max === null ? above : Math.min(above, Math.max(floor, Number((BigInt(max) * steps) / one)));
    const atLeast = ppb > 0 && putInMg > 0 ? Math.max(floor, 1) : 0;
    if (floor === 0 && atLeast === 1) light.push(line);
    if (atMost < above) capped.push(line);
    remainders.push(atLeast === floor ? exact % one : 0n);
    least.push(atLeast);
    most.push(atMost);
  }
  const impossible = least.flatMap((n, line) => (n > most[line]! ? [line] : []));
  if (impossible.length > 0) return { weightsMg: null, unfit: impossible };
  let left = Number(steps) - least.reduce((a, n) => a + n, 0);
  if (left < 0) return { weightsMg: null, unfit: light };
  for (const line of byRemainder(remainders)) {
    if (left === 0) break;
    if (least[line]! >= most[line]!) continue;
    least[line]! += 1;
    left -= 1;
  }
  if (left > 0) return { weightsMg: null, unfit: capped };
  return { weightsMg: least.map((n) => n * step), unfit: [] };
}

/** Indices, largest remainder first, ties by index. */
function byRemainder(remainders: readonly bigint[]): number[] {
  return remainders
    .map((remainder, index) => ({ remainder, index }))
    .sort((a, b) => (a.remainder > b.remainder ? -1 : a.remainder < b.remainder ? 1 : a.index - b.index))
    .map(({ index }) => index);
}

function stepsIn(total: number, step: number): number {
  if (!Number.isSafeInteger(step) || step <= 0) throw new RangeError(`not a step: ${step}`);
  if (!Number.isSafeInteger(total) || total < 0 || total % step !== 0)
    throw new RangeError(`${total} is not a multiple of the step ${step}`);
  return total / step;
}
