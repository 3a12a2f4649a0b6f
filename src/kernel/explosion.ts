import type { Day } from './day.js';
import { PPB_ONE } from './quantity.js';

/** One unit of output (a milligram of bulk, a piece of product) needs `numerator / denominator` of this part. */
export interface StructurePart {
  code: string;
  numerator: number;
  denominator: number;
}

export interface StructureItem {
  code: string;
  /** empty for what is bought */
  parts: readonly StructurePart[];
  /** days from starting it, when its parts must be there, until it is there itself */
  leadDays?: number;
}

/** Items in the order they can be exploded: by low-level code, then code. Parts of item i: [firstPart[i], firstPart[i+1]). */
export interface Structure {
  codes: readonly string[];
  indexOf: ReadonlyMap<string, number>;
  level: Uint8Array;
  leadDays: Int32Array;
  firstPart: Int32Array;
  part: Int32Array;
  numerator: Float64Array;
  denominator: Float64Array;
}

/** A structure that cannot be exploded. `codes` are the items at fault; of a cycle in its own order. */
export class StructureError extends RangeError {
  constructor(
    readonly code: 'cycle' | 'too-deep' | 'unknown-part' | 'duplicate-item' | 'bad-ratio',
    readonly codes: readonly string[],
    message: string,
  ) {
    super(message);
    this.name = 'StructureError';
  }
}

/** How many formulas may stand one inside the other. */
export const MAX_LEVELS = 12;
/** Item-days one explosion may span (256 MiB of sums): 9 000 items over ten years. */
const MAX_CELLS = 2 ** 25;
/** Days from 1970 a demand may lie, about 27 000 years, so that day sums stay small integers. */
const MAX_DAY = 10_000_000;

/**
 * The exact ratio of a part to one unit that comes out: (amount / per) / (1 - loss). For a line inside the 100 %
 * `amount` is its parts per billion and `per` is 1e9; for a line per piece `per` is 1.
 * Throws RangeError when the reduced fraction leaves the safe integers.
 */
export function partRatio(amount: number, per: number, lossPpb: number): { numerator: number; denominator: number } {
  let a = BigInt(amount) * BigInt(PPB_ONE);
  let b = BigInt(per) * BigInt(PPB_ONE - lossPpb);
  if (a < 0n || b <= 0n) throw new RangeError(`not a ratio: ${amount} per ${per} at a loss of ${lossPpb} ppb`);
  const [numerator, denominator] = [a, b];
  while (b !== 0n) [a, b] = [b, a % b];
  const ratio = { numerator: Number(numerator / a), denominator: Number(denominator / a) };
  if (!Number.isSafeInteger(ratio.numerator) || !Number.isSafeInteger(ratio.denominator))
    throw new RangeError(`${amount} per ${per} at a loss of ${lossPpb} ppb is too fine a ratio`);
  return ratio;
}

/**
 * Compiles items and their parts. Every part must be an item of the list itself; a part may be named twice.
 * Throws StructureError: a cycle is named as "BLK-A -> BLK-B -> BLK-A".
 */
export function buildStructure(items: readonly StructureItem[]): Structure {
  const byCode = new Map(items.map((item) => [item.code, item]));
  if (byCode.size < items.length) {
    const twice = items.filter((item) => byCode.get(item.code) !== item).map((item) => item.code);
    throw new StructureError('duplicate-item', twice, `listed twice: ${twice.join(', ')}`);
  }
  const levels = levelsOf(byCode);
  const sorted = [...items].sort((a, b) => levels.get(a.code)! - levels.get(b.code)! || byText(a.code, b.code));
  const indexOf = new Map(sorted.map((item, index) => [item.code, index]));
  const edges = sorted.flatMap((item) => item.parts.map((part) => ({ ...part, ...reducedRatio(item.code, part) })));
  const firstPart = new Int32Array(sorted.length + 1);
  for (const [index, item] of sorted.entries()) firstPart[index + 1] = firstPart[index]! + item.parts.length;
  return {
    codes: sorted.map((item) => item.code),
    indexOf,
    level: Uint8Array.from(sorted, (item) => levels.get(item.code)!),
    leadDays: Int32Array.from(sorted, (item) => item.leadDays ?? 0),
    firstPart,
    part: Int32Array.from(edges, (edge) => indexOf.get(edge.code)!),
    numerator: Float64Array.from(edges, (edge) => edge.numerator),
    denominator: Float64Array.from(edges, (edge) => edge.denominator),
  };
}

