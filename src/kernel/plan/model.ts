import { type Day, dayOf, weekdayOf } from '../measure/day.js';
import { type Crew, crewOf } from './crew.js';
import { type OrderDays, orderDaysOf } from './order-days.js';
import { lowLevelCodes } from '../formula/levels.js';
import { outputFor, PPB_ONE, putInFor } from '../measure/quantity.js';
import { lastThat, limitFloor, roundDownTo, roundUpTo } from '../measure/ratio.js';
import type { SizeLimit } from './proposal.js';
import { SHARES_A_LINE } from './line-shares.js';
import { type ShownPours, shownOf } from './shown.js';
import { type Term, termsFrom } from './terms.js';
import type {
  Snapshot,
  SnapshotFormula,
  SnapshotFormulaLine,
  SnapshotItem,
  SnapshotLine,
  SnapshotLot,
} from './snapshot.js';
import { SECONDS_PER_MINUTE } from './sheet.js';
import type { ScheduleVessel } from './vessel-days.js';
import { type Washing, washingOf } from './washing.js';
import { byText } from '../measure/text-order.js';

/**
 * One plan holds so many batches, and so many more for each item that is made. A small workshop makes some ten batches a
 * day, so that the first is more than a year of them; and a batch of everything that is made each week for five months is
 * more than anyone orders ahead. What the plan costs grows with its batches, and an order line may ask for
 * 1,000,000,000 pieces. Common practice, no source.
 */
const BATCHES_LEAST = 4_000;
const BATCHES_AN_ITEM = 20;

/** The snapshot, indexed once: every item with its formula, level, largest batch and lead, in a fixed order. */
export interface Model {
  snapshot: Snapshot;
  /** First day anything can be done: today, or the week's first day when that is later. */
  start: Day;
  today: Day;
  weekStart: Day;
  weekEnd: Day;
  items: Map<string, ItemModel>;
  /** Made items, those that no other made item needs first. */
  made: ItemModel[];
  /** Open order lines by their day. */
  lines: ModelLine[];
  /** What a whole line counts as: one, unless lines are sent in parts, each of which counts as so much of it. */
  lineShare: number;
  /** Lots with something free that end, from the first day on, before the last order is to go. */
  ending: ModelLot[];
  /** The plan holds no more batches than that. */
  batchesMost: number;
  openMinutes: (day: Day) => number;
  /** The most minutes a day of a normal week has. */
  longestDay: number;
  /** Who works here; null where nobody is said. */
  crew: Crew | null;
  /** With what stands in them; of what should have been emptied by now and is not closed, until today at least. */
  vessels: readonly ScheduleVessel[];
  /** What is washed between two pours; null where nothing is said of it. */
  washing: Washing | null;
  /** What the plan last shown says of its days from the first on. */
  shown: ShownPours;
  /** What plans are compared by, what counts most first. */
  terms: readonly Term[];
}

export interface ModelLot {
  row: SnapshotLot;
  /** Last day it can be used. */
  until: Day;
}

export interface ModelLine extends OrderDays {
  row: SnapshotLine;
  item: ItemModel;
  /**
   * Among all lines: a full plan leaves out the last first. What is more than a whole plan holds stands behind all others,
   * so that one line with a figure too many takes no other's place.
   */
  place: number;
}

export interface ItemModel {
  code: string;
  row: SnapshotItem;
  formula: SnapshotFormula | null;
  level: number;
  /** Largest output of one batch, in the item's base unit; Infinity when nothing bounds it. */
  largestBatch: number;
  /** What bounds it; null when nothing does. */
  boundBy: SizeLimit | null;
  /** Calendar days from starting the deepest batch it needs until it is ready, bench and vessels being free. */
  leadDays: number;
  /** More of it no plan holds, whatever else it leaves out: at some level that would be more batches; Infinity where not. */
  mostInPlan: number;
}

