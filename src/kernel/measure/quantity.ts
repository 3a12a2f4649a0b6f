import { mulDivCeil, mulDivFloor } from './ratio.js';

/** A weight as a whole number of milligrams. */
export type Milligrams = number & { readonly unit: 'mg' };

/** A count as a whole number of pieces. */
export type Units = number & { readonly unit: 'each' };

/** How an item is held: by weight (milligrams) or by count (units). */
export type Measure = 'weighed' | 'counted';

export type QuantityErrorCode =
  | 'empty'
  | 'not-a-number'
  | 'ambiguous-number'
  | 'negative'
  | 'no-unit'
  | 'unknown-unit'
  | 'wrong-measure'
  | 'needs-density'
  | 'not-whole'
  | 'too-fine'
  | 'too-large';

/** A quantity that could not be read; the message is meant for the person who typed it. */
export class QuantityError extends Error {
  constructor(
    readonly code: QuantityErrorCode,
    message: string,
  ) {
    super(message);
    this.name = 'QuantityError';
  }
}

/** One whole in parts per billion, the unit of every fraction in the kernel. */
export const PPB_ONE = 1_000_000_000;

const MAX_TEXT_LENGTH = 64;
const MAX_PRINTED_DECIMALS = 12;

/** `n` as milligrams. Throws RangeError when it is not a safe integer. */
export function milligrams(n: number): Milligrams {
  return safe(n, 'milligrams') as Milligrams;
}

/** `n` as units. Throws RangeError when it is not a safe integer. */
export function units(n: number): Units {
  return safe(n, 'units') as Units;
}

type UnitKind = 'weight' | 'volume' | 'count';

/** One unit is `numerator / denominator` milligrams (weight), millilitres (volume) or pieces (count). */
interface Unit {
  kind: UnitKind;
  numerator: bigint;
  denominator: bigint;
}

const unit = (kind: UnitKind, numerator: bigint, denominator = 1n): Unit => ({ kind, numerator, denominator });

/*
 * Exact factors: NIST Handbook 44 (2014), appendix C, p. C-14
 * (1 ounce avoirdupois = 28.349 523 125 g, 1 pound = 453.592 37 g) and p. C-12 (1 US gallon = 231 cubic inches =
 * 3785.411 784 ml = 128 fluid ounces).
 */
export type UnitName = 'mg' | 'g' | 'kg' | 'oz' | 'lb' | 'ml' | 'l' | 'fl oz' | 'each' | 'dozen';
const UNITS: Readonly<Record<UnitName, Unit>> = {
  mg: unit('weight', 1n),
  g: unit('weight', 1_000n),
  kg: unit('weight', 1_000_000n),
  oz: unit('weight', 28_349_523_125n, 1_000_000n),
  lb: unit('weight', 45_359_237n, 100n),
  ml: unit('volume', 1n),
  l: unit('volume', 1_000n),
  'fl oz': unit('volume', 3_785_411_784n, 128_000_000n),
  each: unit('count', 1n),
  dozen: unit('count', 12n),
};

// Spellings of the trade, lower case, dots dropped, blanks single.
const SPELLINGS: ReadonlyMap<string, UnitName> = new Map(
  (
    [
      ['mg', 'milligram milligrams'],
      ['g', 'gram grams'],
      ['kg', 'kilogram kilograms'],
      ['oz', 'ounce ounces'],
      ['lb', 'lbs pound pounds'],
      ['ml', 'millilitre millilitres milliliter milliliters'],
      ['l', 'litre litres liter liters'],
      ['fl oz', 'floz fluid_ounce fluid_ounces us_fl_oz'],
      ['each', 'ea pc pcs piece pieces unit units'],
      ['dozen', 'doz'],
    ] as [UnitName, string][]
  ).flatMap(([name, others]) => [name, ...others.split(' ').map((s) => s.replaceAll('_', ' '))].map((s) => [s, name])),
);

const KNOWN_UNITS = 'g, kg, mg, oz, lb, ml, l, fl oz, each or dozen';

/**
 * Reads what a person typed ("2.5 kg", "16 fl oz", "3 dozen") as whole milligrams or units, exactly.
 *
 * A weighed item needs a unit; a counted one may go without ("12"). A volume needs the density (micrograms per
 * millilitre). An ounce is the avoirdupois ounce of weight, never a fluid ounce. Rounds half up to the milligram, and
 * only where a factor gives a fraction of one (oz, lb, and volumes); "0.0001 g" is refused instead.
 * Throws QuantityError.
 */
