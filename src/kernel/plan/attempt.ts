import type { Day } from '../measure/day.js';
import { type Job, keepsDaysOf } from './job.js';
import { minutesTaken, minutesTakenByFew } from './minutes-taken.js';
import type { Model } from './model.js';
import type { Netted } from './netting.js';
import type { Guide, Placed, ScheduleJob, ScheduleSetting } from './schedule-job.js';
import { Scheduler } from './schedule.js';
import { serviceOf } from './service.js';
import { compareService, type Service } from './terms.js';
import type { Arrival } from './arrival.js';
import { drawOnShelf } from './shelf.js';
import type { Planned } from './planned.js';
import { whenOf } from './to-proposal.js';
import { forPartsOfLines } from './within.js';

/** What a plan is made by. */
export interface Attempted {
  netted: Netted;
  /** Batches that took only the room which all others left. */
  last: ReadonlySet<Job>;
  arrived: ReadonlyMap<Job, Arrival>;
}

/** A plan with what it was made by, and how well it serves. */
export interface Attempt extends Planned, Attempted {
  scheduler: Scheduler;
  guide: Guide;
  service: Service;
  /** How well the same batches serve before a better order of them is looked for. */
  unsearched: Service;
}

/** How plans that are made by something else are tried. */
export interface Trial<What> {
  mayTry(): boolean;
  /** To serve better than the best so far; null where the batches stay the same. */
  tryWith(what: What, best: Attempt): Attempt | null;
  /** Whether it serves better than the best so far, and all that it says is so. */
  isTaken(attempt: Attempt, best: Attempt): boolean;
}

/** Batches as they are due, and what each then takes off the shelf. */
export function attemptAsDue(model: Model, attempted: Attempted): Attempt {
  const scheduler = new Scheduler(scheduleJobs(attempted), settingOf(model));
  return attemptBy(model, attempted, scheduler, scheduler.asDue);
}

/** The same batches by a guide of others that waited for other things. */
export function attemptWith(model: Model, attempted: Attempted, guide: Guide): Attempt {
  const scheduler = new Scheduler(scheduleJobs(attempted), settingOf(model));
  return attemptBy(model, attempted, scheduler, { ...guide, comes: scheduler.jobs });
}

/** Batches placed by a guide, what each then takes off the shelf, and how well that serves. */
export function attemptBy(
  model: Model,
  { netted, last, arrived }: Attempted,
  scheduler: Scheduler,
  guide: Guide,
  placings: readonly Placed[] = scheduler.place(guide),
): Attempt {
  const placed = new Map(netted.jobs.map((job, i) => [job, placings[i]!]));
  const shelf = drawOnShelf(netted, (job) => whenOf(placed, job));
  const planned = { netted, placed, shelf };
  const service = serviceOf(model, planned);
  return { ...planned, last, arrived, scheduler, guide, service, unsearched: service };
}

/** The same batches by another guide; where that places them all as they were, everything else is as it was too. */
export function attemptAnew(model: Model, attempt: Attempt, guide: Guide): Attempt {
  const { netted, placed, scheduler, service } = attempt;
  const placings = scheduler.place(guide);
  const isAsBefore = netted.jobs.every((job, i) => isSamePlace(placings[i]!, placed.get(job)!));
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (!isAsBefore) return attemptBy(model, attempt, scheduler, guide, placings);
  return { ...attempt, guide, unsearched: service };
}

const isSamePlace = (one: Placed, other: Placed): boolean =>
  one.day === other.day &&
  one.vessel === other.vessel &&
  one.emptied === other.emptied &&
  one.heldUpBy === other.heldUpBy &&
  one.roomOn === other.roomOn;

export const isBetter = (one: Attempt, other: Attempt): boolean => compareService(one.service, other.service) < 0;

export const isNoWorse = (one: Attempt, other: Attempt): boolean => compareService(one.service, other.service) <= 0;

function scheduleJobs({ netted, last, arrived }: Attempted): ScheduleJob[] {
  const index = new Map(netted.jobs.map((job, i) => [job, i]));
  // nobody fills what lacks its bottle, so the bulk does not stand in its vessel for it
  const isHeld = (held: boolean, consumer: Job): boolean => held && !last.has(consumer);
  const parts = forPartsOfLines(netted);
  return netted.jobs.map((job) => {
    const { earliest, waitsFor, goodUntil } = arrived.get(job)!;
    return {
      key: job.key,
      item: job.item.code,
      tier: last.has(job) || parts.has(job) || job.isLater ? 2 : job.tier,
      minutes: job.minutes,
      skill: job.formula.skill,
      restDays: job.formula.restDays,
      vesselKind: job.formula.vesselKind,
      putInMg: job.putInMg,
      earliest,
      waitsFor,
      goodUntil,
      freshFrom: freshFrom(job),
      keepsDays: keepsDaysOf(job.item),
      latest: job.latest,
      sources: job.sources.map(({ job: source, held, after }) => ({
        job: index.get(source)!,
        held: isHeld(held, job),
        after,
      })),
      consumers: job.consumers.map(({ job: consumer, held, after }) => ({
        job: index.get(consumer)!,
        held: isHeld(held, consumer),
        after,
      })),
    };
  });
}

const settings = new WeakMap<Model, ScheduleSetting>();

/** The same for all attempts of a model, which then share what follows from it. */
function settingOf(model: Model): ScheduleSetting {
  const known = settings.get(model) ?? newSetting(model);
  settings.set(model, known);
  return known;
}

const newSetting = (model: Model): ScheduleSetting => ({
  start: model.start,
  openMinutes: model.openMinutes,
  longestDay: model.longestDay,
  usedMinutes: minutesTaken(model),
  crew: model.crew,
  usedByFew: minutesTakenByFew(model),
  vessels: model.vessels,
  washing: model.washing,
});

/** The first day on which a batch can be made to keep until every order it is for has gone. */
const freshFrom = (job: Job): Day =>
  Math.max(...job.pegs.map(({ line }) => (line?.until ?? Number.NEGATIVE_INFINITY) - keepsDaysOf(job.item)));

/** Batches that late lines are filled from, and what these are made of, each once. */
export function jobsOfLate({ netted, placed }: Planned): Job[] {
  const jobs = new Set<Job>();
  for (const job of netted.jobs) {
    const ready = placed.get(job)!.ready ?? Number.POSITIVE_INFINITY;
    if (!job.pegs.some(({ line }) => line && ready > line.needBy)) continue;
    jobs.add(job);
    for (const { job: source } of job.sources) jobs.add(source);
  }
  return [...jobs];
}
