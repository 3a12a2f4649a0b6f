import { allocateInOrder } from './allocation.js';
import { type Day, dayOf } from '../measure/day.js';
import {
  batchAt,
  daysUntilTaken,
  dueDay,
  type Job,
  type JobInput,
  keepsDaysOf,
  type LineState,
  newJob,
  openLines,
} from './job.js';
import { sizeBatches, type SizingNeed, WINDOW_DAYS } from './lot-sizing.js';
import { type ItemModel, type Model, openOnOrBefore, smallestBatch } from './model.js';
import { buildPool, type PoolSupply, push } from './pool.js';
import { mulDivCeil } from '../measure/ratio.js';
import { Figures } from './random.js';
import type { SnapshotFormula } from './snapshot.js';

export interface Netted {
  jobs: Job[];
  lines: LineState[];
  pool: Map<string, PoolSupply[]>;
  /** Items that were brought up to their stock target. */
  refilled: Set<string>;
  /** What of stock targets would be more than the plan holds, and is not made. */
  refillsLeftOut: { item: string; quantity: number }[];
  /** More than the plan holds: it was given up there, and is no answer. */
  isOver: boolean;
}

/**
 * How much a plan holds of what is asked for, orders by their day and then stock targets: all of the first `whole`, `part`
 * of the next, in its base unit, and nothing of the rest.
 */
export interface Cut {
  whole: number;
  part: number;
}

export const UNCUT: Cut = { whole: Number.POSITIVE_INFINITY, part: 0 };

const heldAt = ({ whole, part }: Cut, place: number): number =>
  place < whole ? Number.POSITIVE_INFINITY : place === whole ? part : 0;

interface Need {
  quantity: number;
  day: Day;
  until: Day;
  /** The day on which it must still be good at least, however early it is used. */
  keptUntil: Day;
  tier: 0 | 1;
  line: LineState | null;
  input: JobInput | null;
  job: Job | null;
  isApart: boolean;
  isLater: boolean;
  isFirst: boolean;
  isLast: boolean;
}

/**
 * What of every need is covered, and what must be made for the rest: products first, then each bulk after everything
 * that uses it. Items in `noRefill` are not brought up to their stock target. What `cut` leaves out is taken off the shelf
 * where it lies there, and not made.
 */
export function net(
  model: Model,
  noRefill: ReadonlySet<string>,
  learned: Learned = NOTHING_LEARNED,
  cut: Cut = UNCUT,
): Netted {
  const pool = buildPool(model);
  const lines = openLines(model, learned);
  const needs = new Map<string, Need[]>();
  const netted: Netted = { jobs: [], lines, pool, refilled: new Set(), refillsLeftOut: [], isOver: false };
  for (const line of lines) {
    if (line.item.row.kind === 'material') line.fromShelf = line.row.quantity;
    else push(needs, line.item.code, lineNeed(line, learned));
  }
  for (const [index, item] of model.made.entries()) {
    const supplies = pool.get(item.code) ?? [];
    const open = coverFromStock(model, item, needs.get(item.code) ?? [], supplies);
    const refill = noRefill.has(item.code) ? 0 : refillNeed(model, item, supplies);
    const held = Math.min(refill, heldAt(cut, lines.length + index));
    if (held > 0) {
      open.push(stockNeed(model, held));
      netted.refilled.add(item.code);
    }
    if (!item.formula) {
      for (const need of open) markMissing(need);
      continue;
    }
    if (held < refill) netted.refillsLeftOut.push({ item: item.code, quantity: refill - held });
    const atMost = model.batchesMost - netted.jobs.length;
    const made = batchesFor(model, item, item.formula, open, { learned, cut, atMost });
    if (!made) return { ...netted, isOver: true };
    for (const job of made) {
      netted.jobs.push(job);
      for (const input of job.inputs) {
        if (input.item.row.kind === 'material') input.fromShelf = input.quantity;
        else push(needs, input.item.code, inputNeed(model, job, input));
      }
    }
  }
  return netted;
}

/** What of these needs the plan holds; what an order line wants beyond it is written down there. */
function withinCut(needs: Need[], cut: Cut): Need[] {
  if (cut.whole === Number.POSITIVE_INFINITY) return needs;
  for (const need of needs) {
    if (!need.line) continue;
    need.line.leftOut = Math.max(0, need.quantity - heldAt(cut, need.line.place));
    need.quantity -= need.line.leftOut;
  }
  return needs.filter(({ quantity }) => quantity > 0);
}

/** What an earlier round of the plan has shown. */
export interface Learned {
  /** Order lines that go no sooner, and must still be good then. */
  goesOn: ReadonlyMap<string, Day>;
  /** Batches, by what `batchAt` calls them, that begin no sooner: what they take must still be good then. */
  begins: ReadonlyMap<string, Day>;
  /** How batches are sized, by item, where it is not as usual. */
  sizes: ReadonlyMap<string, SizeChoice>;
  /** Order lines for which batches of their own are made: others are not to lack what these lack. */
  apart: ReadonlySet<string>;
  /** Order lines that are late anyway: batches of their own take the room that all others leave. */
  later: ReadonlySet<string>;
  /** Order lines that take of what is made already, or being made, before others do, whatever their day. */
  first: ReadonlySet<string>;
  /** Lines of orders that are sent complete which take of it after others. */
  last: ReadonlySet<string>;
}

