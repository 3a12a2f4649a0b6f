import { PPB_ONE } from '../measure/quantity.js';

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

const byText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
