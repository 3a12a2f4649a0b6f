import { atRisk, type PlannedUse } from './at-risk.js';
import { type Day, isoOf } from '../measure/day.js';
import { minutesTaken } from './minutes-taken.js';
import type { Model } from './model.js';
import type { Job, JobInput } from './job.js';
import { toCovers } from './line-covers.js';
import { keptBack } from './line-waits.js';
import type { Netted } from './netting.js';
import type { Planned } from './planned.js';
import { push } from './pool.js';
import type { BatchInput, Decant, MaterialNeed, Proposal, ProposedBatch, Taken } from './proposal.js';
import type { Placed } from './schedule-job.js';
import { needDay, type ShelfPlan, wantedOn, type When } from './shelf.js';
import { shortfalls } from './shortfall.js';
import { byText } from '../measure/text-order.js';
import { type Poured, washedInAll, type WashedInAll } from './washed.js';

/** When a batch is made and ready; null where no day was found. */
export function whenOf(placed: Map<Job, Placed>, job: Job): When | null {
  const at = placed.get(job);
  return at && at.day !== null && at.ready !== null ? { day: at.day, ready: at.ready } : null;
}

/** A plan as rows in a fixed order, without ids and instants. */
export function toProposal(model: Model, planned: Planned): Proposal {
  const { netted, placed, shelf } = planned;
  const when = (job: Job): When | null => whenOf(placed, job);
  const inVessels = byVessel(placed);
  const washed = washedInAll(model, pouredOf(placed));
  const batches = netted.jobs
    .map((job) => withWashing(toBatch(model, job, planned, inVessels), washed))
    .sort((a, b) => byText(a.day ?? '9999', b.day ?? '9999') || byText(a.key, b.key));
  return {
    today: model.snapshot.today,
    weekStart: model.snapshot.weekStart,
    weekEnd: isoOf(model.weekEnd),
    batches,
    lines: toCovers(model, planned),
    needs: materialNeeds(model, planned),
    shortfalls: shortfalls(model, netted.jobs, netted.lines, shelf, when),
    atRisk: atRisk(model, plannedUses(model, planned)),
    days: dayLoads(model, batches, washed),
    ...rewashedOf(washed),
    ...fullOf(model, netted),
  };
}

/** Where and when batches stand in vessels. */
export function* pouredOf(placed: Iterable<readonly [Job, Placed]>): Generator<Poured> {
  for (const [job, { vessel, day, emptied }] of placed)
    yield { key: job.key, item: job.item.code, vessel, day, emptied };
}

/** The batch with the minutes of washing that it needs. */
function withWashing(batch: ProposedBatch, { planned }: WashedInAll): ProposedBatch {
  const washed = planned.get(batch.key);
  if (!washed) return batch;
  const { minutes, after } = washed;
  return { ...batch, minutes: batch.minutes + minutes, wash: { minutes, after } };
}

function rewashedOf({ making }: WashedInAll): Pick<Proposal, 'rewashed'> {
  const rewashed = [...making.values()]
    .map(({ key, day, minutes, more, after }) => ({ batch: key, day: isoOf(day), minutes, more, after }))
    .sort((a, b) => byText(a.batch, b.batch));
  return rewashed.length > 0 ? { rewashed } : {};
}

/** What the plan says where it holds no more; nothing where it left nothing out. */
function fullOf({ batchesMost }: Model, { lines, refillsLeftOut }: Netted): Pick<Proposal, 'full'> {
  const isFull = refillsLeftOut.length > 0 || lines.some(({ leftOut }) => leftOut > 0);
  return isFull ? { full: { batchesMost, refills: refillsLeftOut.sort((a, b) => byText(a.item, b.item)) } } : {};
}

/** What stands in each vessel, first poured first. */
function byVessel(placed: ReadonlyMap<Job, Placed>): Map<string, [Job, Placed][]> {
  const stays = new Map<string, [Job, Placed][]>();
  for (const [job, at] of placed) if (at.vessel !== null && at.day !== null) push(stays, at.vessel, [job, at]);
  for (const list of stays.values()) list.sort(([a, x], [b, y]) => x.day! - y.day! || byText(a.key, b.key));
  return stays;
}

function toBatch(
  model: Model,
  job: Job,
  { placed, shelf }: Planned,
  inVessels: ReadonlyMap<string, [Job, Placed][]>,
): ProposedBatch {
  const at = placed.get(job)!;
  const life = job.item.row.shelfLifeDays;
  return {
    key: job.key,
    item: job.item.code,
    formulaVersion: job.formula.version,
    output: job.output,
    belowLeast: job.output < job.formula.batchMin ? job.item.boundBy : null,
    putInMg: job.putInMg,
    day: isoOrNull(at.day),
    readyOn: isoOrNull(at.ready),
    emptiedOn: isoOrNull(at.emptied),
    vessel: at.vessel,
    decant: decantOf(job, at, placed, inVessels),
    minutes: job.minutes,
    restDays: job.formula.restDays,
    expiresOn: at.day === null || life === null ? null : isoOf(at.day + life),
    inWeek: at.day !== null && model.weekStart <= at.day && at.day <= model.weekEnd,
    latestDay: isoOf(job.latest),
    forOrders: job.forOrders,
    // what lacks something waits for that, wherever it stands meanwhile
    heldUpBy: at.day !== null && shelf.short.has(job) ? null : at.heldUpBy,
    short: shelf.short.has(job),
    inputs: job.inputs.map((input) => toInput(job, input, at, shelf)),
    madeFor: job.pegs.map((peg) => ({
      for: peg.line ? 'line' : peg.job ? 'batch' : 'stock',
      key: peg.line?.row.key ?? peg.job?.key ?? job.item.code,
      quantity: peg.quantity,
    })),
  };
}

