import { informedReview } from '../support/reorder-informed.js';
import { ownPolicy, play, type Policy } from '../support/reorder-play.js';
import { SAID_KINDS, type SaidItem, type SaidKind, saidWorldOf } from '../support/reorder-said-world.js';

/** All items of a kind together. */
export interface Pooled {
  /** Of the worth that was asked for, the share that was there. */
  fillRate: number;
  /** Worth on hand in the mean of a day, in 1/10 000. */
  stockWorth: number;
  /** Days the stock lasts, in the mean of the items. */
  days: number;
}

export const WANTED_SHARE = 0.98;
const SERVICE = { kind: 'fill-rate', share: WANTED_SHARE } as const;
/** Both look once a week and buy for no longer, so that only what is known of the use makes a difference. */
const COST = { orderCostE4: 0, coverMostDays: 120 };
/** Counted from week 5 on: before, everybody lives on the same first stock. */
const NOT_COUNTED_DAYS = 28;
const BISECTIONS = 7;

const pooledOf = (items: readonly SaidItem[], policyOf: (item: SaidItem) => Policy): Pooled => {
  const rows = items.map((item) => play(item, policyOf(item), NOT_COUNTED_DAYS));
  const sum = (value: (row: (typeof rows)[number]) => number): number => rows.reduce((all, row) => all + value(row), 0);
  const days = items[0]!.use.length - items[0]!.historyDays - NOT_COUNTED_DAYS;
  return {
    fillRate:
      sum((row) => (row.used === 0 ? 0 : (row.served / row.used) * row.askedWorth)) / sum((row) => row.askedWorth),
    stockWorth: sum((row) => row.stockWorthDays) / days,
    days: sum((row) => (row.askedWorth === 0 ? 0 : row.stockWorthDays / row.askedWorth)) / rows.length,
  };
};

/** The policy under test, with what is said of the items. */
export const ownOf = (items: readonly SaidItem[]): Pooled => pooledOf(items, (item) => ownPolicy(item, SERVICE, COST));

/** The policy under test, told nothing. */
export const untoldOf = (items: readonly SaidItem[]): Pooled =>
  pooledOf(items, (item) => ownPolicy({ ...item, said: null }, SERVICE, COST));

/** A periodic review that is told how use comes, for a wanted share. */
export const informedOf = (items: readonly SaidItem[], share = WANTED_SHARE): Pooled =>
  pooledOf(items, (item) => informedReview(item, share));

/** The same with the wanted share at which it serves as much as another policy. */
export function informedAtFill(items: readonly SaidItem[], fillRate: number): Pooled {
  let [low, high] = [0.7, 0.9995];
  for (let i = 0; i < BISECTIONS; i++) {
    const middle = (low + high) / 2;
    if (informedOf(items, middle).fillRate < fillRate) low = middle;
    else high = middle;
  }
  return informedOf(items, high);
}

/** Seeds never looked at while the policy was made. */
const SEED = 4_711;
const ITEMS = 200;

/** The rows of the bench: the policy under test, told and not, beside the periodic review, for each kind. */
export function saidRows(kinds: readonly SaidKind[] = SAID_KINDS, seed = SEED, items = ITEMS): string[] {
  const began = Date.now();
  const rows = kinds.flatMap((kind) => {
    const world = saidWorldOf(kind, seed, items);
    const own = ownOf(world);
    const same = informedAtFill(world, own.fillRate);
    const row = (name: string, { fillRate, stockWorth, days }: Pooled): string =>
      `${name.padEnd(40)} ${percent(fillRate).padStart(8)}  ${(stockWorth / 10_000).toFixed(0).padStart(8)}  ${days.toFixed(1).padStart(6)}  ${percent(own.stockWorth / stockWorth).padStart(9)}`;
    return [
      row(kind, own),
      ...(kind.startsWith('new') ? [row('  told nothing', untoldOf(world))] : []),
      row('  periodic review, same share wanted', informedOf(world)),
      row('  periodic review, same fill', same),
    ];
  });
  return [
    `104 weeks of ${items} items of each kind, counted from week 5 on, wanted fill rate ${percent(WANTED_SHARE)} (${((Date.now() - began) / 1000).toFixed(0)} s)`,
    `${''.padEnd(40)} fill rate     stock    days  own stock beside it`,
    ...rows,
  ];
}

const percent = (share: number): string => `${(share * 100).toFixed(2)} %`;
