import { forecast, type Forecast } from '../../src/kernel/buy/forecast.js';
import { alike, estimated, expectedUse } from '../../src/kernel/buy/expected-use.js';
import { orderAmount } from '../../src/kernel/buy/order-amount.js';
import { reorder } from '../../src/kernel/buy/reorder.js';
import { coverDays, learnLeadTime, type Service } from '../../src/kernel/buy/reorder-point.js';
import type { WorldItem } from './reorder-world.js';

/** What a policy sees of an item in the morning. Days count from the start of the history. */
export interface Morning {
  day: number;
  onHand: number;
  /** Asked for and not there. */
  owed: number;
  coming: readonly { day: number; quantity: number }[];
  lots: readonly { quantity: number; expiresOn: number }[];
  /** How long each order that came took, oldest first. */
  took: readonly number[];
}

/** How much to buy this morning: packs and what they cost; null: nothing. */
export type Policy = (seen: Morning) => { total: number; costE4: number } | null;

export interface Played {
  used: number;
  /** Of what was asked for, what was there on its day. */
  served: number;
  /** Worth of what was asked for. */
  askedWorth: number;
  /** Worth of stock on hand, summed over days; worth that expired. In the price of the small pack. */
  stockWorthDays: number;
  expiredWorth: number;
  orders: number;
}

/**
 * Plays one item through the days that are not history: what is asked for and not there waits until it comes. The first
 * `notCounted` days are played like the others and counted nowhere.
 */
export function play(item: WorldItem, policy: Policy, notCounted = 0): Played {
  const unitE4 = item.offers[0]!.priceE4 / item.offers[0]!.size;
  const result: Played = { used: 0, served: 0, askedWorth: 0, stockWorthDays: 0, expiredWorth: 0, orders: 0 };
  const took = [...item.tookDays];
  const keeps = item.shelfLifeDays ?? Infinity;
  const firstDay = item.historyDays;
  // everybody starts with the same: enough for the lead time and three weeks
  const start = Math.ceil(item.firstPerDay * (item.statedLeadDays + 21));
  let lots = start > 0 ? [{ quantity: start, expiresOn: firstDay + keeps }] : [];
  let coming: { day: number; quantity: number; ordered: number }[] = [];
  let owed = 0;
  for (let day = firstDay; day < item.use.length; day++) {
    const counts = day >= firstDay + notCounted ? 1 : 0;
    for (const order of coming.filter((row) => row.day <= day)) {
      lots.push({ quantity: order.quantity, expiresOn: day + keeps });
      took.push(order.day - order.ordered);
    }
    coming = coming.filter((row) => row.day > day);
    for (const lot of lots) if (lot.expiresOn < day) result.expiredWorth += counts * lot.quantity * unitE4;
    lots = lots.filter((lot) => lot.expiresOn >= day);
    owed -= take(lots, owed);
    const onHand = lots.reduce((sum, lot) => sum + lot.quantity, 0);
    const bought = policy({ day, onHand, owed, coming, lots, took });
    if (bought) {
      coming.push({ day: day + item.takesDays[day]!, quantity: bought.total, ordered: day });
      result.orders += counts;
    }
    const asked = item.use[day]!;
    const served = take(lots, asked);
    owed += asked - served;
    lots = lots.filter((lot) => lot.quantity > 0);
    result.used += counts * asked;
    result.served += counts * served;
    result.askedWorth += counts * asked * unitE4;
    result.stockWorthDays += counts * (onHand - served) * unitE4;
  }
  return result;
}

function take(lots: { quantity: number }[], wanted: number): number {
  let open = wanted;
  for (const lot of lots) {
    const taken = Math.min(open, lot.quantity);
    lot.quantity -= taken;
    open -= taken;
  }
  return wanted - open;
}

const WEEK_DAYS = 7;

/** The policy under test: once a week a forecast is made anew, and all is ordered whose last day comes before the next look. */
export function ownPolicy(
  item: WorldItem,
  service: Service,
  cost: { orderCostE4: number; coverMostDays: number },
): Policy {
  return ({ day, onHand, owed, coming, lots, took }) => {
    if (day % WEEK_DAYS !== 0) return null;
    const lead = learnLeadTime(item.statedLeadDays, took);
    const weeks = Math.ceil((lead.meanDays + WEEK_DAYS) / WEEK_DAYS);
    const { ways } = reorder({
      today: day,
      // what is owed goes first
      free: onHand - owed,
      coming,
      needs: plannedAt(item, day).map((quantity, days) => ({ day: day + days, quantity })),
      reserved: [],
      expiring: lots.filter(({ expiresOn }) => expiresOn < Infinity).map((lot) => ({ day: lot.expiresOn, ...lot })),
      forecast: expectedOf(item, day, weeks),
      target: 0,
      service,
      reviewDays: WEEK_DAYS,
      ...cost,
      receivingDays: 0,
      trialDays: 0,
      shelfLifeDays: item.shelfLifeDays,
      sellers: [{ supplier: 'S', lead, orderDays: [], offers: item.offers }],
    });
    const [way] = ways;
    return way && way.orderBy < day + WEEK_DAYS ? way.amount : null;
  };
}