/** Indexes a snapshot. Throws RangeError when a row names an unknown item or formulas go round in a circle. */
export function buildModel(snapshot: Snapshot): Model {
  const today = dayOf(snapshot.today);
  const weekStart = dayOf(snapshot.weekStart);
  const closed = new Set(snapshot.workshop.closedDays.map(dayOf));
  const { benchMinutes } = snapshot.workshop;
  const crew = crewOf(snapshot);
  const items = new Map<string, ItemModel>();
  const formulas = new Map(snapshot.formulas.map((formula) => [formula.item, formula]));
  for (const row of [...snapshot.items].sort((a, b) => byText(a.code, b.code)))
    items.set(row.code, {
      code: row.code,
      row,
      formula: formulas.get(row.code) ?? null,
      level: 0,
      largestBatch: Number.POSITIVE_INFINITY,
      boundBy: null,
      leadDays: 0,
      mostInPlan: Number.POSITIVE_INFINITY,
    });
  setLevels(items);
  const made = [...items.values()]
    .filter((item) => item.row.kind !== 'material')
    .sort((a, b) => a.level - b.level || byText(a.code, b.code));
  const batchesMost = BATCHES_LEAST + BATCHES_AN_ITEM * made.length;
  const washing = washingOf(snapshot);
  for (const item of made.toReversed()) setLimits(item, items, { snapshot, batchesMost, washing, crew });
  const start = Math.max(today, weekStart);
  const weekEnd = weekStart + 6;
  const lines = linesOf(snapshot, items);
  const openMinutes = (day: Day): number =>
    closed.has(day) ? 0 : crew ? crew.minutesOn(day) : (benchMinutes[weekdayOf(day)] ?? 0);
  return {
    snapshot,
    start,
    today,
    weekStart,
    weekEnd,
    items,
    made,
    lines,
    lineShare: lines.some(({ row }) => row.sends === 'parts') ? SHARES_A_LINE : 1,
    ending: endingBefore(
      lines.reduce((last, { row }) => Math.max(last, dayOf(row.shipBy)), weekEnd),
      start,
      snapshot,
    ),
    batchesMost,
    openMinutes,
    longestDay: longestDayOf(snapshot, crew),
    crew,
    vessels: vesselsOf(snapshot, today),
    washing,
    shown: shownOf(snapshot, { today, start, openMinutes }),
    terms: termsFrom(snapshot.workshop.terms ?? []),
  };
}

function linesOf({ lines }: Snapshot, items: ReadonlyMap<string, ItemModel>): ModelLine[] {
  const daysOf = orderDaysOf(lines);
  const sorted = [...lines]
    .sort((a, b) => byText(a.shipBy, b.shipBy) || byText(a.key, b.key))
    .map((row): ModelLine => {
      const item = items.get(row.item);
      if (!item) throw new RangeError(`order line ${row.key} is for ${row.item}, which is not an item`);
      return { row, item, place: 0, ...daysOf(row) };
    });
  const isTooLarge = ({ item, row }: ModelLine): boolean => row.quantity > item.mostInPlan;
  const byPlace = [...sorted.filter((line) => !isTooLarge(line)), ...sorted.filter(isTooLarge)];
  for (const [place, line] of byPlace.entries()) line.place = place;
  return sorted;
}

function endingBefore(day: Day, start: Day, { lots }: Snapshot): ModelLot[] {
  return lots.flatMap((row) => {
    const until = row.expiresOn === null ? day : dayOf(row.expiresOn);
    return row.free > 0 && start <= until && until < day ? [{ row, until }] : [];
  });
}

/** The most minutes a day of a normal week has, of all or of those who may do what a formula asks for. */
const longestDayOf = ({ workshop }: Snapshot, crew: Crew | null, skill?: string): number =>
  crew ? crew.longestDay(skill) : Math.max(0, ...workshop.benchMinutes);

function setLevels(items: Map<string, ItemModel>): void {
  const levels = lowLevelCodes(
    [...items.values()].map(({ code, formula }) => ({ code, parts: (formula?.lines ?? []).map((line) => line.item) })),
  );
  for (const item of items.values()) item.level = levels.get(item.code)!;
}

/** What of the workshop bounds a batch. */
interface LimitedBy {
  snapshot: Snapshot;
  batchesMost: number;
  washing: Washing | null;
  crew: Crew | null;
}

/** The largest batch and the lead of one item, those of everything it is made from being known. */
function setLimits(item: ItemModel, items: Map<string, ItemModel>, shop: LimitedBy): void {
  const { formula } = item;
  const { snapshot, batchesMost, washing, crew } = shop;
  if (!formula) return;
  const stepMg = snapshot.workshop.scaleStepMg;
  let most = formula.batchMax ?? Number.POSITIVE_INFINITY;
  item.boundBy = formula.batchMax === null ? null : 'formula';
  // where nothing at all fits, many batches fit no better than one: it finds no vessel, and says so
  const bound = (limit: number, by: SizeLimit): void => {
    if (limit <= 0 || limit >= most) return;
    most = limit;
    item.boundBy = by;
  };
  const vessels = snapshot.vessels.filter((vessel) => vessel.kind === formula.vesselKind);
  if (formula.vesselKind !== null) {
    const capacities = vessels.map((vessel) => vessel.capacityMg);
    bound(outputIn(formula, Math.max(0, ...capacities), items, stepMg), 'vessel');
  }
  if (formula.secondsUnit > 0) {
    // what takes all of a day would find none on which its vessel can be washed too
    const longest = longestDayOf(snapshot, crew, formula.skill);
    const minutes = longest - formula.minutesBatch - (washing?.most(vessels, item.code) ?? 0);
    const by = longest < longestDayOf(snapshot, crew) ? 'people' : 'bench';
    bound(Math.floor((SECONDS_PER_MINUTE * minutes) / formula.secondsUnit), by);
  }
  for (const line of formula.lines) {
    const part = items.get(line.item)!;
    if (part.formula) item.leadDays = Math.max(item.leadDays, part.leadDays);
    // What is filled straight from a vessel comes out of one batch, so that no lot is mixed from two by accident.
    if (part.formula?.vesselKind && line.amount > 0)
      bound(outputFrom(formula, line, part.row, part.largestBatch, stepMg), 'source');
    if (part.formula && line.amount > 0)
      item.mostInPlan = Math.min(item.mostInPlan, outputFrom(formula, line, part.row, part.mostInPlan, stepMg));
  }
  item.leadDays += formula.restDays;
  const { batchMultiple } = formula;
  item.largestBatch = Number.isFinite(most) ? Math.max(roundDownTo(most, batchMultiple), batchMultiple) : most;
  item.mostInPlan = Math.min(item.mostInPlan, item.largestBatch * batchesMost);
}

