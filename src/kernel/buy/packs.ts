import { limitCeil } from '../measure/ratio.js';
import { byText } from '../measure/text-order.js';

/** A supplier's pack: its content in the item's base unit, its price in 1/10 000, and the fewest one may order. */
export interface Pack {
  key: string;
  size: number;
  priceE4: number;
  leastPacks: number;
}

export interface PackChoice {
  /** how many of each pack, packs not bought left out, in the order of their keys */
  packs: { key: string; count: number }[];
  /** what they hold together, at least the need */
  total: number;
  costE4: number;
  /** 0 when no combination is cheaper; else how far the cost may lie above the cheapest */
  gapE4: number;
}

/** Steps of the search. Up to 8 packs rarely take 500, and equal prices per weight up to half a million. */
const MAX_STEPS = 2_000_000;

interface Search {
  /** cheapest content first, then larger, then by key: what comes first is tried first and wins ties */
  packs: readonly Pack[];
  /** from this pack on: the least that buying anything at all costs, and the largest size */
  leastEntryE4: readonly number[];
  largest: readonly number[];
  counts: number[];
  best: { costE4: number; over: number; count: number; counts: number[] };
  stepsLeft: number;
}

/**
 * The cheapest packs that cover `need`, exactly: branch and bound, where what is still uncovered costs at least its
 * amount at the cheapest remaining price per unit. Of equally cheap choices the one with the least left over, then the
 * fewest packs, then the pack of lower price per unit, larger size, lower key. A pack is bought not at all or at least
 * `leastPacks` times. When the search runs out of steps (never seen with up to 8 packs) the best found is returned with
 * its distance to the lower bound. Null when there are no packs, or only at a cost past 2^53.
 * Throws RangeError for a need, size or count that is not a positive safe integer, or a negative price.
 */
export function choosePacks(need: number, packs: readonly Pack[]): PackChoice | null {
  for (const pack of packs)
    if (
      !isPositive(pack.size) ||
      !isPositive(pack.leastPacks) ||
      !Number.isSafeInteger(pack.priceE4) ||
      pack.priceE4 < 0
    )
      throw new RangeError(`not a pack: ${pack.key}`);
  if (!isPositive(need)) throw new RangeError(`not a need: ${need}`);
  if (packs.length === 0) return null;
  const search = begin(packs);
  branch(search, 0, need, 0, 0);
  const { costE4, over, counts } = search.best;
  if (!Number.isSafeInteger(costE4) || !Number.isSafeInteger(need + over)) return null;
  const chosen = search.packs.map((pack, index) => ({ key: pack.key, count: counts[index] ?? 0 }));
  return {
    packs: chosen.filter(({ count }) => count > 0).sort((a, b) => byText(a.key, b.key)),
    total: need + over,
    costE4,
    gapE4: search.stepsLeft > 0 ? 0 : costE4 - leastCost(need, search.packs[0]!),
  };
}

function begin(packs: readonly Pack[]): Search {
  const sorted = [...packs].sort(byPricePerUnit);
  // Stryker disable next-line ArithmeticOperator: less than it costs only saves fewer steps
  const leastEntryE4 = sorted.map((pack) => pack.priceE4 * pack.leastPacks);
  const largest = sorted.map((pack) => pack.size);
  // Stryker disable next-line EqualityOperator: of the first nothing is asked
  for (let i = sorted.length - 2; i >= 0; i--) {
    leastEntryE4[i] = Math.min(leastEntryE4[i]!, leastEntryE4[i + 1]!);
    largest[i] = Math.max(largest[i]!, largest[i + 1]!);
  }
  return {
    packs: sorted,
    leastEntryE4,
    largest,
    // Stryker disable next-line ArrayDeclaration: written before it is read
    counts: [],
    // Stryker disable next-line ArrayDeclaration: whatever is found first is better
    best: { costE4: Infinity, over: 0, count: 0, counts: [] },
    stepsLeft: MAX_STEPS,
  };
}

/** Tries every useful count of the pack at `index`, most first; the packs before it are decided. */
function branch(search: Search, index: number, open: number, costE4: number, count: number): void {
  const pack = search.packs[index]!;
  const next = search.packs[index + 1];
  let n = Math.max(pack.leastPacks, Math.ceil(open / pack.size));
  // Stryker disable next-line EqualityOperator: one step more or less
  for (; search.stepsLeft > 0; n = n === pack.leastPacks ? 0 : n - 1) {
    search.stepsLeft--;
    const left = open - n * pack.size;
    const cost = costE4 + n * pack.priceE4;
    search.counts[index] = n;
    if (left <= 0) {
      if (isBetter(search, cost, -left, count + n)) {
        search.best = { costE4: cost, over: -left, count: count + n, counts: search.counts.slice(0, index + 1) };
      }
    } else {
      if (!next) return;
      // what cannot be better is not tried; with bounds that were too low it would only be slower
      // Stryker disable next-line ArithmeticOperator: as it says
      const bound = cost + leastCost(left, next);
      // fewer of this, the cheaper pack, only leaves more to the dearer ones
      // Stryker disable next-line ConditionalExpression: as it says
      if (bound > search.best.costE4) return;
      // Stryker disable next-line MethodExpression,ArithmeticOperator: as it says
      const atLeast = Math.max(bound, cost + search.leastEntryE4[index + 1]!);
      // Stryker disable next-line MethodExpression,ArithmeticOperator: as it says
      const fewest = count + n + Math.ceil(left / search.largest[index + 1]!);
      // Stryker disable next-line ConditionalExpression: as it says
      if (isBetter(search, atLeast, 0, fewest)) branch(search, index + 1, left, cost, count + n);
    }
    if (n === 0) return;
  }
}

/** Cheaper than the best so far, or as cheap with less over, or with fewer packs. */
function isBetter({ best }: Search, costE4: number, over: number, count: number): boolean {
  return (costE4 - best.costE4 || over - best.over || count - best.count) < 0;
}

/** What `amount` costs at least at this pack's price per unit; Infinity past 2^53. */
function leastCost(amount: number, pack: Pack): number {
  return limitCeil(amount, pack.priceE4, pack.size);
}

function byPricePerUnit(a: Pack, b: Pack): number {
  const difference = BigInt(a.priceE4) * BigInt(b.size) - BigInt(b.priceE4) * BigInt(a.size);
  return Number(difference) || b.size - a.size || byText(a.key, b.key);
}

const isPositive = (n: number): boolean => Number.isSafeInteger(n) && n > 0;