/** The lowest level each item is used at: 0 for what nothing else needs. Netting an item before it is reached is wrong. */
export function lowLevelCodes(structure: Structure): Map<string, number> {
  return new Map(structure.codes.map((code, index) => [code, structure.level[index]!]));
}

/** Longest way down to each item, by taking off item after item that no other left one needs. */
function levelsOf(byCode: ReadonlyMap<string, StructureItem>): Map<string, number> {
  const users = new Map([...byCode.keys()].map((code) => [code, 0]));
  for (const item of byCode.values())
    for (const part of item.parts) {
      const count = users.get(part.code);
      if (count === undefined)
        throw new StructureError('unknown-part', [item.code, part.code], `${item.code} needs an unknown ${part.code}`);
      users.set(part.code, count + 1);
    }
  const levels = new Map([...byCode.keys()].map((code) => [code, 0]));
  const ready = [...byCode.keys()].filter((code) => users.get(code) === 0);
  let taken = 0;
  for (let code = ready.pop(); code !== undefined; code = ready.pop(), taken++)
    for (const part of byCode.get(code)!.parts) {
      levels.set(part.code, Math.max(levels.get(part.code)!, levels.get(code)! + 1));
      users.set(part.code, users.get(part.code)! - 1);
      if (users.get(part.code) === 0) ready.push(part.code);
    }
  if (taken < byCode.size) {
    const cycle = cycleAmong([...byCode.values()].filter((item) => users.get(item.code)! > 0));
    throw new StructureError('cycle', cycle, `made from itself: ${[...cycle, cycle[0]].join(' -> ')}`);
  }
  const deep = [...levels].filter(([, level]) => level > MAX_LEVELS).map(([code]) => code);
  if (deep.length > 0)
    throw new StructureError('too-deep', deep.sort(byText), `more than ${MAX_LEVELS} levels down: ${deep.join(', ')}`);
  return levels;
}

/** A cycle among items each of which is still needed by another of them, starting at its first code. */
function cycleAmong(left: readonly StructureItem[]): string[] {
  const sorted = [...left].sort((a, b) => byText(a.code, b.code));
  const userOf = (code: string) => sorted.find((item) => item.parts.some((part) => part.code === code))!.code;
  // walking from part to user never ends outside, so it must come back to where it was
  const path: string[] = [];
  for (let code = sorted[0]!.code; ; code = userOf(code)) {
    const seenAt = path.indexOf(code);
    path.push(code);
    if (seenAt < 0) continue;
    const cycle = path.slice(seenAt + 1).reverse();
    const start = cycle.indexOf(cycle.toSorted(byText)[0]!);
    return [...cycle.slice(start), ...cycle.slice(0, start)];
  }
}

function reducedRatio(code: string, part: StructurePart): { numerator: number; denominator: number } {
  const { numerator, denominator } = part;
  if (!Number.isSafeInteger(numerator) || !Number.isSafeInteger(denominator) || numerator < 0 || denominator <= 0)
    throw new StructureError('bad-ratio', [code, part.code], `${code} needs ${numerator}/${denominator} ${part.code}`);
  let [a, b] = [numerator, denominator];
  while (b !== 0) [a, b] = [b, a % b];
  return { numerator: numerator / a, denominator: denominator / a };
}

export interface Demand {
  code: string;
  day: Day;
  quantity: number;
}

