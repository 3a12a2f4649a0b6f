import { allocate } from './allocation.js';
import { type Day, dayOf } from '../measure/day.js';
import { sizeBatches, type SizingNeed } from './lot-sizing.js';
import { type ItemModel, type Model, openOnOrBefore, smallestBatch } from './model.js';
import { buildPool, type PoolSupply, push } from './pool.js';
import { mulDivCeil } from '../measure/ratio.js';
import { batchMinutes, sheetFor } from './sheet.js';
import type { SnapshotFormula, SnapshotLine } from './snapshot.js';
import type { Taken } from './proposal.js';
import { byText } from '../measure/text-order.js';

/** One batch while it is being planned. */
export interface Job {
  key: string;
  item: ItemModel;
  formula: SnapshotFormula;
  output: number;
  putInMg: number;
  minutes: number;
  tier: 0 | 1;
  /** Latest day to start it so that everything it is for is in time, slack included. */
  latest: Day;
  /** Known to begin no sooner; null where nothing is known. */
  begins: Day | null;
  /** Part of the output that customers' orders need. */
  forOrders: number;
  inputs: JobInput[];
  pegs: JobPeg[];
  /** Batches it draws from and batches that draw from it. */
  sources: BatchLink[];
  consumers: BatchLink[];
}

/**
 * `held`: drawn straight from the source's vessel, which stays busy until then. `after`: days from the day a batch is made
 * until it takes what it draws.
 */
export interface BatchLink {
  job: Job;
  held: boolean;
  after: number;
}

export interface JobInput {
  position: number;
  item: ItemModel;
  step: 'make' | 'fill' | 'pack';
  quantity: number;
  belowScale: boolean;
  fromJobs: { job: Job; quantity: number }[];
  /** Taken from batches of earlier plans. */
  fromMaking: { supply: PoolSupply; quantity: number }[];
  /** Still to be taken from lots and deliveries, once its day is known. */
  fromShelf: number;
  missing: number;
}

export interface JobPeg {
  line: LineState | null;
  job: Job | null;
  quantity: number;
}

/** An order line while it is being planned. */
export interface LineState {
  row: SnapshotLine;
  item: ItemModel;
  shipBy: Day;
  /** First day it may go; minus infinity where any day will do. */
  notBefore: Day;
  /** The day it goes, if it is in time. */
  goes: Day;
  /** Last day what is shipped must still be good for. */
  until: Day;
  taken: Taken[];
  fromMaking: PoolSupply[];
  fromJobs: { job: Job; quantity: number }[];
  /** For items nobody makes: still to be taken from the shelf. */
  fromShelf: number;
  missing: number;
  /** What is made for it cannot be given to the customer with the life that is owed. */
  isNeverFresh: boolean;
}

export interface Netted {
  jobs: Job[];
  lines: LineState[];
  pool: Map<string, PoolSupply[]>;
  /** Items that were brought up to their stock target. */
  refilled: Set<string>;
}

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
}

/**
 * What of every need is covered, and what must be made for the rest: products first, then each bulk after everything
 * that uses it. Items in `noRefill` are not brought up to their stock target.
 */
export function net(model: Model, noRefill: ReadonlySet<string>, learned: Learned = NOTHING_LEARNED): Netted {
  const pool = buildPool(model);
  const lines = openLines(model, learned.goesOn);
  const needs = new Map<string, Need[]>();
  const jobs: Job[] = [];
  const refilled = new Set<string>();
  for (const line of lines) {
    if (line.item.row.kind === 'material') line.fromShelf = line.row.quantity;
    else push(needs, line.item.code, lineNeed(line));
  }
  for (const item of model.made) {
    const supplies = pool.get(item.code) ?? [];
    const open = coverFromStock(model, item, needs.get(item.code) ?? [], supplies);
    const refill = noRefill.has(item.code) ? 0 : refillNeed(model, item, supplies);
    if (refill > 0) {
      open.push(stockNeed(model, refill));
      refilled.add(item.code);
    }
    if (!item.formula) {
      for (const need of open) markMissing(need);
      continue;
    }
    for (const job of batchesFor(model, item, item.formula, open, learned.begins)) {
      jobs.push(job);
      for (const input of job.inputs) {
        if (input.item.row.kind === 'material') input.fromShelf = input.quantity;
        else push(needs, input.item.code, inputNeed(model, job, input));
      }
    }
  }
  return { jobs, lines, pool, refilled };
}

/** What an earlier round of the plan has shown. */
export interface Learned {
  /** Order lines that go no sooner, and must still be good then. */
  goesOn: ReadonlyMap<string, Day>;
  /** Batches, by what `batchAt` calls them, that begin no sooner: what they take must still be good then. */
  begins: ReadonlyMap<string, Day>;
}

const NOTHING_LEARNED: Learned = { goesOn: new Map(), begins: new Map() };

/** A batch by its key and when it is due: its key alone is another batch's where others are sized otherwise. */
export const batchAt = ({ key, latest }: Job): string => `${key} ${latest}`;

