import { type Day, weekdayOf } from '../measure/day.js';
import { gammaLevel, gammaLossLevel } from '../statistics/gamma.js';
import { lossQuantile, normalQuantile } from '../statistics/normal.js';
import { wholeUp } from '../measure/ratio.js';

/**
 * What share is wanted. `cycle`: the probability that nothing runs short before an order arrives. `fill-rate`: the share of
 * the amount used that is there when it is wanted. Both between 0 and 1.
 */
export interface Service {
  kind: 'cycle' | 'fill-rate';
  share: number;
}

/** Days from ordering until it comes. */
export interface LeadTime {
  meanDays: number;
  deviationDays: number;
  /** Deliveries it was learned from. */
  deliveries: number;
}

/** The stated lead time counts as much as so many deliveries. */
const STATED_COUNTS_AS = 3;
/** How far lead times stray from what is stated before anything is known, as a share of it. Common practice, no source. */
const STATED_DEVIATION = 0.2;
/** Only the latest deliveries: a supplier changes. */
const LATEST = 20;

/**
 * Lead time from what a supplier states and how long past deliveries took, latest last. Both mean and variance are pulled
 * towards what is stated, which counts as much as three deliveries, so that one late parcel is not taken for the rule.
 */
export function learnLeadTime(statedDays: number, tookDays: readonly number[]): LeadTime {
  const took = tookDays.slice(-LATEST);
  const weight = STATED_COUNTS_AS + took.length;
  const meanDays = (STATED_COUNTS_AS * statedDays + took.reduce((sum, days) => sum + days, 0)) / weight;
  const stated = (STATED_DEVIATION * statedDays) ** 2 + (statedDays - meanDays) ** 2;
  const squares = took.reduce((sum, days) => sum + (days - meanDays) ** 2, 0);
  return {
    meanDays,
    deviationDays: Math.sqrt((STATED_COUNTS_AS * stated + squares) / weight),
    deliveries: took.length,
  };
}

/**
 * Deviation of what is used until an order arrives, when both use and lead time vary and neither knows of the other:
 * sqrt(lead x deviation of a day's use squared + use a day squared x deviation of the lead squared). With
 * `useDeviation` the deviation over the whole time is given instead of a day's.
 */
export function leadTimeDemandDeviation(use: {
  perDay: number;
  useDeviation: number;
  leadDeviationDays: number;
}): number {
  return Math.hypot(use.useDeviation, use.perDay * use.leadDeviationDays);
}

/** What is used until an order arrives, as forecast, and how large the order is. */
export interface Exposure {
  mean: number;
  deviation: number;
  orderQuantity: number;
}

/** Above this ratio of deviation to mean a normal distribution promises too much: Silver, Pyke & Peterson (from memory). */
const NORMAL_RATIO = 0.5;
/** Where nothing is said of the order's size, or all of it is wanted. */
const HIGHEST_SHARE = 0.9999;

/**
 * What should be there beyond the mean for the wanted service, never below zero, not whole. A cycle service is the
 * quantile of what is used; a fill rate keeps the expected shortage of an order within (1 - rate) of its quantity
 * (what is short is supplied later). What is used is taken to be normal where its deviation is at most half its mean, and
 * else to follow a gamma distribution, which is never below zero and reaches further up.
 */
export function safetyOf(service: Service, { mean, deviation, orderQuantity }: Exposure): number {
  if (deviation <= 0) return 0;
  const isNormal = mean <= 0 || deviation <= NORMAL_RATIO * mean;
  const shortage = (1 - service.share) * Math.max(orderQuantity, 0);
  if (service.kind === 'cycle' || shortage <= 0) {
    const share = service.kind === 'cycle' ? service.share : HIGHEST_SHARE;
    const level = isNormal ? normalQuantile(share) * deviation : gammaLevel(1 - share, mean, deviation) - mean;
    return Math.max(0, level);
  }
  const level = isNormal
    ? lossQuantile(shortage / deviation) * deviation
    : gammaLossLevel(shortage, mean, deviation) - mean;
  return Math.max(0, level);
}

/** Safety stock, rounded up to whole units. */
export function safetyStock(service: Service, exposure: Exposure): number {
  return Math.max(0, wholeUp(safetyOf(service, exposure)));
}

/** What money bound in stock costs a year, in percent of its worth. Common practice, no source. */
export const CARRYING_PERCENT_A_YEAR = 20;
export const DAYS_A_YEAR = 365;

/** The amount at which ordering and carrying cost the same, so both together least: F. W. Harris 1913. */
export function economicQuantity(costs: {
  usePerYear: number;
  orderCost: number;
  carryingPerUnitYear: number;
}): number {
  return Math.sqrt((2 * costs.usePerYear * costs.orderCost) / costs.carryingPerUnitYear);
}

/**
 * Days an order should last: what is cheap is bought for longer, what is dear more often, never for less than until the
 * next look nor for more than `mostDays`. `perDayE4` is the worth used a day, `orderCostE4` the work of one order line.
 */
export function coverDays(known: {
  perDayE4: number;
  orderCostE4: number;
  reviewDays: number;
  mostDays: number;
}): number {
  const { perDayE4, orderCostE4, reviewDays, mostDays } = known;
  if (perDayE4 <= 0) return mostDays;
  const days = economicQuantity({
    usePerYear: DAYS_A_YEAR,
    orderCost: orderCostE4,
    carryingPerUnitYear: (perDayE4 * CARRYING_PERCENT_A_YEAR) / 100,
  });
  return Math.max(reviewDays, Math.min(Math.round(days), mostDays));
}

/** When an order has to be placed. */
export interface OrderTiming {
  /** First day the projected free stock lies under the safety stock. */
  fallsUnderOn: Day;
  leadDays: number;
  /** From arrival until it may be used. */
  receivingDays: number;
  /** Own trial of what came, before it is used. */
  trialDays: number;
  /** Weekdays (0 Monday to 6 Sunday) on which the supplier takes orders; empty: any day. */
  orderDays: readonly number[];
}

/** The last day to order and still be in time; where the supplier has set days, the last of them. */
export function orderByDay(timing: OrderTiming): Day {
  const { fallsUnderOn, leadDays, receivingDays, trialDays, orderDays } = timing;
  const latest = fallsUnderOn - wholeUp(leadDays) - receivingDays - trialDays;
  return lastOrderDay(latest, orderDays);
}

/** The last day up to `latest` on which the supplier takes orders. */
export function lastOrderDay(latest: Day, orderDays: readonly number[]): Day {
  if (orderDays.length === 0) return latest;
  let day = latest;
  while (!orderDays.includes(weekdayOf(day))) day--;
  return day;
}

/** The first day from `earliest` on which the supplier takes orders. */
export function nextOrderDay(earliest: Day, orderDays: readonly number[]): Day {
  if (orderDays.length === 0) return earliest;
  let day = earliest;
  while (!orderDays.includes(weekdayOf(day))) day++;
  return day;
}