/** Needs by item and day: item i's amounts from its first to its last day lie at zeroDay[i] + day. */
export interface Needs {
  structure: Structure;
  firstDay: Int32Array;
  lastDay: Int32Array;
  zeroDay: Int32Array;
  /** what is needed, the item's own demand included; 0 on days without a need */
  gross: Float64Array;
  /** what of it stock on hand does not cover; the same array as gross where no stock was given */
  net: Float64Array;
  /** how many item-days have a need */
  count: number;
}

/**
 * What the demands need of every item through every level, summed by item and day in level order, so that a part used
 * at several levels is complete before it is exploded itself. Parts are needed `leadDays` before their item. Fractions
 * round up, once an item, day and part. Stock on hand, where given, covers an item's earliest needs and what it covers
 * is not exploded. Linear in demands plus item-days times parts.
 * Throws RangeError for an unknown item, a quantity that is not a safe integer >= 0, sums past 2^53, or days so far
 * apart that the item-days do not fit.
 */
export function explode(
  structure: Structure,
  demands: readonly Demand[],
  onHand: ReadonlyMap<string, number> = new Map(),
): Needs {
  const demandItem = itemsOf(structure, demands);
  const needs = layOut(structure, demands, demandItem);
  const { gross, zeroDay } = needs;
  addDemands(gross, zeroDay, demands, demandItem);
  if (onHand.size > 0) needs.net = new Float64Array(gross.length);
  for (let item = 0; item < structure.codes.length; item++) {
    const begin = zeroDay[item]! + needs.firstDay[item]!;
    const end = zeroDay[item]! + needs.lastDay[item]! + 1;
    const code = structure.codes[item]!;
    needs.count += countNeeds(gross, begin, end, code);
    if (needs.net !== gross) coverFromStock(gross, needs.net, begin, end, onHand.get(code) ?? 0);
    for (let edge = structure.firstPart[item]!; edge < structure.firstPart[item + 1]!; edge++) {
      const shift = zeroDay[structure.part[edge]!]! - zeroDay[item]! - structure.leadDays[item]!;
      const numerator = structure.numerator[edge]!;
      const denominator = structure.denominator[edge]!;
      if (denominator === 1) addWhole(needs.net, gross, begin, end, shift, numerator);
      else addPart(needs.net, gross, begin, end, shift, numerator, denominator);
    }
  }
  return needs;
}

/** The item-days with a need, by low-level code, code and day. */
export function needRows(needs: Needs): { code: string; day: Day; gross: number; net: number }[] {
  return needs.structure.codes.flatMap((code, item) => {
    const row = [];
    for (let day = needs.firstDay[item]!; day <= needs.lastDay[item]!; day++) {
      const cell = needs.zeroDay[item]! + day;
      if (needs.gross[cell]! > 0) row.push({ code, day, gross: needs.gross[cell]!, net: needs.net[cell]! });
    }
    return row;
  });
}

/*
 * The loops below are small functions over arrays, which the engine compiles after a few calls, and they touch little
 * fresh memory: copying demands to columns and needs to lists cost more than all of the arithmetic (measured on
 * 100,000 demands and 128,000 item-days).
 */

function itemsOf(structure: Structure, demands: readonly Demand[]): Int32Array {
  const items = new Int32Array(demands.length);
  for (let i = 0; i < demands.length; i++) {
    const { code, day, quantity } = demands[i]!;
    const item = structure.indexOf.get(code);
    if (item === undefined) throw new RangeError(`demand for an unknown item ${code}`);
    if (!Number.isSafeInteger(quantity) || quantity < 0 || !Number.isInteger(day) || Math.abs(day) > MAX_DAY)
      throw new RangeError(`not a demand: ${quantity} of ${code} on day ${day}`);
    items[i] = item;
  }
  return items;
}

