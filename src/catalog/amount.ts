import type { Measure } from '../kernel/measure/quantity.js';
import { parseQuantity, QuantityError } from '../kernel/measure/quantity.js';
import { invalid } from '../platform/problem.js';

/** The largest amount one line, lot or batch may have: nine tonnes in milligrams, well inside the safe integers. */
export const AMOUNT_MAX = 9_000_000_000_000;

/** What an amount is read with: the item's measure, and its density where a volume may be written. */
export interface Measured {
  measure: Measure;
  densityUgPerMl?: number | null;
}

/**
 * An amount as it came in (whole base units, or text with a unit) in the item's base unit.
 * Throws a 422 problem pointing at `pointer` when the text cannot be read or the amount passes AMOUNT_MAX.
 */
export function amountOf(input: number | string, as: Measured, pointer: string): number {
  let amount: number;
  try {
    amount = typeof input === 'number' ? input : parseQuantity(input, as);
  } catch (error) {
    if (error instanceof QuantityError) throw invalid(pointer, error.message, error.code);
    throw error;
  }
  if (amount > AMOUNT_MAX) throw invalid(pointer, 'This is more than any amount kept here.', 'too-large');
  return amount;
}

/** As `amountOf`, but nothing and none at all are refused too. */
export function positiveAmountOf(input: number | string, as: Measured, pointer: string): number {
  const amount = amountOf(input, as, pointer);
  if (amount === 0) throw invalid(pointer, 'Write an amount above zero.', 'not-positive');
  return amount;
}

const WEIGHED: Measured = { measure: 'weighed' };

/** A weight as it came in, in milligrams. */
export function weightOf(input: number | string, pointer: string): number {
  return amountOf(input, WEIGHED, pointer);
}

/**
 * Decimal text or a JSON number, times 10^`decimals`, as an exact whole number; null when it is not a plain decimal or
 * has more decimals than that.
 */
export function scaledDecimal(input: number | string, decimals: number): number | null {
  const match = /^(\d{1,9})(?:\.(\d{1,12}))?$/.exec(plain(input));
  if (!match) return null;
  const fraction = (match[2] ?? '').replace(/0+$/, '');
  if (fraction.length > decimals) return null;
  const scaled = Number((match[1] ?? '') + fraction.padEnd(decimals, '0'));
  return Number.isSafeInteger(scaled) ? scaled : null;
}

/** A number prints with an exponent below 1e-6, which `toFixed` does not. */
function plain(input: number | string): string {
  if (typeof input === 'string') return input.trim();
  const text = String(input);
  return text.includes('e') ? input.toFixed(12) : text;
}