/** What is expected by what is known in the morning. */
function expectedOf({ said, use, historyDays }: WorldItem, day: number, weeks: number): Forecast | null {
  const ahead = weeks + FORECAST_MORE_WEEKS;
  const history = weeklyUse(use, day);
  if (said?.by !== 'like') {
    const estimate = said?.by === 'estimate' ? estimated([said.perWeek]) : null;
    const planned = sumsOfWeeks(plannedAt({ said, use }, day));
    return expectedUse({ history, said: estimate, planned }, weeks, ahead);
  }
  const other = forecast(weeklyUse(said.use, day - historyDays + OTHER_DAYS), weeks, ahead);
  return expectedUse({ history, said: other && alike(other, said.times), planned: [] }, weeks, ahead);
}

const FORECAST_MORE_WEEKS = 60;
/** History of the item another one is used like. */
const OTHER_DAYS = 728;

/** Orders known in the morning, from that day on. */
function plannedAt({ said, use }: Pick<WorldItem, 'said' | 'use'>, day: number): number[] {
  return said?.by === 'planned' ? use.slice(day, day + said.days) : [];
}

const sumsOfWeeks = (days: readonly number[]): number[] =>
  Array.from({ length: Math.ceil(days.length / WEEK_DAYS) }, (_, week) =>
    days.slice(week * WEEK_DAYS, (week + 1) * WEEK_DAYS).reduce((sum, used) => sum + used, 0),
  );

function weeklyUse(use: readonly number[], day: number): number[] {
  const weeks: number[] = [];
  for (let from = day % 7; from + 7 <= day; from += 7)
    weeks.push(
      use[from]! + use[from + 1]! + use[from + 2]! + use[from + 3]! + use[from + 4]! + use[from + 5]! + use[from + 6]!,
    );
  return weeks;
}

interface Fixed {
  perDay: number;
  leadDays: number;
  /** Of what is used in the lead time and so many days more. */
  deviation: (moreDays: number) => number;
}

/** What the year before says of an item, once and for all. */
function fixedOf(item: WorldItem): Fixed {
  const weeks = weeklyUse(item.use, item.historyDays).slice(-52);
  const mean = weeks.reduce((sum, used) => sum + used, 0) / weeks.length;
  const variance = weeks.reduce((sum, used) => sum + (used - mean) ** 2, 0) / weeks.length;
  const leadDays = item.tookDays.reduce((sum, days) => sum + days, 0) / item.tookDays.length;
  const leadVariance =
    item.tookDays.reduce((sum, days) => sum + (days - leadDays) ** 2, 0) / Math.max(1, item.tookDays.length - 1);
  const perDay = mean / 7;
  return {
    perDay,
    leadDays,
    deviation: (moreDays) => Math.sqrt((variance / 7) * (leadDays + moreDays) + perDay ** 2 * leadVariance),
  };
}

const bought = (item: WorldItem, need: number) => (need < 1 ? null : orderAmount(Math.ceil(need), null, item.offers));
const position = ({ onHand, owed, coming }: Morning): number =>
  onHand - owed + coming.reduce((sum, { quantity }) => sum + quantity, 0);

/** A fixed reorder point, looked at every day: at or below it, what lasts `lastsDays` is bought. */
export function fixedPoint(item: WorldItem, factor: number, lastsDays: number): Policy {
  const { perDay, leadDays, deviation } = fixedOf(item);
  const point = perDay * leadDays + factor * deviation(0);
  return (seen) => {
    const has = position(seen);
    return has <= point ? bought(item, Math.max(perDay * lastsDays, point - has)) : null;
  };
}

/** The same with the economic order quantity of each item. */
export function fixedPointEconomic(item: WorldItem, factor: number, orderCostE4: number): Policy {
  const { perDay } = fixedOf(item);
  const perDayE4 = (perDay * item.offers[0]!.priceE4) / item.offers[0]!.size;
  return fixedPoint(item, factor, coverDays({ perDayE4, orderCostE4, reviewDays: WEEK_DAYS, mostDays: 120 }));
}

/** A periodic review: every `everyDays` the stock is brought up to the same level. */
export function periodicReview(item: WorldItem, factor: number, everyDays: number): Policy {
  const { perDay, leadDays, deviation } = fixedOf(item);
  const level = perDay * (leadDays + everyDays) + factor * deviation(everyDays);
  return (seen) => ((seen.day - item.historyDays) % everyDays === 0 ? bought(item, level - position(seen)) : null);
}
