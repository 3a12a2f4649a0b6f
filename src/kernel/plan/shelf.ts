import { allocateInOrder, type Demand } from './allocation.js';
import type { Day } from '../measure/day.js';
import type { Model } from './model.js';
import { byDue, dueDay, type Job, type JobInput, type LineState } from './job.js';
import type { Netted } from './netting.js';
import { type PoolSupply, push, Remaining } from './pool.js';
import type { Taken } from './proposal.js';
import { mulDivCeil } from '../measure/ratio.js';

/** What one need of an item takes from the shelf, and what of it nothing covers. */
export interface ShelfTake {
  taken: Taken[];
  missing: number;
}

/** By input and by order line, for everything that draws on lots and deliveries. */
export interface ShelfPlan {
  inputs: Map<JobInput, ShelfTake>;
  lines: Map<LineState, ShelfTake>;
  /** Batches that miss something, or are made from one that does. */
  short: Set<Job>;
}

interface Draw {
  demand: Demand;
  into: ShelfTake;
}

/** The day an input is taken: packing waits for the rest, everything else is taken when the batch is made. */
export function needDay(input: JobInput, day: Day, ready: Day): Day {
  return input.step === 'pack' ? ready : day;
}

/**
 * The day an input should be there. What lacks something stands wherever others leave room, so that it is the day on which
 * its batch would be in time that counts.
 */
export function wantedOn(model: Model, job: Job, input: JobInput, when: When | null, isShort: boolean): Day {
  const day = when && !(isShort && job.tier === 0) ? when.day : dueDay(model, job);
  return needDay(input, day, day + job.formula.restDays);
}

/** A batch's day and the day it is ready. */
export interface When {
  day: Day;
  ready: Day;
}

/**
 * Gives lots and deliveries to everything that draws on the shelf, customers' needs first. A batch that misses an input
 * gives its others back, and then whoever can be served completely with them is.
 * `whenOf` answers a batch's day, null where it has none: such a batch draws nothing and counts as short.
 */
export function drawOnShelf(netted: Netted, whenOf: (job: Job) => When | null): ShelfPlan {
  const plan: ShelfPlan = { inputs: new Map(), lines: new Map(), short: new Set() };
  const everything = drawAll(netted, whenOf, new Set());
  const short = withConsumers(netted.jobs.filter((job) => !isServed(job, everything, whenOf)));
  // what goes back is offered to customers' batches first, so stock waits for what they leave
  if (short.size > 0) for (const job of netted.jobs) if (job.tier === 1) short.add(job);
  const kept = short.size === 0 ? everything : drawAll(netted, whenOf, short);
  plan.lines = kept.lines;
  plan.inputs = kept.inputs;
  const isAnyLineShort = [...kept.lines.values()].some((take) => take.missing > 0);
  if (short.size === 0 && !isAnyLineShort) return plan;
  const left = leftOver(netted, kept);
  for (const [line, take] of kept.lines) drawLate(line, take, left.of(line.item.code));
  const inOrder = [...short].sort(byDue);
  for (const job of deepestFirst(inOrder)) {
    const when = whenOf(job);
    const couldBe = job.inputs.every((input) => input.missing === 0) && !job.sources.some(({ job: s }) => short.has(s));
    if (!when || !couldBe) continue;
    const tried = drawFor(job, when, left);
    if ([...tried.values()].some((take) => take.missing > 0)) continue;
    for (const [input, take] of tried) plan.inputs.set(input, take);
    spend(job, tried, left);
    short.delete(job);
  }
  // what is still short shows what would have to be bought for all of it together
  for (const job of deepestFirst(inOrder)) {
    const when = whenOf(job);
    if (!short.has(job) || !when) continue;
    const tried = drawFor(job, when, left);
    spend(job, tried, left);
    for (const [input, take] of tried) plan.inputs.set(input, { taken: [], missing: take.missing });
  }
  plan.short = short;
  return plan;
}

function drawAll(
  netted: Netted,
  whenOf: (job: Job) => When | null,
  leftOut: ReadonlySet<Job>,
): Omit<ShelfPlan, 'short'> {
  const draws = new Map<string, Draw[]>();
  const plan = { inputs: new Map<JobInput, ShelfTake>(), lines: new Map<LineState, ShelfTake>() };
  for (const line of netted.lines)
    if (line.fromShelf > 0) {
      const demand: Demand = { quantity: line.fromShelf, day: line.goes, until: line.until, tier: line.isLast ? 1 : 0 };
      put(draws, line.item.code, { demand, into: takeIn(plan.lines, line) });
    }
  for (const job of netted.jobs) {
    const when = whenOf(job);
    if (!when || leftOut.has(job)) continue;
    for (const input of job.inputs) {
      if (input.fromShelf === 0 || !input.item.row.stocked) continue;
      for (const demand of demandsOf(job, input, when))
        put(draws, input.item.code, { demand, into: takeIn(plan.inputs, input) });
    }
  }
  for (const [code, wanted] of draws) drawItem(shelfOf(netted, code), wanted);
  return plan;
}

/**
 * An input of a batch that also fills stock is two needs: what customers wait for, and the rest, without which their
 * batch cannot be made either.
 */
