import { type Day, dayOf, isoOf } from '../kernel/measure/day.js';
import { deviationOfUse, type Forecast } from '../kernel/buy/forecast.js';
import type { Proposal } from '../kernel/plan/proposal.js';
import {
  LOOK_AHEAD_DAYS,
  reorder,
  type ReorderAnswer,
  type ReorderCase,
  type ReorderWay,
} from '../kernel/buy/reorder.js';
import { learnLeadTime } from '../kernel/buy/reorder-point.js';
import type { Snapshot, SnapshotItem } from '../kernel/plan/snapshot.js';
import { type Known, serviceOf } from './known.js';
import { expectedOf } from './expected.js';
import type { ReorderRow } from './reorder.schema.js';

/** The snapshot, what is planned from it, and what else is known, by item. */
export interface World {
  snapshot: Snapshot;
  known: Known;
  deliveries: Map<string, Snapshot['deliveries']>;
  lots: Map<string, Snapshot['lots']>;
  needs: Map<string, Proposal['needs'][number]>;
  shortfalls: Map<string, Proposal['shortfalls'][number]>;
  shipBy: Map<string, string>;
  batchDay: Map<string, string | null>;
}

export function worldOf(snapshot: Snapshot, proposal: Proposal, known: Known): World {
  return {
    snapshot,
    known,
    deliveries: byItem(snapshot.deliveries),
    lots: byItem(snapshot.lots),
    needs: new Map(proposal.needs.map((row) => [row.item, row])),
    shortfalls: new Map(proposal.shortfalls.map((row) => [row.item, row])),
    shipBy: new Map(snapshot.lines.map((line) => [line.key, line.shipBy])),
    batchDay: new Map(proposal.batches.map((batch) => [batch.key, batch.day])),
  };
}

function byItem<Row extends { item: string }>(rows: readonly Row[]): Map<string, Row[]> {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const group = groups.get(row.item);
    if (group) group.push(row);
    else groups.set(row.item, [row]);
  }
  return groups;
}

/** What is bought and kept: not tap water, nor what is no longer used. */
export const isBought = (item: SnapshotItem): boolean =>
  item.kind === 'material' && item.stocked && item.policy !== 'discontinued';

/** An item with the question that was asked of it and its answer. */
export interface Judged {
  item: SnapshotItem;
  asked: ReorderCase;
  answer: ReorderAnswer;
}

const WEEK_DAYS = 7;
/** Weeks forecast at most: shelf lives of years, and what lies between. */
const FORECAST_WEEKS_MAX = 160;

export function judge(item: SnapshotItem, world: World): Judged {
  const { snapshot, known } = world;
  const { settings } = known;
  const { receivingDays } = snapshot.workshop;
  const trialDays = known.rules.get(item.code)?.trialDays ?? 0;
  const sellers = (known.sold.get(item.code) ?? []).map((sold) => ({
    ...sold,
    lead: learnLeadTime(sold.leadDays, sold.tookDays),
  }));
  const delayDays = Math.max(0, ...sellers.map(({ lead }) => lead.meanDays)) + receivingDays + trialDays;
  const weeks = (days: number): number => Math.ceil(days / WEEK_DAYS);
  const ahead = delayDays + settings.reviewDays + LOOK_AHEAD_DAYS + settings.coverMostDays + (item.shelfLifeDays ?? 0);
  const shelf = onShelf(item, world, receivingDays + trialDays);
  const asked: ReorderCase = {
    ...shelf,
    forecast: expectedOf(item.code, known, {
      today: shelf.today,
      takes: [...shelf.needs, ...shelf.reserved],
      horizonWeeks: weeks(delayDays + settings.reviewDays),
      weeks: Math.min(FORECAST_WEEKS_MAX, weeks(ahead)),
    }),
    target: item.policy === 'to-stock' ? item.target : 0,
    service: serviceOf(known, item.code),
    reviewDays: settings.reviewDays,
    orderCostE4: settings.orderCostE4,
    coverMostDays: settings.coverMostDays,
    receivingDays,
    trialDays,
    shelfLifeDays: item.shelfLifeDays,
    sellers,
  };
  return { item, asked, answer: reorder(asked) };
}

