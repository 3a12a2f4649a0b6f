import type { Day } from '../measure/day.js';
import { type Outlook, project, type Projection } from './demand.js';
import { deviationOfUse, type Forecast, isRare, useOver } from './forecast.js';
import { type Offer, orderAmount } from './order-amount.js';
import type { Way } from './order-groups.js';
import { rareLevel } from './rare-use.js';
import { wholeUp } from '../measure/ratio.js';
import {
  coverDays,
  leadTimeDemandDeviation,
  type LeadTime,
  nextOrderDay,
  orderByDay,
  safetyStock,
  type Service,
} from './reorder-point.js';

/** A supplier of one item: how long deliveries take, on which weekdays they take orders, which packs they sell. */
export interface Seller {
  supplier: string;
  lead: LeadTime;
  /** 0 Monday to 6 Sunday; empty: any day. */
  orderDays: readonly number[];
  /** At least one. */
  offers: readonly Offer[];
}

/** What is known of one bought item on a day. Amounts in its base unit. */
export interface ReorderCase extends Pick<Outlook, 'today' | 'free' | 'coming' | 'needs' | 'reserved' | 'expiring'> {
  /** Null without enough history: then only what is planned counts, and nothing is kept for safety. */
  forecast: Forecast | null;
  /** What should always be left, whatever the forecast says. */
  target: number;
  /** Null: bought for what is planned and expected only, with nothing kept for safety. */
  service: Service | null;
  /** Days until the list is looked at again. */
  reviewDays: number;
  /** What the work of one order line costs, and the longest an order should last. */
  orderCostE4: number;
  coverMostDays: number;
  receivingDays: number;
  trialDays: number;
  /** How long it keeps from the day it arrives; null: it does. */
  shelfLifeDays: number | null;
  sellers: readonly Seller[];
}

/** A seller's answer: when to order from them, and how much. */
export interface ReorderWay extends Way {
  leadDays: number;
  lead: LeadTime;
  /** First day less than should be kept with this seller is free. */
  fallsUnderOn: Day;
  safety: number;
  /** Deviation of what is used until an order is here. */
  deviation: number;
  /** What is missing until the order should have been used. */
  wanted: number;
  /** Never below what is wanted unless it would expire. */
  arrivesOn: Day;
}

export interface ReorderAnswer {
  /** The longest projection made, and the safety it is judged by: that of the seller with the longest lead time. */
  projection: Projection;
  keep: number;
  /** One a seller; empty when it is not due within the days looked at, or nobody sells it. */
  ways: ReorderWay[];
}

const WEEK_DAYS = 7;
/** Days after the next look at which something may still come along with another order. */
export const LOOK_AHEAD_DAYS = 28;
/** A shorter stretch of plan says too little of what is usual, a longer one lets one order stand for all of it. */
const WINDOW_LEAST_DAYS = 14;
const WINDOW_MOST_DAYS = 56;
/** Nobody plans a shelf further ahead. */
const SHELF_DAYS_MAX = 1_000;

/**
 * What of an item must be ordered, by when, from each of its sellers. An order is due by the day the projected free stock
 * falls under the safety stock, less lead time, receiving and trial; the safety stock covers what varies until an order is
 * here. The amount ends the days it should last with the safety stock left, no more
 * than can be used before it would expire.
 */
export function reorder(known: ReorderCase): ReorderAnswer {
  const sellers = known.sellers.map((seller) => safetyWith(known, seller));
  const slowest = sellers.reduce<SellerSafety | null>((a, b) => (a && a.delayDays >= b.delayDays ? a : b), null);
  const delayDays = slowest?.delayDays ?? known.receivingDays + known.trialDays;
  const keep = Math.max(known.target, slowest?.safety ?? 0);
  const until = known.today + delayDays + known.reviewDays + LOOK_AHEAD_DAYS;
  return {
    projection: projected(known, keep, until),
    keep,
    ways: sellers.flatMap((seller) => wayOf(known, seller) ?? []),
  };
}

interface SellerSafety {
  seller: Seller;
  /** From ordering until it may be used, in whole days. */
  delayDays: number;
  safety: number;
  deviation: number;
  /** Days an order should last, once it is here. */
  lastsDays: number;
}