export function parseQuantity(text: string, as: { measure: Measure; densityUgPerMl?: number | null }): number {
  const cleaned = text.trim().toLowerCase().replace(/\s+/g, ' ').replaceAll('\u2212', '-');
  if (cleaned === '') throw new QuantityError('empty', 'Write an amount, for example 250 g.');
  // First what looks like a number in any country's habit, then the rest as the unit.
  const [, numberText = '', unitText = ''] =
    /^([-+]?[\d.,' ]*(?:e[-+]?\d+)?(?:\/\d+)?)(.*)$/.exec(cleaned.slice(0, MAX_TEXT_LENGTH + 1)) ?? [];
  if (cleaned.length > MAX_TEXT_LENGTH) throw new QuantityError('not-a-number', `"${text.slice(0, 20)}…" is too long.`);
  const { digits, scale } = parseNumber(numberText.trim(), cleaned);
  const named = parseUnit(unitText.trim(), as.measure);
  const { numerator, denominator } = inBaseUnit(named, as);
  return wholeAmount(digits * numerator, scale * denominator, named, cleaned);
}

/** A plain decimal as `digits / scale`. */
function parseNumber(text: string, whole: string): { digits: bigint; scale: bigint } {
  if (text.startsWith('-')) throw new QuantityError('negative', `"${whole}" is negative; an amount cannot be.`);
  if (/^\+?\d[\d.,' ]*$/.test(text) && (/[,' ]/.test(text) || text.split('.').length > 2))
    throw new QuantityError(
      'ambiguous-number',
      `"${text}" can be read in two ways. Write no thousands separator, and a point for decimals: 1234.5.`,
    );
  if (text.includes('e')) throw new QuantityError('not-a-number', `Write "${text}" without an exponent, like 1500.`);
  if (text.includes('/')) throw new QuantityError('not-a-number', `Write "${text}" as a decimal, like 0.5.`);
  const match = /^(\d+)(?:\.(\d+))?$/.exec(text) ?? /^()\.(\d+)$/.exec(text);
  if (!match) throw new QuantityError('not-a-number', `"${whole}" does not begin with a number like 250 or 2.5.`);
  const decimals = match[2] ?? '';
  return { digits: BigInt((match[1] ?? '') + decimals), scale: 10n ** BigInt(decimals.length) };
}

function parseUnit(text: string, measure: Measure): UnitName {
  if (text === '') {
    if (measure === 'counted') return 'each';
    throw new QuantityError('no-unit', `Say in which unit: ${KNOWN_UNITS}.`);
  }
  if (/\d/.test(text)) throw new QuantityError('not-a-number', `Write one number and one unit, not "${text}" as well.`);
  const name = SPELLINGS.get(text.replaceAll('.', ' ').replace(/\s+/g, ' ').trim());
  if (!name)
    throw new QuantityError('unknown-unit', `"${text}" is not a unit used here. Use ${KNOWN_UNITS}.${hintFor(text)}`);
  return name;
}

function hintFor(text: string): string {
  if (/\b(oz|ounce)/.test(text)) return ' An ounce of weight is oz, a US fluid ounce is fl oz.';
  if (/^(cup|tsp|tbsp|drop|pint|quart|gal|pt|qt)/.test(text)) return ' Household measures vary: weigh it.';
  return '';
}

/** How many milligrams or pieces one unit is, as a fraction. Throws when the unit does not fit the item. */
function inBaseUnit(name: UnitName, as: { measure: Measure; densityUgPerMl?: number | null }): Unit {
  const found = UNITS[name];
  if ((found.kind === 'count') !== (as.measure === 'counted'))
    throw new QuantityError(
      'wrong-measure',
      as.measure === 'counted'
        ? `This item is counted: write a number of pieces, not ${name}.`
        : `This item is weighed: write a weight such as 250 g, not ${name}.`,
    );
  if (found.kind !== 'volume') return found;
  const density = as.densityUgPerMl ?? null;
  if (density === null)
    throw new QuantityError('needs-density', `${name} is a volume and this item has no density. Write a weight.`);
  if (!Number.isSafeInteger(density) || density <= 0) throw new RangeError(`not a density in ug/ml: ${density}`);
  // millilitres x micrograms per millilitre are micrograms: a thousand of them make the milligram
  return { ...found, numerator: found.numerator * BigInt(density), denominator: found.denominator * 1_000n };
}

function wholeAmount(numerator: bigint, denominator: bigint, name: UnitName, whole: string): number {
  const isWhole = numerator % denominator === 0n;
  if (!isWhole && UNITS[name].kind === 'count')
    throw new QuantityError('not-whole', `"${whole}" is not a whole number of pieces.`);
  if (!isWhole && (name === 'mg' || name === 'g' || name === 'kg'))
    throw new QuantityError('too-fine', `"${whole}" is finer than a milligram, the smallest amount kept here.`);
  const amount = divideHalfUp(numerator, denominator);
  if (amount === 0n && numerator > 0n) throw new QuantityError('too-fine', `"${whole}" is less than half a milligram.`);
  if (amount > BigInt(Number.MAX_SAFE_INTEGER))
    throw new QuantityError('too-large', `"${whole}" is larger than any amount kept here.`);
  return Number(amount);
}

/**
 * Prints whole milligrams or units so that `parseQuantity` reads the same amount back.
 *
 * Without a unit: counted as "12", weighed as kg from 1 kg when it is whole grams, else as g. With one: the shortest
 * decimal that reads back the same. Volumes need the density. A negative amount (a movement) gets a leading minus.
 * Throws RangeError for an amount that is not a safe integer, QuantityError for a unit that does not fit.
 */
export function printQuantity(
  amount: number,
  measure: Measure,
  unitName?: UnitName,
  densityUgPerMl?: number | null,
): string {
  safe(amount, 'amount');
  if (amount < 0) return `-${printQuantity(-amount, measure, unitName, densityUgPerMl)}`;
  if (measure === 'counted' && unitName === undefined) return String(amount);
  const name = unitName ?? (amount >= 1_000_000 && amount % 1_000 === 0 ? 'kg' : 'g');
  const factor = inBaseUnit(name, { measure, densityUgPerMl });
  for (let decimals = 0, scale = 1n; decimals <= MAX_PRINTED_DECIMALS; decimals++, scale *= 10n) {
    const digits = divideHalfUp(BigInt(amount) * factor.denominator * scale, factor.numerator);
    const readBack = divideHalfUp(digits * factor.numerator, scale * factor.denominator);
    const isExact = factor.kind !== 'count' || digits * factor.numerator === BigInt(amount) * scale;
    if (readBack === BigInt(amount) && isExact) return `${decimalText(digits, decimals)} ${name}`;
  }
  throw new QuantityError('not-whole', `${amount} has no short form in ${name}.`);
}

function decimalText(digits: bigint, decimals: number): string {
  const padded = digits.toString().padStart(decimals + 1, '0');
  if (decimals === 0) return padded;
  return `${padded.slice(0, -decimals)}.${padded.slice(-decimals)}`;
}

/**
 * `amount` times `ppb` parts per billion, rounded down or up to the whole milligram; through bigint, because the
 * product passes 2^53 from 9 kg on. Throws RangeError for negative or unsafe input.
 */
export function partOf(amount: number, ppb: number, rounding: 'floor' | 'ceil'): number {
  return (rounding === 'ceil' ? mulDivCeil : mulDivFloor)(amount, ppb, PPB_ONE);
}

/**
 * What has to be put in so that `outputMg` comes out: (output + residue) / (1 - loss), rounded up to the milligram.
 * `residueMg` stays in the vessel whatever the batch, `lossPpb` is lost of all that is put in.
 * Throws RangeError unless 0 <= loss < 100 %.
 */
export function putInFor(outputMg: number, residueMg: number, lossPpb: number): number {
  if (natural(lossPpb, 'lossPpb') >= PPB_ONE) throw new RangeError(`loss must stay below 100 %: ${lossPpb} ppb`);
  const wanted = BigInt(natural(outputMg, 'outputMg')) + BigInt(natural(residueMg, 'residueMg'));
  const kept = BigInt(PPB_ONE - lossPpb);
  return safe(Number((wanted * BigInt(PPB_ONE) + kept - 1n) / kept), 'put in');
}

/**
 * The most that comes out when `putInMg` is put in: put in x (1 - loss) - residue, rounded down; 0 where all of it stays in
 * the vessel. It is the largest output whose `putInFor` is no more than that.
 */
export function outputFor(putInMg: number, residueMg: number, lossPpb: number): number {
  return Math.max(0, partOf(putInMg, PPB_ONE - lossPpb, 'floor') - natural(residueMg, 'residueMg'));
}

function divideHalfUp(numerator: bigint, denominator: bigint): bigint {
  return (2n * numerator + denominator) / (2n * denominator);
}

function safe(n: number, what: string): number {
  if (!Number.isSafeInteger(n)) throw new RangeError(`${what} must be a whole number below 2^53: ${n}`);
  return n === 0 ? 0 : n;
}

function natural(n: number, what: string): number {
  if (safe(n, what) < 0) throw new RangeError(`${what} must not be negative: ${n}`);
  return n;
}
