import type { Day } from '../measure/day.js';

/** Something that can be taken from: a lot on the shelf, a dated delivery, a batch in the making. */
export interface Supply {
  key: string;
  quantity: number;
  /** First day it can be used. */
  from: Day;
  /** Last day it can be used, inclusive; Infinity when it keeps. */
  until: Day;
  /** True for what lies on the shelf now. */
  arrived: boolean;
}

/** A need for one item. `day` is when it is taken, `until` the last day it must still be good for. */
export interface Demand {
  quantity: number;
  day: Day;
  until: Day;
  /** All of one tier is served before any of the next: customers' orders, those that go without anyway, stock. */
  tier: 0 | 1 | 2 | 3;
  /** Days it must still be good for after it is there, where it comes later than it is wanted. */
  keepsDays?: number;
}

/** `quantity` of supply `supply` (index) given to demand `demand` (index). */
export interface Take {
  demand: number;
  supply: number;
  quantity: number;
}

/**
 * Which lots serve which needs of one item: needs by tier, then day, each from the earliest expiring supply that is
 * there on its day and lasts long enough. Serving in date order is what makes first expired, first out serve as much as
 * any plan could within a tier. One lot is preferred to two where that costs nothing: among arrived lots that outlast
 * every need by a season. Supplies and demands keep their own order for ties, so callers sort them by code.
 */
export function allocate(supplies: readonly Supply[], demands: readonly Demand[]): Take[] {
  const takes: Take[] = [];
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (demands.length === 0) return takes;
  const left = supplies.map((supply) => supply.quantity);
  const byExpiry = indices(supplies);
  const firstExpired = (a: number, b: number): number => byExpiryOrder(supplies[a]!, supplies[b]!) || a - b;
  // most callers keep their shelf in order, and looking is cheaper than sorting again
  // Stryker disable next-line ArrowFunction,ConditionalExpression,EqualityOperator: sorted again it is the same
  if (!byExpiry.every((s) => s === 0 || firstExpired(s - 1, s) < 0)) byExpiry.sort(firstExpired);
  const byNeed = indices(demands).sort(
    (a, b) => demands[a]!.tier - demands[b]!.tier || demands[a]!.day - demands[b]!.day || a - b,
  );
  const lastNeed = demands.reduce((last, demand) => Math.max(last, demand.until), Number.NEGATIVE_INFINITY);
  let queue = byExpiry;
  for (const d of byNeed) {
    const demand = demands[d]!;
    queue = withoutSpentHead(queue, left);
    let open = demand.quantity;
    for (const s of queue) {
      if (open === 0) break;
      const supply = supplies[s]!;
      if (left[s] === 0 || supply.from > demand.day || supply.until < goodUntil(demand, supply)) continue;
      // Stryker disable next-line ConditionalExpression,EqualityOperator: what covers all of it is that one lot
      const chosen = left[s]! < open ? (oneLotFor(open, s, supplies, queue, left, demand, lastNeed) ?? s) : s;
      const quantity = Math.min(open, left[chosen]!);
      takes.push({ demand: d, supply: chosen, quantity });
      left[chosen]! -= quantity;
      open -= quantity;
    }
  }
  return takes;
}

/** A lot that lasts so long past the last need will find another use. */
const SEASON_DAYS = 90;

/** A lot that covers `open` alone, where neither it nor the first choice is about to expire. */
function oneLotFor(
  open: number,
  first: number,
  supplies: readonly Supply[],
  queue: readonly number[],
  left: readonly number[],
  demand: Demand,
  lastNeed: Day,
): number | undefined {
  const harmless = (s: number): boolean =>
    supplies[s]!.arrived && supplies[s]!.from <= demand.day && supplies[s]!.until >= lastNeed + SEASON_DAYS;
  if (!harmless(first)) return undefined;
  return queue.find((s) => harmless(s) && left[s]! >= open);
}

function withoutSpentHead(queue: number[], left: readonly number[]): number[] {
  let spent = 0;
  // Stryker disable next-line ConditionalExpression,EqualityOperator,UpdateOperator: what is spent gives nothing anyhow
  while (spent < queue.length && left[queue[spent]!] === 0) spent++;
  // Stryker disable next-line ConditionalExpression,EqualityOperator,MethodExpression: as above
  return spent > 0 ? queue.slice(spent) : queue;
}

const goodUntil = ({ until, keepsDays = 0 }: Demand, supply: Supply): Day => Math.max(until, supply.from + keepsDays);

/**
 * First expired first, then what is there already. Of what is still to come the last comes first: it serves fewer needs, and
 * what comes sooner is left for those that cannot wait for it.
 */
export const byExpiryOrder = (a: Supply, b: Supply): number =>
  compare(a.until, b.until) || Number(b.arrived) - Number(a.arrived) || (a.arrived ? a.from - b.from : b.from - a.from);

const indices = (rows: readonly unknown[]): number[] => rows.map((_, i) => i);

/** Infinity less Infinity is NaN, so days that may be infinite are compared, not subtracted. */
const compare = (a: number, b: number): number => (a < b ? -1 : a > b ? 1 : 0);
