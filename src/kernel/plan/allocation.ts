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
  const order = supplies.map((_, i) => i).sort((a, b) => byExpiryOrder(supplies[a]!, supplies[b]!) || a - b);
  const takes = allocateInOrder(
    order.map((place) => supplies[place]!),
    demands,
  );
  return takes.map((take) => ({ ...take, supply: order[take.supply]! }));
}

/** The same of supplies that are in the order of `byExpiryOrder`. */
export function allocateInOrder(supplies: readonly Supply[], demands: readonly Demand[]): Take[] {
  const takes: Take[] = [];
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (demands.length === 0 || supplies.length === 0) return takes;
  const shelf = new Shelf(supplies, demands);
  for (const d of inOrderOfNeed(demands)) {
    const demand = demands[d]!;
    let open = demand.quantity;
    for (let s = shelf.firstLeft(); s < supplies.length && open > 0; s++) {
      const supply = supplies[s]!;
      if (shelf.left[s] === 0 || supply.from > demand.day || supply.until < goodUntil(demand, supply)) continue;
      const chosen = shelf.oneFor(open, s, demand);
      const quantity = Math.min(open, shelf.left[chosen]!);
      takes.push({ demand: d, supply: chosen, quantity });
      shelf.left[chosen]! -= quantity;
      open -= quantity;
    }
  }
  return takes;
}

function inOrderOfNeed(demands: readonly Demand[]): number[] {
  const order = demands.map((_, i) => i);
  return order.sort((a, b) => demands[a]!.tier - demands[b]!.tier || demands[a]!.day - demands[b]!.day || a - b);
}

/** A lot that lasts so long past the last need will find another use. */
const SEASON_DAYS = 90;

/** What is left of each supply while needs are served. */
class Shelf {
  readonly left: number[];
  private first = 0;
  private largest: number | null = null;
  private readonly lastNeed: Day;

  constructor(
    private readonly supplies: readonly Supply[],
    demands: readonly Demand[],
  ) {
    this.left = supplies.map(({ quantity }) => quantity);
    this.lastNeed = demands.reduce((last, { until }) => Math.max(last, until), Number.NEGATIVE_INFINITY);
  }

  /** The place of the first of which anything is left. */
  firstLeft(): number {
    // Stryker disable next-line ConditionalExpression,EqualityOperator,UpdateOperator: what is spent gives nothing anyhow
    while (this.first < this.left.length && this.left[this.first] === 0) this.first++;
    return this.first;
  }

  /** The place of a lot that covers `open` alone, where neither it nor the first choice is about to expire; else the first choice. */
  oneFor(open: number, choice: number, demand: Demand): number {
    // Stryker disable next-line ConditionalExpression,EqualityOperator: what covers all of it is that one lot
    if (this.left[choice]! >= open || !this.isHarmless(choice, demand) || open > this.largestOfAll()) return choice;
    for (let s = this.first; s < this.left.length; s++)
      if (this.left[s]! >= open && this.isHarmless(s, demand)) return s;
    return choice;
  }

  private isHarmless(place: number, demand: Demand): boolean {
    const { arrived, from, until } = this.supplies[place]!;
    return arrived && from <= demand.day && until >= this.lastNeed + SEASON_DAYS;
  }

  /** None is larger, whatever is left. */
  private largestOfAll(): number {
    this.largest ??= this.left.reduce((most, quantity) => Math.max(most, quantity), 0);
    return this.largest;
  }
}

const goodUntil = ({ until, keepsDays = 0 }: Demand, supply: Supply): Day => Math.max(until, supply.from + keepsDays);

/**
 * First expired first, then what is there already. Of what is still to come the last comes first: it serves fewer needs, and
 * what comes sooner is left for those that cannot wait for it.
 */
export const byExpiryOrder = (a: Supply, b: Supply): number =>
  compare(a.until, b.until) || Number(b.arrived) - Number(a.arrived) || (a.arrived ? a.from - b.from : b.from - a.from);

/** Infinity less Infinity is NaN, so days that may be infinite are compared, not subtracted. */
const compare = (a: number, b: number): number => (a < b ? -1 : a > b ? 1 : 0);
