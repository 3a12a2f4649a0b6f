import {
  fixedPoint,
  fixedPointEconomic,
  ownPolicy,
  periodicReview,
  play,
  type Policy,
} from '../support/reorder-play.js';
import { type Kind, KINDS, PLAYED_DAYS, type WorldItem, worldOf } from '../support/reorder-world.js';

/** Means of an item in the year. */
export interface Outcome {
  /** Of the worth that was asked for, the share that was there: dear items weigh as much as they do in the stock. */
  fillRate: number;
  /** Worth asked for. */
  askedWorth: number;
  /** The share of items of which less than nine tenths of what was asked for was there. */
  poorlyServed: number;
  /** Worth on hand, and worth that expired, in 1/10 000. */
  stockWorth: number;
  expiredWorth: number;
  orders: number;
}

/** `lasts`: for how long an order lasts in days, or what one is taken to cost in 1/10 000. */
type Tuned = Outcome & { lasts: number };

export interface Comparison {
  own: Outcome;
  byKind: Record<Kind, number>;
  fixedPoint: Tuned;
  fixedPointEconomic: Tuned;
  periodicReview: Tuned;
}

/** Wanted of the policy under test. */
export const WANTED = {
  service: { kind: 'fill-rate', share: 0.98 },
  cost: { orderCostE4: 1_000, coverMostDays: 120 },
} as const;
const LASTS_DAYS = [21, 28, 35];
const ORDER_COSTS_E4 = [700, 1_000, 1_500];
const BISECTIONS = 9;
const FACTOR_MOST = 12;

/**
 * A year of random use and lead times: the policy beside simple ones. Each of these gets, for each kind of use, the factor
 * of safety with which it reaches the same fill rate in these very years, and of the lengths an order may last the one that
 * places no more orders than the policy and holds least: so they know what nobody knows beforehand.
 */
export function compare(seeds: readonly number[], items: number): Comparison {
  const worlds = seeds.flatMap((seed) => worldOf(seed, items));
  const kinds = KINDS.map((kind) => worlds.filter((item) => item.kind === kind));
  const own = kinds.map((list) => outcomeOf(list, (item) => ownPolicy(item, WANTED.service, WANTED.cost)));
  return {
    own: meanOf(own),
    byKind: Object.fromEntries(KINDS.map((kind, i) => [kind, own[i]!.fillRate])) as Record<Kind, number>,
    fixedPoint: tuned(kinds, own, fixedPoint, LASTS_DAYS),
    fixedPointEconomic: tuned(kinds, own, fixedPointEconomic, ORDER_COSTS_E4),
    periodicReview: tuned(kinds, own, periodicReview, LASTS_DAYS),
  };
}

type Simple = (item: WorldItem, factor: number, lasts: number) => Policy;

function tuned(kinds: readonly WorldItem[][], own: readonly Outcome[], policy: Simple, all: readonly number[]): Tuned {
  const found = all.map((lasts) => {
    const outcomes = kinds.map((list, i) => atFillRate(list, own[i]!.fillRate, (item, f) => policy(item, f, lasts)));
    return { ...meanOf(outcomes), lasts };
  });
  const most = meanOf(own).orders * 1.02;
  const asFew = found.filter(({ orders }) => orders <= most);
  const from = asFew.length > 0 ? asFew : found.slice(-1);
  return from.reduce((a, b) => (b.stockWorth < a.stockWorth ? b : a));
}

function atFillRate(
  list: readonly WorldItem[],
  wanted: number,
  policy: (item: WorldItem, factor: number) => Policy,
): Outcome {
  let [low, high] = [0, FACTOR_MOST];
  for (let i = 0; i < BISECTIONS; i++) {
    const middle = (low + high) / 2;
    if (outcomeOf(list, (item) => policy(item, middle)).fillRate < wanted) low = middle;
    else high = middle;
  }
  return outcomeOf(list, (item) => policy(item, high));
}

function outcomeOf(list: readonly WorldItem[], policyOf: (item: WorldItem) => Policy): Outcome {
  return meanOf(
    list.map((item) => {
      const { used, served, askedWorth, stockWorthDays, expiredWorth, orders } = play(item, policyOf(item));
      const fillRate = used === 0 ? 1 : served / used;
      const poorlyServed = fillRate < 0.9 ? 1 : 0;
      return { fillRate, askedWorth, poorlyServed, stockWorth: stockWorthDays / PLAYED_DAYS, expiredWorth, orders };
    }),
  );
}

function meanOf(rows: readonly Outcome[]): Outcome {
  const sum = (value: (row: Outcome) => number) => rows.reduce((total, row) => total + value(row), 0);
  const mean = (value: (row: Outcome) => number) => sum(value) / rows.length;
  return {
    fillRate: sum((row) => row.fillRate * row.askedWorth) / sum((row) => row.askedWorth),
    askedWorth: mean((row) => row.askedWorth),
    poorlyServed: mean((row) => row.poorlyServed),
    stockWorth: mean((row) => row.stockWorth),
    expiredWorth: mean((row) => row.expiredWorth),
    orders: mean((row) => row.orders),
  };
}

/** Seeds never looked at while the policy was made. */
const SEEDS = Array.from({ length: 30 }, (_, i) => 2001 + i);
const ITEMS = 200;

/** The rows of the bench: simple policies beside the policy under test, all at its fill rate for each kind of use. */
export function simulationRows(seeds: readonly number[] = SEEDS, items = ITEMS): string[] {
  const began = Date.now();
  const { own, byKind, ...simple } = compare(seeds, items);
  const row = (name: string, { fillRate, poorlyServed, ...rest }: Outcome, more = ''): string =>
    `${name.padEnd(36)} ${percent(fillRate)}  ${money(rest.stockWorth)}  ${money(rest.expiredWorth)}  ${rest.orders.toFixed(1).padStart(6)}  ${percent(poorlyServed).padStart(8)}${more}`;
  return [
    `A year of ${items} items on ${seeds.length} seeds, wanted fill rate ${percent(WANTED.service.share)} (${((Date.now() - began) / 1000).toFixed(0)} s)`,
    `${''.padEnd(36)} fill rate    stock   expired  orders  items under 90 %`,
    row('forecast, order-by day, packs', own),
    `  ${KINDS.map((kind) => `${kind} ${percent(byKind[kind])}`).join(', ')}`,
    row('fixed reorder point, same fill', simple.fixedPoint, `  (${simple.fixedPoint.lasts} days)`),
    row(
      'the same, economic quantity',
      simple.fixedPointEconomic,
      `  (order cost ${simple.fixedPointEconomic.lasts} E4)`,
    ),
    row('periodic review, same fill', simple.periodicReview, `  (${simple.periodicReview.lasts} days)`),
  ];
}

const money = (worthE4: number): string => (worthE4 / 10_000).toFixed(2).padStart(8);
const percent = (share: number): string => `${(share * 100).toFixed(2)} %`;
