import type { Day } from '../measure/day.js';
import { Takes } from './arrival.js';
import type { Attempt } from './attempt.js';
import type { Job } from './job.js';
import type { Model } from './model.js';
import { endingLots } from './waste.js';
import { Figures } from './random.js';
import type { Guide, Placed, ScheduleJob } from './schedule-job.js';
import type { Scheduler } from './schedule.js';
import { bestSequence } from './sequence.js';
import type { Waiting } from './sequence-chains.js';
import { type LinePart, type LineWait, partsOf, readyOf } from './line-waits.js';
import { type LineCosts, type PlaceCosts, placeCosts, ServiceSum } from './service.js';
import { guideAsShown } from './as-shown.js';
import { compareService, inOrder, type Service, type Term, termsBesidePlaces, termsOfLines } from './terms.js';

/** A step is a batch that is placed once more; so many are taken for one search, and so many for each batch it has. */
export interface StepsLeft {
  stepsLeft: number;
}

export interface SearchWork extends StepsLeft {
  /** How many orders of pours are judged by themselves, for each two of them. */
  ordersAPair: number;
}

/** After so many tries that bettered nothing, the best is shaken. */
const TRIES_BEFORE_SHAKING = 60;
const SHAKES = 4;

/** The guide by which orders are served best, and how well; batches are then as late as that allows. */
interface Found {
  guide: Guide;
  placings: Placed[];
  cost: Service;
}

/**
 * Looks for a better order of the batches, for those that should be early and for other vessels, until every line is as
 * early as it can be or the steps are spent. Answers the best guide, null where it found none that is better.
 */
export function searchGuide(model: Model, attempt: Attempt, work: SearchWork): Guide | null {
  const question = questionOf(model, attempt);
  if (question.lines.length === 0) return null;
  const { scheduler } = attempt;
  const perTry = Math.max(1, scheduler.jobs.length);
  const judge = (guide: Guide): Found => {
    work.stepsLeft -= perTry;
    const placings = scheduler.place(guide);
    return { guide, placings, cost: costOf(question, scheduler.jobs, placings) };
  };
  const first = judge(scheduler.asDue);
  const isBest = ({ cost }: Found): boolean => compareService(question.least, cost) >= 0;
  if (isBest(first)) return null;
  let best = first;
  const shown = guideAsShown(model.shown, question.jobOf, scheduler.asDue);
  if (shown && work.stepsLeft >= perTry) {
    const stays = judge(shown);
    if (compareService(stays.cost, best.cost) < 0) best = stays;
    if (best === stays && isBest(best)) return shown;
  }
  const tryEarly = (order: readonly number[]): Found => {
    const early = judge({ ...scheduler.asDue, order, early: scheduler.jobs.map(() => true) });
    if (compareService(early.cost, best.cost) < 0) best = early;
    return early;
  };
  if (work.stepsLeft >= perTry) {
    const { order } = scheduler.asDue;
    const { cost } = tryEarly(order);
    const waiting = waitingIn(model, question, scheduler.jobs);
    const seen = waiting.terms.map((term) => cost[question.terms.indexOf(term)]!);
    const sequence = bestSequence(waiting, { order, cost: seen }, work.ordersAPair);
    // Stryker disable next-line EqualityOperator: a try more or less
    if (sequence && work.stepsLeft >= perTry) tryEarly(sequence);
  }
  const figures = new Figures();
  let current = best;
  let idle = 0;
  while (work.stepsLeft >= perTry) {
    // Stryker disable next-line EqualityOperator: a try more or less
    if (isBest(best) && idle > TRIES_BEFORE_SHAKING) break;
    if (idle > TRIES_BEFORE_SHAKING) {
      idle = 0;
      let guide = best.guide;
      // Stryker disable next-line EqualityOperator: a shake more or less
      for (let n = 0; n < SHAKES; n++) guide = changed(guide, best, question, scheduler, figures);
      current = judge(guide);
      continue;
    }
    const other = judge(changed(current.guide, current, question, scheduler, figures));
    const change = compareService(other.cost, current.cost);
    idle = change < 0 ? 0 : idle + 1;
    if (change <= 0) current = other;
    if (compareService(current.cost, best.cost) < 0) best = current;
  }
  return compareService(best.cost, first.cost) < 0 ? best.guide : null;
}