export interface SizeChoice {
  /** Needs that are due within so many days share a batch. */
  windowDays: number;
  /** No batch is larger, in the item's base unit. */
  most: number;
  /** Other than 0: in which other order than that in which they are due needs are put together. */
  mix: number;
}

export const NOTHING_LEARNED: Learned = {
  goesOn: new Map(),
  begins: new Map(),
  sizes: new Map(),
  apart: new Set(),
  later: new Set(),
  first: new Set(),
  last: new Set(),
};

const lineNeed = (line: LineState, { apart, later, first }: Learned): Need => ({
  quantity: line.row.quantity,
  day: line.goes,
  until: line.until,
  keptUntil: line.until,
  tier: 0,
  line,
  input: null,
  job: null,
  isApart: apart.has(line.row.key),
  isLater: later.has(line.row.key),
  isFirst: first.has(line.row.key),
  isLast: line.isLast,
});

const inputNeed = (model: Model, job: Job, input: JobInput): Need => ({
  quantity: input.quantity,
  day: dueDay(model, job),
  until: dueDay(model, job) + daysUntilTaken(job, input),
  keptUntil: Math.max(model.start, job.begins ?? model.start) + daysUntilTaken(job, input),
  tier: job.tier,
  line: null,
  input,
  job,
  isApart: job.isApart,
  isLater: job.isLater,
  isFirst: job.isFirst,
  isLast: job.isLast,
});

const stockNeed = (model: Model, quantity: number): Need => ({
  quantity,
  day: model.weekEnd,
  until: model.weekEnd,
  keptUntil: model.start,
  tier: 1,
  line: null,
  input: null,
  job: null,
  isApart: false,
  isLater: false,
  isFirst: false,
  isLast: false,
});

/**
 * Serves needs of a made item from its finished lots and from batches in the making; answers what stays open.
 * A batch in the making also serves a need it is too late for, where a new batch would be no earlier.
 */
function coverFromStock(model: Model, item: ItemModel, needs: Need[], supplies: PoolSupply[]): Need[] {
  needs.sort((a, b) => a.tier - b.tier || a.day - b.day);
  if (supplies.length === 0) return needs;
  const soonest = model.start + item.leadDays;
  const demands = needs.map((need) => {
    const day = Math.max(need.day, soonest);
    const keepsDays = need.line?.item.row.owedLifeDays ?? 0;
    const tier = need.tier === 1 ? 3 : need.isLast ? 2 : need.isFirst ? 0 : 1;
    return { quantity: need.quantity, day, until: need.until, tier, keepsDays } as const;
  });
  for (const take of allocateInOrder(supplies, demands)) {
    const need = needs[take.demand]!;
    const supply = supplies[take.supply]!;
    need.quantity -= take.quantity;
    if (need.line) {
      need.line.taken.push({ from: supply.kind, key: supply.key, quantity: take.quantity });
      if (supply.kind !== 'lot') need.line.fromMaking.push(supply);
      supply.quantity -= take.quantity;
    } else if (supply.kind === 'making') {
      need.input!.fromMaking.push({ supply, quantity: take.quantity });
      supply.quantity -= take.quantity;
    } else {
      // which lot is settled when the batch has its day; until then the amount is spoken for
      need.input!.fromShelf += take.quantity;
      supply.spokenFor += take.quantity;
    }
  }
  return needs.filter((need) => need.quantity > 0);
}

/** How far what will be left on the shelf lies under the stock target. */
function refillNeed(model: Model, item: ItemModel, supplies: readonly PoolSupply[]): number {
  const { policy, target, seasonFrom, seasonTo } = item.row;
  const inSeason =
    policy === 'seasonal' && dayOf(seasonFrom!) <= model.weekEnd + item.leadDays && model.weekStart <= dayOf(seasonTo!);
  if (policy !== 'to-stock' && !inSeason) return 0;
  const left = supplies.filter((s) => s.until >= model.weekEnd).reduce((sum, s) => sum + s.quantity - s.spokenFor, 0);
  return Math.max(0, target - left);
}

function markMissing(need: Need): void {
  if (need.line) need.line.missing += need.quantity;
  if (need.input) need.input.missing += need.quantity;
}

