import { mulDivFloor } from '../measure/ratio.js';
import { choosePacks, type Pack } from './packs.js';

/** A supplier's pack with what it costs each when more are bought at once: the price of a break holds for all of them. */
export interface Offer extends Pack {
  breaks: readonly { fromPacks: number; priceE4: number }[];
}

export interface OrderAmount {
  packs: { key: string; count: number; priceE4: number }[];
  total: number;
  costE4: number;
  /** How far from the cheapest the packs may be, at most; 0 is exact. */
  gapE4: number;
  /** Why it is not simply what is needed: it would expire, or no smaller pack is sold. */
  limitedBy: 'shelf-life' | 'smallest-pack' | null;
  /** What of it is expected to be left when it expires, and what that part cost. */
  wasted: number;
  wasteE4: number;
}

/**
 * The packs for `need`, the cheapest together with price breaks taken into account, but no more than `usable` (what can be
 * used before it would expire; null when it keeps), unless the smallest pack is larger; then that one, with its waste.
 * Amounts are positive integers in the item's base unit; `usable` may be 0. Null when nothing is offered.
 */
export function orderAmount(need: number, usable: number | null, offers: readonly Offer[]): OrderAmount | null {
  const cheapest = offers.length === 0 ? null : choose(need, offers);
  if (!cheapest) return null;
  if (usable === null || cheapest.total <= usable) return { ...cheapest, limitedBy: null, wasted: 0, wasteE4: 0 };
  const fitting = offers.filter((offer) => offer.size * offer.leastPacks <= usable);
  if (fitting.length === 0) return withWaste(smallest(offers), usable);
  const cover = choose(Math.min(need, usable), fitting);
  const within = cover && cover.total <= usable ? cover : largestWithin(usable, fitting);
  return { ...within, limitedBy: 'shelf-life', wasted: 0, wasteE4: 0 };
}

type Chosen = Pick<OrderAmount, 'packs' | 'total' | 'costE4' | 'gapE4'>;

/**
 * A break is one more pack of the same size, sold so many at a time or more. Since its price is no higher, the cheapest
 * choice has no use for both together, and where it holds both at one price they are added up.
 */
function choose(need: number, offers: readonly Offer[]): Chosen | null {
  const steps = offers.flatMap((offer) => [
    { offer, fromPacks: offer.leastPacks, priceE4: offer.priceE4 },
    ...offer.breaks.map(({ fromPacks, priceE4 }) => ({
      offer,
      fromPacks: Math.max(fromPacks, offer.leastPacks),
      priceE4,
    })),
  ]);
  const packs = steps.map(({ offer, fromPacks, priceE4 }, index): Pack => {
    return { key: String(index).padStart(6, '0'), size: offer.size, priceE4, leastPacks: fromPacks };
  });
  const choice = choosePacks(need, packs);
  if (!choice) return null;
  const counts = new Map<Offer, number>();
  for (const { key, count } of choice.packs) {
    const { offer } = steps[Number(key)]!;
    counts.set(offer, (counts.get(offer) ?? 0) + count);
  }
  const priced = priceOf(counts);
  return { ...priced, total: choice.total, gapE4: choice.gapE4 };
}

/** What so many packs of an offer cost each: the lowest price of the breaks they reach. */
export function priceEach(offer: Pick<Offer, 'priceE4' | 'breaks'>, count: number): number {
  return offer.breaks.reduce(
    (price, { fromPacks, priceE4 }) => (count >= fromPacks ? Math.min(price, priceE4) : price),
    offer.priceE4,
  );
}

function priceOf(counts: ReadonlyMap<Offer, number>): Pick<Chosen, 'packs' | 'costE4'> {
  const packs = [...counts]
    .map(([offer, count]) => ({ key: offer.key, count, priceE4: priceEach(offer, count) }))
    .sort((a, b) => (a.key < b.key ? -1 : 1));
  return { packs, costE4: packs.reduce((sum, { count, priceE4 }) => sum + count * priceE4, 0) };
}

/** The least of anything that is sold; of equals the cheaper. */
function smallest(offers: readonly Offer[]): Chosen {
  const [least] = [...offers].sort(
    (a, b) =>
      a.size * a.leastPacks - b.size * b.leastPacks ||
      a.leastPacks * priceEach(a, a.leastPacks) - b.leastPacks * priceEach(b, b.leastPacks) ||
      (a.key < b.key ? -1 : 1),
  );
  const offer = least!;
  return { ...priceOf(new Map([[offer, offer.leastPacks]])), total: offer.size * offer.leastPacks, gapE4: 0 };
}

const MAX_STEPS = 20_000;

/** The most that packs hold together without passing `usable`, every one of which fits; of equals the cheapest seen. */
function largestWithin(usable: number, offers: readonly Offer[]): Chosen {
  const sorted = [...offers].sort((a, b) => b.size - a.size || (a.key < b.key ? -1 : 1));
  let best = { total: 0, counts: new Map<Offer, number>(), costE4: Infinity };
  let stepsLeft = MAX_STEPS;
  const visit = (index: number, left: number, counts: ReadonlyMap<Offer, number>): void => {
    const offer = sorted[index];
    const total = usable - left;
    if (total >= best.total) {
      const { costE4 } = priceOf(counts);
      if (total > best.total || costE4 < best.costE4) best = { total, counts: new Map(counts), costE4 };
    }
    if (!offer || left === 0) return;
    for (let n = Math.floor(left / offer.size); n >= 0 && stepsLeft > 0; n--) {
      if (n > 0 && n < offer.leastPacks) n = 0;
      stepsLeft--;
      visit(index + 1, left - n * offer.size, n === 0 ? counts : new Map(counts).set(offer, n));
    }
  };
  visit(0, usable, new Map());
  return { ...priceOf(best.counts), total: best.total, gapE4: 0 };
}

function withWaste(chosen: Chosen, usable: number): OrderAmount {
  const wasted = Math.max(0, chosen.total - usable);
  const wasteE4 = mulDivFloor(chosen.costE4, wasted, chosen.total);
  return { ...chosen, limitedBy: 'smallest-pack', wasted, wasteE4 };
}
