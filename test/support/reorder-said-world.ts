import { type Kind, randomOf, type SaidOfItem, type WorldItem, worldItem } from './reorder-world.js';

/** How use comes; `new` ones without a past, of which something is said or orders are known some weeks ahead. */
export const SAID_KINDS = ['new', 'lumpy', 'seasonal', 'trending', 'new and lumpy', 'new, orders only'] as const;
export type SaidKind = (typeof SAID_KINDS)[number];

const USE: Record<SaidKind, Kind> = {
  new: 'steady',
  lumpy: 'rare and lumpy',
  seasonal: 'seasonal',
  trending: 'rising or falling',
  'new and lumpy': 'rare and lumpy',
  'new, orders only': 'steady',
};

/** What is said of a new item is right on the mean, and off by up to this share of the truth. */
export const OFF_BY = 0.3;
export const YEAR_DAYS = 364;
export const HISTORY_DAYS = 2 * YEAR_DAYS;
/** 104 weeks. */
const PLAYED_DAYS = 2 * YEAR_DAYS;
const ORDERS_DAYS = 21;
const WEEK_DAYS = 7;

export interface SaidItem extends WorldItem {
  saidKind: SaidKind;
}

/** Items of one kind, played for 104 weeks; of the new ones every other is said to be used like another one, of the rest an estimate is given. */
export function saidWorldOf(kind: SaidKind, seed: number, items: number): SaidItem[] {
  const random = randomOf(seed);
  return Array.from({ length: items }, (_, index) => {
    const item = worldItem(random, USE[kind], { history: HISTORY_DAYS, played: PLAYED_DAYS });
    // life on the shelf is another question
    const known = { ...item, shelfLifeDays: null, saidKind: kind };
    return kind.startsWith('new') ? newItem(known, random, index) : known;
  });
}

/** The same use without its history. */
function newItem(item: SaidItem, random: () => number, index: number): SaidItem {
  const off = 1 - OFF_BY + 2 * OFF_BY * random();
  const perWeek = weekOf(item.use) * off;
  const other = worldItem(random, item.kind, { history: HISTORY_DAYS, played: PLAYED_DAYS });
  const said: SaidOfItem =
    item.saidKind === 'new, orders only'
      ? { by: 'planned', days: ORDERS_DAYS }
      : index % 2 === 0
        ? { by: 'estimate', perWeek }
        : { by: 'like', use: other.use, times: perWeek / weekOf(other.use) };
  return {
    ...item,
    use: item.use.slice(HISTORY_DAYS),
    takesDays: item.takesDays.slice(HISTORY_DAYS),
    historyDays: 0,
    firstPerDay: perWeek / WEEK_DAYS,
    said,
  };
}

const weekOf = (use: readonly number[]): number => (WEEK_DAYS * use.reduce((sum, used) => sum + used, 0)) / use.length;
