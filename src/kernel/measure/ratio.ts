/**
 * floor(a x b / c), exactly. Throws RangeError unless all three are whole and below 2^53, none negative, c above zero, and
 * the answer is below 2^53 too.
 */
export const mulDivFloor = (a: number, b: number, c: number): number => whole(limitFloor(a, b, c), a, b, c);

/** ceil(a x b / c), exactly. Throws RangeError as mulDivFloor does. */
export const mulDivCeil = (a: number, b: number, c: number): number => whole(limitCeil(a, b, c), a, b, c);

/** mulDivFloor of what bounds something else: past 2^53 it is Infinity, which bounds nothing. */
export function limitFloor(a: number, b: number, c: number): number {
  refuseUnlessWhole(a, b, c);
  const product = a * b;
  // a quotient of whole numbers below 2^53 never rounds up to a whole number it does not reach
  // Stryker disable next-line ConditionalExpression,EqualityOperator: the long way answers the same
  if (product <= Number.MAX_SAFE_INTEGER) return Math.floor(product / c);
  return orInfinity((BigInt(a) * BigInt(b)) / BigInt(c));
}

/** mulDivCeil of what bounds something else: past 2^53 it is Infinity. */
export function limitCeil(a: number, b: number, c: number): number {
  refuseUnlessWhole(a, b, c);
  const product = a * b;
  // Stryker disable next-line ConditionalExpression,EqualityOperator: the long way answers the same
  if (product <= Number.MAX_SAFE_INTEGER) return Math.ceil(product / c);
  return orInfinity((BigInt(a) * BigInt(b) + BigInt(c) - 1n) / BigInt(c));
}

/** `amount` up to the next multiple of `step`, both whole. Throws RangeError past 2^53. */
export const roundUpTo = (amount: number, step: number): number => safeProduct(Math.ceil(amount / step), step);

/** `amount` down to a multiple of `step`, both whole. */
export const roundDownTo = (amount: number, step: number): number => amount - (amount % step);

/** A statistic is a float; where one may lie a hair above the whole number it means, it means that number. */
const FLOAT_ERROR = 1e-9;

/** What a statistic says of days or amounts, as a whole number: rounded up, its own error left out. */
export const wholeUp = (statistic: number): number => Math.ceil(statistic - FLOAT_ERROR);

function refuseUnlessWhole(a: number, b: number, c: number): void {
  if (!Number.isSafeInteger(a) || !Number.isSafeInteger(b) || !Number.isSafeInteger(c) || a < 0 || b < 0 || c <= 0)
    throw new RangeError(`not a part of a whole amount: ${a} x ${b} / ${c}`);
}

const orInfinity = (quotient: bigint): number =>
  quotient > BigInt(Number.MAX_SAFE_INTEGER) ? Number.POSITIVE_INFINITY : Number(quotient);

function whole(quotient: number, a: number, b: number, c: number): number {
  if (quotient === Number.POSITIVE_INFINITY) throw new RangeError(`${a} x ${b} / ${c} passes 2^53`);
  return quotient;
}

function safeProduct(steps: number, step: number): number {
  const amount = steps * step;
  if (amount > Number.MAX_SAFE_INTEGER) throw new RangeError(`${steps} steps of ${step} pass 2^53`);
  return amount;
}

/** The last of the numbers from 0 to `most` that fits, where one that does not is followed by none that does; 0 where none does. */
export function lastThat(most: number, isFitting: (n: number) => boolean): number {
  let [fitting, over] = [0, most + 1];
  while (over - fitting > 1) {
    const middle = Math.floor((fitting + over) / 2);
    if (isFitting(middle)) fitting = middle;
    else over = middle;
  }
  return fitting;
}