const waitingIn = (
  { vessels, start }: Model,
  { lines, others, terms, least }: Question,
  jobs: readonly ScheduleJob[],
): Waiting => ({
  jobs,
  vessels,
  start,
  others,
  terms: termsBesidePlaces(terms),
  least: termsBesidePlaces(terms).map((term) => least[terms.indexOf(term)]!),
  lines: lines.map(({ line, share, wait: { ready }, jobs: of }) => ({ line, share, ready, jobs: of })),
});

/** Whether nothing expires that could be used, nothing is washed, moved or uneven, and every line goes as soon as it could. */
export const isBestPossible = (model: Model, attempt: Attempt): boolean =>
  goSoonest(model, attempt) &&
  endingLots(model, attempt).length === 0 &&
  (['washing', 'moved', 'uneven'] as const).every((term) => !attempt.service[model.terms.indexOf(term)]);

/** Whether every line that can be covered goes on the first day on which it could, if it had bench and vessels alone. */
export function goSoonest(model: Model, attempt: Attempt): boolean {
  const { least, terms } = questionOf(model, attempt);
  return termsOfLines(terms).every(
    (term) => attempt.service[model.terms.indexOf(term)]! <= least[terms.indexOf(term)]!,
  );
}

/** What the search is about, by places in the list of batches. */
interface Question {
  /** Those that wait for batches. */
  lines: LineJobs[];
  /** What all other lines cost, whatever the order. */
  others: LineCosts;
  /** What orders of the batches are compared by: all but what expires. */
  terms: readonly Term[];
  /** No order of the batches costs less. */
  least: Service;
  jobOf: readonly Job[];
  placeOf: ReadonlyMap<Job, number>;
  takes: Takes;
  besides: (placings: readonly Placed[]) => PlaceCosts;
}

interface LineJobs extends LinePart {
  wait: LineWait;
  jobs: number[];
}

function questionOf(model: Model, attempt: Attempt): Question {
  const { netted, scheduler } = attempt;
  const placeOf = new Map(netted.jobs.map((job, i) => [job, i]));
  const lines: LineJobs[] = [];
  const others = new ServiceSum();
  for (const part of partsOf(model, attempt)) {
    const { line, share, wait } = part;
    if (wait && wait.jobs.length > 0) lines.push({ ...part, wait, jobs: wait.jobs.map((job) => placeOf.get(job)!) });
    else others.add(line, wait && wait.ready, share);
  }
  const takes = new Takes(model, netted);
  const soonestThere = scheduler.jobs.map(({ earliest }) => earliest);
  for (const job of takes.jobs)
    soonestThere[job] = Math.min(soonestThere[job]!, takes.inOrder([job]).get(job)!.earliest);
  const soonest = soonestReady(model, scheduler.jobs, soonestThere);
  const terms = model.terms.filter((term) => term !== 'expires');
  const least = new ServiceSum(others.sum);
  for (const each of lines) least.add(each.line, soonestOf(each, soonest), each.share);
  return {
    lines,
    others: others.sum,
    terms,
    least: inOrder(least.sum, terms),
    jobOf: netted.jobs,
    placeOf,
    takes,
    besides: (placings) => placeCosts(model, () => netted.jobs.map((job, i) => [job, placings[i]!] as const)),
  };
}

const soonestOf = ({ wait, jobs }: LineJobs, soonest: readonly Day[]): Day =>
  Math.max(wait.ready, ...jobs.map((job) => soonest[job]!));

/** The day each batch could be ready at the soonest, if it had bench and vessels alone. */
function soonestReady(model: Model, jobs: readonly ScheduleJob[], soonestThere: readonly Day[]): Day[] {
  const ready: (Day | undefined)[] = [];
  const visit = (index: number): Day => {
    const known = ready[index];
    // Stryker disable next-line ConditionalExpression: it is only quicker
    if (known !== undefined) return known;
    const job = jobs[index]!;
    let day = Math.max(model.start, soonestThere[index]!, job.freshFrom);
    for (const { job: source } of job.sources) day = Math.max(day, visit(source));
    // Stryker disable next-line EqualityOperator: about a month
    for (let n = 0; n < 31 && model.openMinutes(day) === 0; n++) day++;
    return (ready[index] = day + job.restDays);
  };
  return jobs.map((_, index) => visit(index));
}