function layOut(structure: Structure, demands: readonly Demand[], demandItem: Int32Array): Needs {
  const items = structure.codes.length;
  const firstDay = new Int32Array(items).fill(2 ** 31 - 1);
  const lastDay = new Int32Array(items).fill(-(2 ** 31));
  widen(firstDay, lastDay, demands, demandItem);
  const zeroDay = new Int32Array(items);
  let cells = 0;
  for (let item = 0; item < items; item++) {
    if (firstDay[item]! > lastDay[item]!) {
      // not needed: an empty row
      firstDay[item] = 0;
      lastDay[item] = -1;
      continue;
    }
    zeroDay[item] = cells - firstDay[item]!;
    cells += lastDay[item]! - firstDay[item]! + 1;
    if (cells > MAX_CELLS) throw new RangeError('the demands lie too many days apart');
    for (let edge = structure.firstPart[item]!; edge < structure.firstPart[item + 1]!; edge++) {
      const part = structure.part[edge]!;
      firstDay[part] = Math.min(firstDay[part]!, firstDay[item]! - structure.leadDays[item]!);
      lastDay[part] = Math.max(lastDay[part]!, lastDay[item]! - structure.leadDays[item]!);
    }
  }
  const gross = new Float64Array(cells);
  return { structure, firstDay, lastDay, zeroDay, gross, net: gross, count: 0 };
}

function widen(firstDay: Int32Array, lastDay: Int32Array, demands: readonly Demand[], demandItem: Int32Array): void {
  for (let i = 0; i < demands.length; i++) {
    const item = demandItem[i]!;
    const { day } = demands[i]!;
    if (day < firstDay[item]!) firstDay[item] = day;
    if (day > lastDay[item]!) lastDay[item] = day;
  }
}

function addDemands(
  gross: Float64Array,
  zeroDay: Int32Array,
  demands: readonly Demand[],
  demandItem: Int32Array,
): void {
  for (let i = 0; i < demands.length; i++) {
    const { day, quantity } = demands[i]!;
    gross[zeroDay[demandItem[i]!]! + day]! += quantity;
  }
}

function countNeeds(gross: Float64Array, begin: number, end: number, code: string): number {
  let count = 0;
  for (let cell = begin; cell < end; cell++) {
    if (gross[cell]! > Number.MAX_SAFE_INTEGER) throw new RangeError(`needs of ${code} pass 2^53`);
    if (gross[cell]! > 0) count++;
  }
  return count;
}

function coverFromStock(gross: Float64Array, net: Float64Array, begin: number, end: number, onHand: number): void {
  let free = onHand;
  for (let cell = begin; cell < end; cell++) {
    const covered = Math.min(free, gross[cell]!);
    free -= covered;
    net[cell] = gross[cell]! - covered;
  }
}

/** The same for a whole number per unit. Past 2^53 the product is rounded, and refused when its sum is counted. */
function addWhole(
  net: Float64Array,
  gross: Float64Array,
  begin: number,
  end: number,
  shift: number,
  perUnit: number,
): void {
  for (let cell = begin; cell < end; cell++) gross[cell + shift]! += net[cell]! * perUnit;
}

/** Adds ceil(net x numerator / denominator) of the cells [begin, end) to the part's cells, `shift` further on. */
function addPart(
  net: Float64Array,
  gross: Float64Array,
  begin: number,
  end: number,
  shift: number,
  numerator: number,
  denominator: number,
): void {
  // below it, product + denominator is exact in a float, and so are the two lines that correct the quotient
  const exactBelow = (Number.MAX_SAFE_INTEGER - denominator) / Math.max(numerator, 1) - 1;
  for (let cell = begin; cell < end; cell++) {
    const quantity = net[cell]!;
    if (quantity === 0) continue;
    if (quantity > exactBelow) {
      const product = BigInt(quantity) * BigInt(numerator);
      gross[cell + shift]! += Number((product + BigInt(denominator) - 1n) / BigInt(denominator));
      continue;
    }
    const product = quantity * numerator;
    let needed = Math.ceil(product / denominator);
    // the division rounds to the nearest float, which may be a whole number too high or low
    if ((needed - 1) * denominator >= product) needed -= 1;
    else if (needed * denominator < product) needed += 1;
    gross[cell + shift]! += needed;
  }
}

const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