function onShelf(
  item: SnapshotItem,
  { snapshot, known, deliveries, lots, needs }: World,
  delayDays: number,
): Pick<ReorderCase, 'today' | 'free' | 'coming' | 'expiring' | 'needs' | 'reserved'> {
  const usable = (lots.get(item.code) ?? []).filter(
    ({ expiresOn }) => expiresOn === null || expiresOn >= snapshot.today,
  );
  // an overdue delivery counts not at all until it has a new day
  const due = (deliveries.get(item.code) ?? []).filter(({ day }) => day >= snapshot.today);
  const expiring = [...usable, ...due].flatMap(({ expiresOn, free }) =>
    expiresOn === null ? [] : [{ day: dayOf(expiresOn), quantity: free }],
  );
  return {
    today: dayOf(snapshot.today),
    free: usable.reduce((sum, lot) => sum + lot.free, 0),
    coming: [
      ...due.map(({ day, free }) => ({ day: dayOf(day) + delayDays, quantity: free })),
      ...(known.ordered.get(item.code) ?? []).map((row) => ({ ...row, day: row.day + delayDays })),
    ],
    expiring,
    needs: (needs.get(item.code)?.byDay ?? []).map(({ day, quantity }) => ({ day: dayOf(day), quantity })),
    reserved: known.reserved.get(item.code) ?? [],
  };
}

/** Nine times in ten the use stays within so many deviations on either side. */
const BAND_DEVIATIONS = 1.2816;

/** A row of the list: `way` is the chosen seller's, null where nobody sells it or nothing more is wanted. */
export function rowOf(
  { item, asked, answer }: Judged,
  way: ReorderWay | null,
  isDue: boolean,
  world: World,
): ReorderRow {
  const { projection } = answer;
  const named = world.known.names.get(item.code)!;
  const iso = (day: Day | null): string | null => (day === null ? null : isoOf(day));
  const spread = projection.freeByDay.map((_, days) =>
    asked.forecast && days > 0 ? Math.round(BAND_DEVIATIONS * deviationOfUse(asked.forecast, days / WEEK_DAYS)) : 0,
  );
  return {
    item: item.code,
    ...named,
    free: asked.free,
    onTheWay: asked.coming.reduce((sum, row) => sum + row.quantity, 0),
    expectedUse: projection.expectedUse,
    keep: way ? Math.max(asked.target, way.safety) : answer.keep,
    safety: way?.safety ?? answer.keep,
    freeByDay: projection.freeByDay,
    lowByDay: projection.freeByDay.map((free, i) => free - spread[i]!),
    highByDay: projection.freeByDay.map((free, i) => free + spread[i]!),
    runsOutOn: iso(way?.fallsUnderOn ?? projection.runsOutOn),
    shortOn: iso(projection.shortOn),
    lost: projection.lost,
    wanted: way?.wanted ?? (asked.sellers.length === 0 ? projection.wanted : 0),
    orderBy: iso(way?.orderBy ?? null),
    overdue: way !== null && way.orderBy < asked.today,
    due: isDue,
    arrivesOn: iso(way?.arrivesOn ?? null),
    supplier: way?.supplier ?? null,
    leadDays: way?.leadDays ?? null,
    leadDeviationDays: way?.lead.deviationDays ?? null,
    deliveries: way?.lead.deliveries ?? 0,
    receivingDays: asked.receivingDays,
    trialDays: asked.trialDays,
    packs: way?.amount.packs ?? [],
    packsTotal: way?.amount.total ?? 0,
    costE4: way?.amount.costE4 ?? 0,
    gapE4: way?.amount.gapE4 ?? 0,
    limitedBy: way?.amount.limitedBy ?? null,
    wasted: way?.amount.wasted ?? 0,
    wasteE4: way?.amount.wasteE4 ?? 0,
    forecast: toldForecast(asked.forecast, world.known.said.get(item.code)?.like ?? null),
    ifNot: ifNotOrdered(item.code, world),
  };
}

/** What is expected, as it is answered; `like` is the item it is used like. */
export function toldForecast(known: Forecast | null, like: string | null): ReorderRow['forecast'] {
  if (!known) return null;
  const { chosen, pattern, weeksOfHistory, horizonWeeks, origins, naiveRmse, seasonalNaiveRmse } = known;
  const judged = known.errors.find(
    ({ method, alpha, spreadWeeks }) =>
      method === chosen.method && alpha === chosen.alpha && spreadWeeks === chosen.spreadWeeks,
  );
  return {
    ...chosen,
    weekly: known.weekly[0] ?? 0,
    pattern,
    weeksOfHistory,
    said: known.said && { ...known.said, like: known.said.by === 'like' ? like : null },
    horizonWeeks,
    origins,
    rmse: judged?.rmse ?? null,
    naiveRmse,
    seasonalNaiveRmse,
  };
}

/** Which orders and batches of the plan would miss it, and from when. */
function ifNotOrdered(item: string, { shortfalls, shipBy, batchDay }: World): ReorderRow['ifNot'] {
  const missing = shortfalls.get(item);
  if (!missing) return { needOn: null, orders: [], batches: [] };
  return {
    needOn: missing.needOn,
    orders: missing.hurts.lines.map((key) => ({ key, shipBy: shipBy.get(key) ?? missing.needOn })),
    batches: missing.hurts.batches.map((key) => ({ key, day: batchDay.get(key) ?? null })),
  };
}
