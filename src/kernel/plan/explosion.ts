import type { Day } from '../measure/day.js';
import type { Structure } from '../formula/structure.js';

export { buildStructure, lowLevelCodes, partRatio, StructureError } from '../formula/structure.js';
export type { Structure, StructureItem, StructurePart } from '../formula/structure.js';

/** Item-days one explosion may span (256 MiB of sums): 9 000 items over ten years. */
const MAX_CELLS = 2 ** 25;
/** Days from 1970 a demand may lie, about 27 000 years, so that day sums stay small integers. */
const MAX_DAY = 10_000_000;

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