/** The largest output whose put-in, in whole scale steps, is no more than `mostMg`. */
function outputOf(formula: SnapshotFormula, mostMg: number, stepMg: number): number {
  return outputFor(roundDownTo(mostMg, stepMg), formula.residueMg, formula.lossPpb);
}

/** The largest output for which the line takes no more than `held` of what it names; Infinity where nothing bounds it. */
function outputFrom(
  formula: SnapshotFormula,
  { basis, amount }: SnapshotFormulaLine,
  row: SnapshotItem,
  held: number,
  stepMg: number,
): number {
  const { residueMg, lossPpb } = formula;
  if (basis === 'fixed' || held > Number.MAX_SAFE_INTEGER) return Number.POSITIVE_INFINITY;
  if (basis === 'each')
    return Math.floor((row.measure === 'counted' ? held : outputFor(held, residueMg, lossPpb)) / amount);
  // a line's weight lies below the next whole step of its exact part, so whole steps are what the part's batch must hold
  const heldMg = roundDownTo(held, stepMg);
  const putInMg = Math.min(limitFloor(heldMg, PPB_ONE, amount), Number.MAX_SAFE_INTEGER);
  return outputOf(formula, putInMg, stepMg);
}

/** The largest output that a vessel holds, in the item's base unit; Infinity where nothing of it is weighed. */
function outputIn(
  formula: SnapshotFormula,
  capacityMg: number,
  items: ReadonlyMap<string, ItemModel>,
  stepMg: number,
): number {
  const { lines, residueMg, lossPpb } = formula;
  if (lines.some(({ basis }) => basis === 'part')) return outputOf(formula, capacityMg, stepMg);
  const weighed = lines.filter(({ item }) => items.get(item)!.row.measure === 'weighed');
  const each = weighed.filter(({ basis, amount }) => basis === 'each' && amount > 0);
  if (each.length === 0) return Number.POSITIVE_INFINITY;
  const fixed = weighed.reduce((sum, { basis, amount }) => sum + (basis === 'fixed' ? amount : 0), 0);
  const putIn = (output: number): number =>
    each.reduce((sum, { amount }) => sum + putInFor(output * amount, residueMg, lossPpb), fixed);
  const ofAll = each.reduce((sum, { amount }) => sum + amount, 0);
  return lastThat(Math.floor(capacityMg / ofAll), (output) => putIn(output) <= capacityMg);
}

/** As much of it as a vessel holds, in whole steps of its batches. */
export function largestIn({ snapshot, items }: Model, formula: SnapshotFormula, capacityMg: number): number {
  const most = outputIn(formula, capacityMg, items, snapshot.workshop.scaleStepMg);
  return Number.isFinite(most) ? roundDownTo(most, formula.batchMultiple) : most;
}

/** The smallest batch of an item that its limits allow. */
export function smallestBatch(item: ItemModel): number {
  const { batchMin, batchMultiple } = item.formula!;
  return Math.min(roundUpTo(batchMin, batchMultiple), item.largestBatch);
}

/** The last open day on or before `day`; `day` itself when the workshop never opens in the month before it. */
export function openOnOrBefore(model: Model, day: Day): Day {
  for (let d = day; d > day - 31; d--) if (model.openMinutes(d) > 0) return d;
  return day;
}

function vesselsOf({ vessels, making, washing }: Snapshot, today: Day): ScheduleVessel[] {
  const promised = new Map(washing?.making.map(({ code, minutes }) => [code, minutes]));
  const held = new Map(washing?.held.map((row) => [row.vessel, row.item]));
  return vessels.map((vessel) => ({
    ...vessel,
    held: held.get(vessel.code),
    busy: making
      .filter((row) => row.vessel === vessel.code)
      .map(({ code, item, day, emptiedOn, skill }) => ({
        from: dayOf(day),
        to: Math.max(dayOf(emptiedOn), today),
        key: code,
        item,
        washing: promised.get(code) ?? 0,
        skill,
      })),
  }));
}
