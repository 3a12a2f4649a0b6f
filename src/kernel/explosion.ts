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

/** Needs by item and day, as columns; sorted by low-level code, code and day, each pair once. */
export interface Needs {
  structure: Structure;
  /** index into `structure.codes` */
  item: Int32Array;
  day: Int32Array;
  /** what is needed, the item's own demand included */
  gross: Float64Array;
  /** what of it stock on hand does not cover */
  net: Float64Array;
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
  const columns = toColumns(structure, demands);
  const rows = layOut(structure, columns);
  const gross = new Float64Array(rows.cells);
  addDemands(gross, rows.zeroDay, columns);
  const net = onHand.size === 0 ? gross : new Float64Array(rows.cells);
  let count = 0;
  for (let item = 0; item < structure.codes.length; item++) {
    const begin = rows.zeroDay[item]! + rows.firstDay[item]!;
    const end = rows.zeroDay[item]! + rows.lastDay[item]! + 1;
    count += countNeeds(gross, begin, end, structure.codes[item]!);
    if (net !== gross) coverFromStock(gross, net, begin, end, onHand.get(structure.codes[item]!) ?? 0);
    for (let edge = structure.firstPart[item]!; edge < structure.firstPart[item + 1]!; edge++) {
      const shift = rows.zeroDay[structure.part[edge]!]! - rows.zeroDay[item]! - structure.leadDays[item]!;
      addPart(net, gross, begin, end, shift, structure.numerator[edge]!, structure.denominator[edge]!);
    }
  }
  return collect(structure, rows, gross, net, count);
}

/*
 * Each hot loop below is a small function over typed arrays of its own, which the engine compiles after a few calls.
 * Measured on 100,000 demands over 128,000 item-days: 40 ms as one large function reading the demand objects again and
 * again with Int32Array.from and callbacks, MEASURED ms like this.
 */

interface Columns {
  item: Int32Array;
  day: Int32Array;
  quantity: Float64Array;
}

function toColumns(structure: Structure, demands: readonly Demand[]): Columns {
  const item = new Int32Array(demands.length);
  const day = new Int32Array(demands.length);
  const quantity = new Float64Array(demands.length);
  for (let i = 0; i < demands.length; i++) {
    const demand = demands[i]!;
    const index = structure.indexOf.get(demand.code);
    if (index === undefined) throw new RangeError(`demand for an unknown item ${demand.code}`);
    if (!Number.isSafeInteger(demand.quantity) || demand.quantity < 0 || !isDay(demand.day))
      throw new RangeError(`not a demand: ${demand.quantity} of ${demand.code} on day ${demand.day}`);
    item[i] = index;
    day[i] = demand.day;
    quantity[i] = demand.quantity;
  }
  return { item, day, quantity };
}

/** Where each item's days lie in one long array: day d of item i is cell zeroDay[i] + d. */
interface Rows {
  firstDay: Int32Array;
  lastDay: Int32Array;
  zeroDay: Int32Array;
  cells: number;
}

function layOut(structure: Structure, demands: Columns): Rows {
  const count = structure.codes.length;
  const firstDay = new Int32Array(count).fill(2 ** 31 - 1);
  const lastDay = new Int32Array(count).fill(-(2 ** 31));
  widen(firstDay, lastDay, demands.item, demands.day);
  const zeroDay = new Int32Array(count);
  let cells = 0;
  for (let item = 0; item < count; item++) {
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
  return { firstDay, lastDay, zeroDay, cells };
}

function widen(firstDay: Int32Array, lastDay: Int32Array, items: Int32Array, days: Int32Array): void {
  for (let i = 0; i < items.length; i++) {
    const item = items[i]!;
    const day = days[i]!;
    if (day < firstDay[item]!) firstDay[item] = day;
    if (day > lastDay[item]!) lastDay[item] = day;
  }
}

function addDemands(gross: Float64Array, zeroDay: Int32Array, { item, day, quantity }: Columns): void {
  for (let i = 0; i < item.length; i++) gross[zeroDay[item[i]!]! + day[i]!]! += quantity[i]!;
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

function collect(structure: Structure, rows: Rows, gross: Float64Array, net: Float64Array, count: number): Needs {
  const needs: Needs = {
    structure,
    item: new Int32Array(count),
    day: new Int32Array(count),
    gross: new Float64Array(count),
    net: new Float64Array(count),
  };
  let at = 0;
  for (let item = 0; item < structure.codes.length; item++) at = collectRow(needs, at, rows, item, gross, net);
  return needs;
}

function collectRow(to: Needs, at: number, rows: Rows, item: number, gross: Float64Array, net: Float64Array): number {
  const zero = rows.zeroDay[item]!;
  const last = rows.lastDay[item]!;
  let next = at;
  for (let day = rows.firstDay[item]!; day <= last; day++) {
    if (gross[zero + day] === 0) continue;
    to.item[next] = item;
    to.day[next] = day;
    to.gross[next] = gross[zero + day]!;
    to.net[next] = net[zero + day]!;
    next++;
  }
  return next;
}

const isDay = (day: number): boolean => Number.isInteger(day) && Math.abs(day) <= MAX_DAY;

const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