function safetyWith(known: ReorderCase, seller: Seller): SellerSafety {
  const delayDays = wholeUp(seller.lead.meanDays) + known.receivingDays + known.trialDays;
  const { forecast, service } = known;
  if (!forecast) return { seller, delayDays, safety: 0, deviation: 0, lastsDays: known.reviewDays };
  // what is not ordered now is ordered at the next look at the soonest
  const exposedDays = delayDays + known.reviewDays;
  const mean = useOver(forecast, exposedDays / WEEK_DAYS);
  const perDay = mean / exposedDays;
  const deviation = leadTimeDemandDeviation({
    perDay,
    useDeviation: deviationOfUse(forecast, exposedDays / WEEK_DAYS),
    leadDeviationDays: seller.lead.deviationDays,
  });
  const smallest = Math.min(...seller.offers.map(({ size, leastPacks }) => size * leastPacks));
  const onceUsed = perDayOnceUsed(forecast, exposedDays);
  const lastsDays = coverDays({
    perDayE4: onceUsed * Math.min(...seller.offers.map(({ priceE4, size }) => priceE4 / size)),
    orderCostE4: known.orderCostE4,
    reviewDays: known.reviewDays,
    mostDays: known.coverMostDays,
  });
  const orderQuantity = Math.max(onceUsed * lastsDays, smallest);
  const wanted = (): number => {
    if (!service) return 0;
    if (!isRare(forecast) || perDay <= 0) return safetyStock(service, { mean, deviation, orderQuantity });
    const level = rareLevel(service, {
      shape: forecast,
      perDay,
      delayDays,
      leadDeviationDays: seller.lead.deviationDays,
      reviewDays: known.reviewDays,
      step: Math.max(0, lastsDays - known.reviewDays) * perDay + smallest,
    });
    return Math.max(0, wholeUp(level - mean));
  };
  const safety = Math.min(wanted(), turnedOver(known.shelfLifeDays, perDay, orderQuantity));
  return { seller, delayDays, deviation, safety, lastsDays };
}

/** Expected use of a day over so many days from the week on in which it is used at all. */
function perDayOnceUsed({ weekly }: Forecast, days: number): number {
  const begins = Math.max(
    0,
    weekly.findIndex((used) => used > 0),
  );
  return useOver({ weekly: weekly.slice(begins) }, days / WEEK_DAYS) / days;
}

/** Share of its life in which what is there should be used on the mean: use that strays takes the rest. */
const LIFE_TO_USE = 0.5;

/** What may be kept for safety of something that expires, and still be used in time. */
function turnedOver(shelfLifeDays: number | null, perDay: number, orderQuantity: number): number {
  if (shelfLifeDays === null) return Infinity;
  return Math.max(0, Math.floor(perDay * shelfLifeDays * LIFE_TO_USE - orderQuantity));
}

function projected(known: ReorderCase, keep: number, until: Day): Projection {
  const intervalDays = WEEK_DAYS * Math.ceil(known.forecast?.intervalWeeks ?? 0);
  return project({
    ...known,
    weekly: known.forecast?.weekly ?? [],
    windowDays: Math.min(WINDOW_MOST_DAYS, Math.max(WINDOW_LEAST_DAYS, intervalDays)),
    keep,
    until,
  });
}

function wayOf(
  known: ReorderCase,
  { seller, delayDays, safety, deviation, lastsDays }: SellerSafety,
): ReorderWay | null {
  const keep = Math.max(known.target, safety);
  const { today, reviewDays, receivingDays, trialDays } = known;
  const seen = projected(known, keep, today + delayDays + reviewDays + LOOK_AHEAD_DAYS);
  if (seen.runsOutOn === null) return null;
  const orderBy = orderByDay({
    fallsUnderOn: seen.runsOutOn,
    leadDays: seller.lead.meanDays,
    receivingDays,
    trialDays,
    orderDays: seller.orderDays,
  });
  const arrivesOn = nextOrderDay(Math.max(orderBy, today), seller.orderDays) + delayDays;
  const { wanted } = projected(known, keep, arrivesOn + lastsDays);
  if (wanted === 0) return null;
  const usable = usableUntilExpiry(known, arrivesOn);
  // what is there lasts longer than more of it would keep: safety alone is no reason to buy what will be thrown away
  if (usable === 0) return null;
  const amount = orderAmount(wanted, usable, seller.offers);
  if (!amount) return null;
  const leadDays = delayDays - receivingDays - trialDays;
  return {
    supplier: seller.supplier,
    orderBy,
    amount,
    leadDays,
    lead: seller.lead,
    fallsUnderOn: seen.runsOutOn,
    safety,
    deviation,
    wanted,
    arrivesOn,
  };
}

/**
 * What of an order that arrives then will be used before it expires: what would be short on its last day without it, after
 * all that is there already. Null: all of it, or without a forecast nobody knows.
 */
function usableUntilExpiry(known: ReorderCase, usableOn: Day): number | null {
  if (known.shelfLifeDays === null || known.shelfLifeDays > SHELF_DAYS_MAX || !known.forecast) return null;
  // it keeps from its arrival, before it was received and tried
  const lastDay = usableOn - known.receivingDays - known.trialDays + known.shelfLifeDays;
  const without = projected(known, 0, Math.max(lastDay, usableOn));
  return Math.max(0, -without.freeByDay.at(-1)!);
}