/** What is drawn after its vessel has been emptied stands in another container until then. */
function decantOf(
  job: Job,
  { vessel, emptied }: Placed,
  placed: ReadonlyMap<Job, Placed>,
  inVessels: ReadonlyMap<string, [Job, Placed][]>,
): Decant | null {
  if (vessel === null || emptied === null) return null;
  const days = job.consumers.map(({ job: consumer, after }) => (placed.get(consumer)!.day ?? emptied) + after);
  const last = Math.max(emptied, ...days);
  if (last === emptied) return null;
  const next = inVessels.get(vessel)!.find(([, { day }]) => emptied < day! && day! <= last);
  return { on: isoOf(emptied), for: next?.[0].key ?? null };
}

function toInput(job: Job, input: JobInput, at: Placed, shelf: ShelfPlan): BatchInput {
  const fromShelf = shelf.inputs.get(input);
  const givenBack = shelf.short.has(job);
  return {
    position: input.position,
    item: input.item.code,
    step: input.step,
    needOn: at.day === null ? null : isoOf(needDay(input, at.day, at.ready!)),
    quantity: input.quantity,
    stocked: input.item.row.stocked,
    belowScale: input.belowScale,
    taken: givenBack
      ? []
      : [
          ...(fromShelf?.taken ?? []),
          ...input.fromMaking.map(({ supply, quantity }) => ({ from: 'making' as const, key: supply.key, quantity })),
          ...input.fromJobs.map(({ job: source, quantity }) => ({ from: 'batch' as const, key: source.key, quantity })),
        ],
    missing: input.missing + (fromShelf?.missing ?? 0),
  };
}

/** Everything the plan takes off the shelf, with its day. */
function plannedUses(model: Model, planned: Planned): PlannedUse[] {
  const { netted, placed, shelf } = planned;
  const back = keptBack(model, planned);
  const uses: PlannedUse[] = [];
  const add = (item: string, day: Day, taken: readonly Taken[]): void => {
    for (const { from, key, quantity } of taken)
      if (from !== 'batch') uses.push({ item, day, quantity, lot: from === 'lot' ? key : null });
  };
  for (const job of netted.jobs) {
    const at = placed.get(job)!;
    if (at.day === null || shelf.short.has(job)) continue;
    for (const input of job.inputs)
      add(input.item.code, needDay(input, at.day, at.ready!), shelf.inputs.get(input)?.taken ?? []);
  }
  for (const line of netted.lines)
    if (!back.has(line)) add(line.item.code, line.shipBy, [...line.taken, ...(shelf.lines.get(line)?.taken ?? [])]);
  return uses;
}

function materialNeeds(model: Model, { netted, placed, shelf }: Planned): MaterialNeed[] {
  const needs = new Map<string, MaterialNeed & { days: Map<Day, number> }>();
  const add = (item: string, day: Day, quantity: number, taken: readonly Taken[], missing: number): void => {
    let need = needs.get(item);
    if (!need) {
      need = { item, quantity: 0, inWeek: 0, fromLots: 0, fromDeliveries: 0, missing: 0, byDay: [], days: new Map() };
      needs.set(item, need);
    }
    need.quantity += quantity;
    if (model.weekStart <= day && day <= model.weekEnd) need.inWeek += quantity;
    for (const t of taken) {
      if (t.from === 'lot') need.fromLots += t.quantity;
      if (t.from === 'delivery') need.fromDeliveries += t.quantity;
    }
    need.missing += missing;
    need.days.set(day, (need.days.get(day) ?? 0) + quantity);
  };
  for (const job of netted.jobs) {
    for (const input of job.inputs) {
      if (input.item.row.kind !== 'material' || !input.item.row.stocked) continue;
      const day = wantedOn(model, job, input, whenOf(placed, job), shelf.short.has(job));
      const take = shelf.inputs.get(input);
      add(input.item.code, day, input.quantity, take?.taken ?? [], take?.missing ?? 0);
    }
  }
  for (const line of netted.lines) {
    const take = shelf.lines.get(line);
    if (take) add(line.item.code, line.goes, line.fromShelf, take.taken, take.missing);
  }
  return [...needs.values()]
    .sort((a, b) => byText(a.item, b.item))
    .map(({ days, ...need }) => ({
      ...need,
      byDay: [...days].sort(([a], [b]) => a - b).map(([day, quantity]) => ({ day: isoOf(day), quantity })),
    }));
}

function dayLoads(model: Model, batches: readonly ProposedBatch[], { making }: WashedInAll): Proposal['days'] {
  const taken = minutesTaken(model);
  for (const { day, more } of making.values()) taken.set(day, (taken.get(day) ?? 0) + more);
  return Array.from({ length: 7 }, (_, i) => {
    const day = model.weekStart + i;
    const iso = isoOf(day);
    const planned = batches.reduce((sum, batch) => sum + (batch.day === iso ? batch.minutes : 0), 0);
    return { day: iso, minutesOpen: model.openMinutes(day), minutesUsed: planned + (taken.get(day) ?? 0) };
  });
}

const isoOrNull = (day: Day | null): string | null => (day === null ? null : isoOf(day));