/** The batches that cover the needs of an item; null where those are more than `atMost`. */
function batchesFor(
  model: Model,
  item: ItemModel,
  formula: SnapshotFormula,
  needs: Need[],
  { learned, cut, atMost }: { learned: Learned; cut: Cut; atMost: number },
): Job[] | null {
  const keepsDays = keepsDaysOf(item);
  const isNeverFresh = ({ line }: Need): boolean =>
    line !== null && keepsDays < formula.restDays + item.row.owedLifeDays;
  for (const need of needs.filter(isNeverFresh)) {
    need.line!.isNeverFresh = true;
    markMissing(need);
  }
  const makeable = needs.filter((need) => !isNeverFresh(need));
  const sizing = withinCut(makeable, cut).map((need): SizingNeed & { need: Need } => ({
    need,
    quantity: need.quantity,
    latest: latestStart(model, item, formula, need),
    tier: need.tier,
    keptUntil: need.keptUntil,
    whole: need.input !== null && formula.vesselKind !== null,
  }));
  sizing.sort((a, b) => a.tier - b.tier || a.latest - b.latest);
  const choice = learned.sizes.get(item.code);
  if (choice?.mix) mix(sizing, choice.mix);
  const limits = {
    min: smallestBatch(item),
    // what is filled straight from a vessel comes out of one batch, whatever was chosen
    max: Math.min(
      item.largestBatch,
      Math.max(choice?.most ?? Number.MAX_SAFE_INTEGER, largestWhole(sizing)),
      Number.MAX_SAFE_INTEGER,
    ),
    multiple: formula.batchMultiple,
    start: model.start,
    keepsDays,
    windowDays: choice?.windowDays ?? WINDOW_DAYS,
  };
  const made: Job[] = [];
  for (const { isApart, isLater } of GROUPS) {
    const wanted = sizing.filter(({ need }) => need.isApart === isApart && need.isLater === isLater);
    const batches = sizeBatches(wanted, limits, atMost - made.length);
    if (batches.length > atMost - made.length) return null;
    for (const batch of batches) {
      const job = newJob(model, item, formula, batch.output, batch.latest, batch.tier, made.length + 1);
      const isLast = batch.shares.every((share) => wanted[share.need]!.need.isLast);
      Object.assign(job, { isApart, isLater, isLast });
      job.begins = learned.begins.get(batchAt(job)) ?? null;
      for (const share of batch.shares) peg(job, wanted[share.need]!.need, share.quantity, share.leftover);
      const surplus = batch.output - job.pegs.reduce((sum, p) => sum + p.quantity, 0);
      if (surplus > 0) pegToStock(job, surplus);
      job.isFirst = job.pegs.some(({ line, job: to }) => (line ? learned.first.has(line.row.key) : to?.isFirst));
      made.push(job);
    }
  }
  return made;
}

/** Whose needs never share a batch. */
const GROUPS = [false, true].flatMap((isApart) => [false, true].map((isLater) => ({ isApart, isLater })));

/** In another order, of those of one tier. */
function mix(sizing: SizingNeed[], seed: number): void {
  const figures = new Figures(seed);
  const orders = sizing.filter(({ tier }) => tier === 0);
  for (let i = orders.length - 1; i > 0; i--) {
    const j = figures.below(i + 1);
    [orders[i], orders[j]] = [orders[j]!, orders[i]!];
  }
  sizing.splice(0, orders.length, ...orders);
}

const largestWhole = (needs: readonly SizingNeed[]): number =>
  needs.reduce((most, { whole, quantity }) => (whole ? Math.max(most, quantity) : most), 0);

/** The latest day a batch may start so that `need` is met; for stock, as soon as its own inputs could be ready. */
function latestStart(model: Model, item: ItemModel, formula: SnapshotFormula, need: Need): Day {
  if (need.line) {
    const inTime = need.line.needBy - model.snapshot.workshop.slackDays - formula.restDays;
    // what would be over by the day it goes is made with less time to spare
    const fresh = Math.min(need.until - keepsDaysOf(item), need.line.goes - formula.restDays);
    return Math.max(fresh, openOnOrBefore(model, inTime));
  }
  if (need.job)
    return openOnOrBefore(model, Math.max(need.job.latest, need.job.begins ?? need.job.latest) - formula.restDays);
  return model.start + item.leadDays - formula.restDays;
}

function peg(job: Job, need: Need, quantity: number, leftover: boolean): void {
  if (need.line) {
    need.line.fromJobs.push({ job, quantity });
    job.pegs.push({ line: need.line, job: null, quantity });
    job.forOrders += quantity;
  } else if (need.input && need.job) {
    need.input.fromJobs.push({ job, quantity });
    job.pegs.push({ line: null, job: need.job, quantity });
    // what a batch for orders leaves over in its own output is for stock, and so is that part of what it takes
    job.forOrders += mulDivCeil(quantity, need.job.forOrders, need.job.output);
    // a base that need not rest is decanted when it is made; everything else is drawn from the vessel it stands in
    const decanted = leftover || (job.formula.restDays === 0 && need.job.item.row.kind === 'bulk');
    const held = job.formula.vesselKind !== null && !decanted && job.tier === need.tier;
    const after = daysUntilTaken(need.job, need.input);
    job.consumers.push({ job: need.job, held, after });
    need.job.sources.push({ job, held, after });
  } else {
    pegToStock(job, quantity);
  }
}

/** Stock stands in one peg, whether a target or a full vessel asked for it. */
function pegToStock(job: Job, quantity: number): void {
  const stock = job.pegs.find((p) => !p.line && !p.job);
  if (stock) stock.quantity += quantity;
  else job.pegs.push({ line: null, job: null, quantity });
}
