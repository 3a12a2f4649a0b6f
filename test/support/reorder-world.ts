import type { Offer } from '../../src/kernel/buy/order-amount.js';

/** Numbers from 0 to 1 that look random and are the same each time: the linear congruential generator of Park & Miller. */
export function randomOf(seed: number): () => number {
  let state = ((seed * 48_271 + 11) % 2_147_483_646) + 1;
  for (let i = 0; i < 5; i++) state = (state * 48_271) % 2_147_483_647;
  return () => (state = (state * 48_271) % 2_147_483_647) / 2_147_483_647;
}

/** How use comes; as many items of each. */
export const KINDS = ['steady', 'seasonal', 'rare and lumpy', 'rising or falling'] as const;
export type Kind = (typeof KINDS)[number];

/** An item as a workshop buys it: how its use comes, how long it takes to arrive, in which packs. */
export interface WorldItem {
  kind: Kind;
  /** Use of each day, from the first day of history to the last that is played. */
  use: number[];
  /** Days before the first that is played. */
  historyDays: number;
  /** What its first stock was bought by. */
  firstPerDay: number;
  statedLeadDays: number;
  /** How long the next order placed on a day takes: the same for whoever orders on that day. */
  takesDays: number[];
  /** What past orders took, before the year that is played. */
  tookDays: number[];
  offers: Offer[];
  shelfLifeDays: number | null;
  /** What is said of it beside its own use. */
  said: SaidOfItem | null;
}

/**
 * `estimate`: use of a week. `like`: use by day of another item over two years of history and those that are played, with
 * how many times as much. `planned`: orders are known for so many days ahead.
 */
export type SaidOfItem =
  | { by: 'estimate'; perWeek: number }
  | { by: 'like'; use: number[]; times: number }
  | { by: 'planned'; days: number };

const YEAR_DAYS = 364;
const FIRST_DAYS = 28;
export const PLAYED_DAYS = YEAR_DAYS;
/** Two years are known, and one is played. */
const TWO_AND_ONE = { history: 2 * YEAR_DAYS, played: PLAYED_DAYS };

/** Items of the four kinds in turn. Amounts in grams or units; a quarter of them keep only for months. */
export function worldOf(seed: number, items: number): WorldItem[] {
  const random = randomOf(seed);
  return Array.from({ length: items }, (_, index) => worldItem(random, KINDS[index % KINDS.length]!, TWO_AND_ONE));
}

export function worldItem(random: () => number, kind: Kind, days: { history: number; played: number }): WorldItem {
  const perDay = 4 * 10 ** (2 * random());
  const statedLeadDays = 3 + Math.floor(25 * random());
  const strayed = 0.1 + 0.4 * random();
  const late = 0.9 + 0.4 * random();
  const takes = () => Math.max(1, Math.round(statedLeadDays * late * gamma(random, 1 / strayed ** 2) * strayed ** 2));
  const pack = Math.max(1, Math.round(perDay * 7 * (0.3 + 2.5 * random())));
  const price = 20 + Math.floor(200 * random());
  const offers = [1, 4].map((times, i): Offer => {
    const size = pack * times;
    return { key: `P${i}`, size, priceE4: Math.round(size * price * (i ? 0.9 : 1)), leastPacks: 1, breaks: [] };
  });
  const use = useOf(random, perDay, kind, days);
  const lastWeeks = use.slice(Math.max(0, days.history - FIRST_DAYS), days.history);
  return {
    kind,
    use,
    historyDays: days.history,
    firstPerDay: lastWeeks.reduce((sum, used) => sum + used, 0) / FIRST_DAYS,
    statedLeadDays,
    takesDays: Array.from({ length: use.length }, takes),
    tookDays: Array.from({ length: 4 + Math.floor(8 * random()) }, takes),
    offers,
    shelfLifeDays: random() < 0.25 ? 90 + Math.floor(270 * random()) : null,
    said: null,
  };
}

function useOf(random: () => number, perDay: number, kind: Kind, days: { history: number; played: number }): number[] {
  const peak = Math.floor(YEAR_DAYS * random());
  const swing = 0.5 + 0.45 * random();
  const rare = 0.03 + 0.12 * random();
  const trend = 0.6 + 0.9 * random();
  const shape = 0.8 + 2 * random();
  return Array.from({ length: days.history + days.played }, (_, day) => {
    // every day of the week but the seventh
    if (day % 7 === 6) return 0;
    const level =
      kind === 'seasonal'
        ? 1 + swing * Math.cos((2 * Math.PI * (day - peak)) / YEAR_DAYS)
        : kind === 'rising or falling'
          ? trend ** ((day - days.history) / YEAR_DAYS)
          : 1;
    if (kind === 'rare and lumpy')
      return random() < rare ? Math.round(((perDay / rare) * gamma(random, shape)) / shape) : 0;
    return Math.round((perDay * level * gamma(random, shape)) / shape);
  });
}

/** Gamma with this shape and scale 1: G. Marsaglia & W. W. Tsang 2000; below shape 1 by their power of a uniform number. */
function gamma(random: () => number, shape: number): number {
  if (shape < 1) return gamma(random, shape + 1) * Math.max(random(), 1e-12) ** (1 / shape);
  const d = shape - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const normal = Math.sqrt(-2 * Math.log(Math.max(random(), 1e-12))) * Math.cos(2 * Math.PI * random());
    const v = (1 + c * normal) ** 3;
    if (v > 0 && Math.log(Math.max(random(), 1e-12)) < normal ** 2 / 2 + d - d * v + d * Math.log(v)) return d * v;
  }
}