/** The terms; then days that batches eat of the slack they should have, and then days on which they are made earlier than they must. */
function costOf(
  { lines, others, terms, jobOf, placeOf, besides }: Question,
  jobs: readonly ScheduleJob[],
  placings: readonly Placed[],
): Service {
  const service = new ServiceSum(others);
  const placedOf = (job: Job): Placed => placings[placeOf.get(job)!]!;
  for (const { line, share, wait } of lines) service.add(line, readyOf(wait, placedOf), share);
  let [eaten, early] = [0, 0];
  for (let i = 0; i < jobOf.length; i++) {
    const { latest, tier } = jobs[i]!;
    if (tier !== 0) continue;
    const day = placings[i]!.day ?? latest;
    // Stryker disable next-line EqualityOperator: on the day itself nothing is added
    if (day > latest) eaten += day - latest;
    else early += latest - day;
  }
  return [...inOrder({ ...service.sum, ...besides(placings) }, terms), eaten, early];
}

/** The guide with one thing changed, for a line that is late where there is one. */
function changed(guide: Guide, found: Found, question: Question, scheduler: Scheduler, figures: Figures): Guide {
  const { jobs: takers } = question.takes;
  if (takers.length > 1 && figures.below(8) === 0)
    return takingFirst(guide, takers[figures.below(takers.length)]!, question);
  const late = question.lines.filter(({ line, jobs: of }) =>
    of.some((job) => (found.placings[job]!.ready ?? Number.POSITIVE_INFINITY) > line.shipBy),
  );
  if (late.length === 0) return changedAt(guide, figures.below(scheduler.jobs.length), scheduler.jobs, figures);
  const { jobs: of } = late[figures.below(late.length)]!;
  return changedAt(guide, of[figures.below(of.length)]!, scheduler.jobs, figures);
}

/** What is there before a delivery goes to this batch first. */
function takingFirst(guide: Guide, job: number, { takes }: Question): Guide {
  const before = guide.takes.length > 0 ? guide.takes : takes.jobs;
  const order = [job, ...before.filter((other) => other !== job)];
  const taken = takes.inOrder(order);
  return { ...guide, takes: order, comes: guide.comes.map((comes, place) => taken.get(place) ?? comes) };
}

/** The guide of an attempt with one thing changed, for a batch that should be earlier, or at random. */
export const changedFor = ({ guide, scheduler }: Attempt, job: number, figures: Figures): Guide =>
  changedAt(guide, job, scheduler.jobs, figures);

function changedAt(from: Guide, wanted: number, jobs: readonly ScheduleJob[], figures: Figures): Guide {
  const any = (): number => figures.below(jobs.length);
  const ofWanted = (): number => {
    let job = wanted;
    while (jobs[job]!.sources.length > 0 && figures.below(2) === 0)
      job = jobs[job]!.sources[figures.below(jobs[job]!.sources.length)]!.job;
    return job;
  };
  switch (figures.below(8)) {
    case 0:
    case 1: {
      const job = ofWanted();
      const guide = unpinned(from, job);
      const at = guide.order.indexOf(job);
      return { ...moved(guide, at, figures.below(at + 1)), early: withOne(guide.early, job, true) };
    }
    case 2: {
      const job = ofWanted();
      const at = from.order.indexOf(job);
      return moved(unpinned(from, job), at, at + figures.below(jobs.length - at));
    }
    case 3: {
      const job = any();
      return { ...unpinned(from, job), early: withOne(from.early, job, !from.early[job]) };
    }
    case 4:
      return moved(from, any(), any());
    case 5:
    case 6: {
      const job = any();
      const waits = withOne(from.waits, job, figures.below(2) === 0 ? 0 : figures.below(8));
      return { ...unpinned(from, job), waits, early: withOne(from.early, job, true) };
    }
    default: {
      const job = any();
      return jobs[job]!.vesselKind === null
        ? moved(from, any(), any())
        : { ...unpinned(from, job), leaves: withOne(from.leaves, job, figures.below(4)) };
    }
  }
}

/** The guide in which one batch no longer stays where it was shown. */
const unpinned = (guide: Guide, job: number): Guide =>
  guide.pins?.[job] ? { ...guide, pins: withOne(guide.pins, job, null) } : guide;

function moved(guide: Guide, from: number, to: number): Guide {
  const order = [...guide.order];
  order.splice(to, 0, ...order.splice(from, 1));
  return { ...guide, order };
}

const withOne = <Value>(list: readonly Value[], index: number, value: Value): Value[] =>
  list.map((one, i) => (i === index ? value : one));