function openLines(model: Model, goesOn: ReadonlyMap<string, Day>): LineState[] {
  return [...model.snapshot.lines]
    .sort((a, b) => byText(a.shipBy, b.shipBy) || byText(a.key, b.key))
    .map((row) => {
      const item = model.items.get(row.item);
      if (!item) throw new RangeError(`order line ${row.key} is for ${row.item}, which is not an item`);
      const shipBy = dayOf(row.shipBy);
      const notBefore = row.notBefore === null ? Number.NEGATIVE_INFINITY : dayOf(row.notBefore);
      const goes = Math.max(shipBy, notBefore, model.start);
      return {
        row,
        item,
        shipBy,
        notBefore,
        goes,
        until: Math.max(goes, goesOn.get(row.key) ?? goes) + item.row.owedLifeDays,
        taken: [],
        fromMaking: [],
        fromJobs: [],
        fromShelf: 0,
        missing: 0,
        isNeverFresh: false,
      };
    });
}

const lineNeed = (line: LineState): Need => ({
  quantity: line.row.quantity,
  day: line.goes,
  until: line.until,
  keptUntil: line.until,
  tier: 0,
  line,
  input: null,
  job: null,
});

/** The day a batch should be made: not before the plan begins, or is known to allow. */
export const dueDay = (model: Model, job: Job): Day => Math.max(job.latest, model.start, job.begins ?? model.start);

/** Packing waits for the rest; everything else is taken on the day the batch is made. */
export const daysUntilTaken = (job: Job, { step }: JobInput): number => (step === 'pack' ? job.formula.restDays : 0);

const inputNeed = (model: Model, job: Job, input: JobInput): Need => ({
  quantity: input.quantity,
  day: dueDay(model, job),
  until: dueDay(model, job) + daysUntilTaken(job, input),
  keptUntil: Math.max(model.start, job.begins ?? model.start) + daysUntilTaken(job, input),
  tier: job.tier,
  line: null,
  input,
  job,
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
    return { quantity: need.quantity, day, until: need.until, tier: need.tier, keepsDays };
  });
  for (const take of allocate(supplies, demands)) {
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

function batchesFor(
  model: Model,
  item: ItemModel,
  formula: SnapshotFormula,
  needs: Need[],
  begins: Learned['begins'],
): Job[] {
  const keepsDays = keepsDaysOf(item);
  const isNeverFresh = ({ line }: Need): boolean =>
    line !== null && keepsDays < formula.restDays + item.row.owedLifeDays;
  for (const need of needs.filter(isNeverFresh)) {
    need.line!.isNeverFresh = true;
    markMissing(need);
  }
  const makeable = needs.filter((need) => !isNeverFresh(need));
  const sizing = makeable.map((need): SizingNeed & { need: Need } => ({
    need,
    quantity: need.quantity,
    latest: latestStart(model, item, formula, need),
    tier: need.tier,
    keptUntil: need.keptUntil,
    whole: need.input !== null && formula.vesselKind !== null,
  }));
  sizing.sort((a, b) => a.tier - b.tier || a.latest - b.latest);
  const batches = sizeBatches(sizing, {
    min: smallestBatch(item),
    max: Number.isFinite(item.largestBatch) ? item.largestBatch : Number.MAX_SAFE_INTEGER,
    multiple: formula.batchMultiple,
    start: model.start,
    keepsDays,
  });
  return batches.map((batch, index) => {
    const job = newJob(model, item, formula, batch.output, batch.latest, batch.tier, index + 1);
    job.begins = begins.get(batchAt(job)) ?? null;
    for (const share of batch.shares) peg(job, sizing[share.need]!.need, share.quantity, share.leftover);
    const surplus = batch.output - job.pegs.reduce((sum, p) => sum + p.quantity, 0);
    if (surplus > 0) pegToStock(job, surplus);
    return job;
  });
}

/** Days an item may be used after the day it is made; infinity where it keeps. */
export const keepsDaysOf = ({ row }: ItemModel): number => row.shelfLifeDays ?? Number.POSITIVE_INFINITY;

/** The latest day a batch may start so that `need` is met; for stock, as soon as its own inputs could be ready. */
function latestStart(model: Model, item: ItemModel, formula: SnapshotFormula, need: Need): Day {
  if (need.line) {
    const inTime = need.line.shipBy - model.snapshot.workshop.slackDays - formula.restDays;
    // what would be over by the day it goes is made with less time to spare
    const fresh = Math.min(need.until - keepsDaysOf(item), need.line.goes - formula.restDays);
    return Math.max(fresh, openOnOrBefore(model, inTime));
  }
  if (need.job)
    return openOnOrBefore(model, Math.max(need.job.latest, need.job.begins ?? need.job.latest) - formula.restDays);
  return model.start + item.leadDays - formula.restDays;
}

function newJob(
  model: Model,
  item: ItemModel,
  formula: SnapshotFormula,
  output: number,
  latest: Day,
  tier: 0 | 1,
  number: number,
): Job {
  const sheet = sheetFor(formula, output, (code) => model.items.get(code)!.row, model.snapshot.workshop);
  return {
    key: `${item.code}/${number}`,
    item,
    formula,
    output,
    putInMg: sheet.putInMg,
    minutes: batchMinutes(formula, output),
    tier,
    latest,
    begins: null,
    forOrders: 0,
    inputs: formula.lines.flatMap((line, at) =>
      sheet.amounts[at] === 0
        ? []
        : [
            {
              position: line.position,
              item: model.items.get(line.item)!,
              step: line.step,
              quantity: sheet.amounts[at]!,
              belowScale: sheet.belowScale[at]!,
              fromJobs: [],
              fromMaking: [],
              fromShelf: 0,
              missing: 0,
            },
          ],
    ),
    pegs: [],
    sources: [],
    consumers: [],
  };
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