function demandsOf(job: Job, input: JobInput, when: When): Demand[] {
  const day = needDay(input, when.day, when.ready);
  const forOrders = job.tier === 1 ? 0 : mulDivCeil(input.fromShelf, job.forOrders, job.output);
  const demands: Demand[] = [];
  const isFirst = job.tier === 0 && !job.isApart;
  if (forOrders > 0) demands.push({ quantity: forOrders, day, until: day, tier: isFirst ? 0 : 1 });
  if (forOrders < input.fromShelf)
    demands.push({ quantity: input.fromShelf - forOrders, day, until: day, tier: isFirst ? 1 : 2 });
  return demands;
}

/** What comes after the day it should ship is late, not missing; it still ships with the life that is owed. */
function drawLate(line: LineState, take: ShelfTake, left: readonly PoolSupply[]): void {
  const owed = line.item.row.owedLifeDays;
  for (const supply of [...left].sort((a, b) => a.from - b.from)) {
    if (take.missing === 0) return;
    if (supply.from <= line.shipBy || supply.until < supply.from + owed) continue;
    const quantity = Math.min(take.missing, supply.quantity);
    supply.quantity -= quantity;
    take.missing -= quantity;
    takeFrom(take, supply, quantity);
  }
}

function shelfOf({ pool }: Netted, code: string): readonly PoolSupply[] {
  const supplies = pool.get(code) ?? [];
  const isThere = ({ kind }: PoolSupply): boolean => kind !== 'making';
  // Stryker disable next-line ConditionalExpression: it is only quicker
  return supplies.every(isThere) ? supplies : supplies.filter(isThere);
}

function drawItem(supplies: readonly PoolSupply[], wanted: readonly Draw[]): void {
  for (const draw of wanted) draw.into.missing += draw.demand.quantity;
  const takes = allocateInOrder(
    supplies,
    wanted.map((draw) => draw.demand),
  );
  for (const take of takes) {
    const { into } = wanted[take.demand]!;
    const supply = supplies[take.supply]!;
    into.missing -= take.quantity;
    takeFrom(into, supply, take.quantity);
  }
}

function takeFrom({ taken }: ShelfTake, { kind, key }: PoolSupply, quantity: number): void {
  const same = taken.find((t) => t.from === kind && t.key === key);
  if (same) same.quantity += quantity;
  else taken.push({ from: kind, key, quantity });
}

function isServed(job: Job, plan: Omit<ShelfPlan, 'short'>, whenOf: (job: Job) => When | null): boolean {
  return (
    whenOf(job) !== null &&
    job.inputs.every((input) => input.missing === 0 && (plan.inputs.get(input)?.missing ?? 0) === 0)
  );
}

/** A batch made from one that cannot be made cannot be made either. */
function withConsumers(missing: readonly Job[]): Set<Job> {
  const short = new Set<Job>();
  const add = (job: Job): void => {
    if (short.has(job)) return;
    short.add(job);
    for (const consumer of job.consumers) add(consumer.job);
  };
  missing.forEach(add);
  return short;
}

const deepestFirst = (jobs: readonly Job[]): Job[] =>
  [...jobs].sort((a, b) => a.tier - b.tier || Number(a.isApart) - Number(b.isApart) || b.item.level - a.item.level);

/** What lots and deliveries have left of each item; nothing of what is all taken. */
export function leftOver(netted: Netted, plan: Omit<ShelfPlan, 'short'>, order?: SupplyOrder): Remaining {
  const taken = new Map<string, ShelfTake[]>();
  for (const [input, take] of plan.inputs) push(taken, input.item.code, take);
  for (const [line, take] of plan.lines) push(taken, line.item.code, take);
  return new Remaining(
    (code) => shelfOf(netted, code),
    (supplies, code) => {
      for (const take of taken.get(code) ?? []) subtractFrom(supplies, take.taken);
      const left = supplies.filter(({ quantity }) => quantity > 0);
      return order ? left.sort(order) : left;
    },
  );
}

type SupplyOrder = (a: PoolSupply, b: PoolSupply) => number;

function subtractFrom(supplies: PoolSupply[], taken: readonly Taken[]): void {
  for (const { from, key, quantity } of taken) {
    const supply = supplies.find((s) => s.kind === from && s.key === key);
    if (supply) supply.quantity -= quantity;
  }
}

/** What one batch could take from what is left. */
function drawFor(job: Job, when: When, left: Remaining): Map<JobInput, ShelfTake> {
  const tried = new Map<JobInput, ShelfTake>();
  const draws = new Map<string, Draw[]>();
  for (const input of job.inputs)
    if (input.fromShelf > 0 && input.item.row.stocked)
      for (const demand of demandsOf(job, input, when))
        put(draws, input.item.code, { demand, into: takeIn(tried, input) });
  for (const [code, wanted] of draws) drawItem(left.of(code), wanted);
  return tried;
}

function spend(job: Job, tried: Map<JobInput, ShelfTake>, left: Remaining): void {
  for (const input of job.inputs) subtractFrom(left.of(input.item.code), tried.get(input)?.taken ?? []);
}

function takeIn<K>(map: Map<K, ShelfTake>, key: K): ShelfTake {
  let take = map.get(key);
  if (!take) map.set(key, (take = { taken: [], missing: 0 }));
  return take;
}

function put(map: Map<string, Draw[]>, code: string, draw: Draw): void {
  const list = map.get(code);
  if (list) list.push(draw);
  else map.set(code, [draw]);
}
