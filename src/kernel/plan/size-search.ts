import type { Day } from '../measure/day.js';
import { roundDownTo } from '../measure/ratio.js';
import { type Attempt, jobsOfLate, type Trial } from './attempt.js';
import type { Job } from './job.js';
import { WINDOW_DAYS } from './lot-sizing.js';
import { type Few, isTheirs, minutesOpen } from './crew.js';
import { minutesTaken } from './minutes-taken.js';
import { type ItemModel, largestIn, type Model, smallestBatch } from './model.js';
import type { SizeChoice } from './netting.js';
import { goSoonest } from './search.js';
import { endingLots } from './waste.js';

/** For how many days one batch may be made: each need alone, some days, or weeks at once. */
const LONGEST_WINDOW = 28;
const WINDOWS = [0, 3, WINDOW_DAYS, 14, LONGEST_WINDOW];

/** So many at most of the sizes that fit into what is left of days and vessels. */
const FITTING_MOST = 6;

/** In other orders than that in which they are due. */
const MIXES = [1, 2, 3, 4, 5, 6];

type Sizes = ReadonlyMap<string, SizeChoice>;

/** A plan, and how its batches are sized where it is not as usual. */
export interface Sized {
  attempt: Attempt;
  sizes: Sizes;
}

/**
 * Tries other sizes of the batches of one item after the other, as long as that serves orders better: made for fewer days or
 * for more at once, in two, for other needs together, or so small that a smaller vessel holds them, or what is left
 * of a day or of a vessel.
 */
export function searchSizes(model: Model, first: Sized, trial: Trial<Sizes>): Sized {
  let best = first;
  // nothing late could go sooner: only a lot that ends is at stake
  let isForLots = goSoonest(model, first.attempt);
  for (let isFound = true; isFound;) {
    isFound = false;
    for (const item of isForLots ? usersOfEndingLots(model, best.attempt) : itemsOf(model, best.attempt))
      for (const choice of choicesFor(model, item, best.attempt, isForLots)) {
        if (isSame(best.sizes.get(item.code), choice)) continue;
        const sizes = new Map(best.sizes).set(item.code, choice);
        if (!trial.mayTry()) return best;
        const attempt = trial.tryWith(sizes, best.attempt);
        if (attempt === null || !trial.isTaken(attempt, best.attempt)) continue;
        best = { attempt, sizes };
        isForLots = goSoonest(model, attempt);
        isFound = true;
        break;
      }
  }
  return best;
}

function usersOfEndingLots(model: Model, attempt: Attempt): Iterable<ItemModel> {
  const ending = new Set(endingLots(model, attempt).map(({ row }) => row.item));
  const users = attempt.netted.jobs.filter(({ inputs }) => inputs.some(({ item }) => ending.has(item.code)));
  return new Set(users.map(({ item }) => item));
}

/** What is made, those first that late lines wait for. */
const itemsOf = (model: Model, attempt: Attempt): ItemModel[] => {
  const late = new Set(jobsOfLate(attempt).map(({ item }) => item));
  const made = new Set(attempt.netted.jobs.map(({ item }) => item));
  return [...late, ...model.made.filter((item) => made.has(item) && !late.has(item))];
};

function choicesFor(model: Model, item: ItemModel, attempt: Attempt, isForLots: boolean): SizeChoice[] {
  const { largestBatch: usual } = item;
  const formula = item.formula!;
  const mosts = new Set<number>();
  for (const { kind, capacityMg } of model.snapshot.vessels)
    if (kind === formula.vesselKind) mosts.add(largestIn(model, formula, capacityMg));
  // what is made at once in two, one of which may fit into the days before its lot ends
  if (isForLots) mosts.add(Math.ceil(largestOf(attempt, item) / 2));
  else for (const most of fittingSizes(model, item, attempt)) mosts.add(most);
  const smaller = [...mosts].filter((most) => most >= smallestBatch(item) && most < usual);
  return [
    ...WINDOWS.map((windowDays) => ({ windowDays, most: usual, mix: 0 })),
    ...smaller.flatMap((most) => WINDOWS.map((windowDays) => ({ windowDays, most, mix: 0 }))),
    ...(formula.vesselKind === null ? [] : MIXES).map((mix) => ({ windowDays: LONGEST_WINDOW, most: usual, mix })),
  ];
}

const largestOf = ({ netted }: Attempt, item: ItemModel): number =>
  netted.jobs.reduce((most, job) => (job.item === item ? Math.max(most, job.output) : most), 0);

/** What fits into what a day, or a vessel it is filled from, has left; and what its largest batch is without that. */
function fittingSizes(model: Model, item: ItemModel, attempt: Attempt): number[] {
  const { minutesBatch, secondsUnit, batchMultiple } = item.formula!;
  const largest = largestOf(attempt, item);
  const withinDays = minutesLeftFor(model, item, attempt).map(
    (minutes) => (60 * (minutes - minutesBatch)) / secondsUnit,
  );
  const sizes = new Set<number>();
  for (const amount of [...withinVessels(model, item, attempt), ...withinDays]) {
    const size = roundDownTo(Math.floor(amount), batchMultiple);
    if (size > 0 && size < largest) sizes.add(size).add(largest - size);
  }
  return [...sizes].sort((a, b) => b - a).slice(0, FITTING_MOST);
}

/** How much of an item can be filled from one pour, in each vessel, beside what others draw from it; or beside all of it. */
function withinVessels(model: Model, item: ItemModel, { netted }: Attempt): number[] {
  const amounts: number[] = [];
  for (const { pour, each } of poursFor(item, netted.jobs)) {
    const drawn = pour.pegs.reduce((sum, peg) => sum + (peg.job?.item === item ? peg.quantity : 0), 0);
    for (const { kind, capacityMg } of model.snapshot.vessels) {
      if (kind !== pour.formula.vesselKind) continue;
      const left = largestIn(model, pour.formula, capacityMg) - pour.output;
      amounts.push((left + drawn) / each, left / each);
    }
  }
  return amounts;
}

/** Pours of what batches of an item are filled from, and how much of it each of these takes for one unit. */
function* poursFor(item: ItemModel, jobs: readonly Job[]): Generator<{ pour: Job; each: number }> {
  for (const job of jobs)
    if (job.item === item)
      for (const input of job.inputs)
        for (const pour of jobs)
          if (pour.item === input.item && pour.formula.vesselKind !== null)
            yield { pour, each: input.quantity / job.output };
}

/** What each day has left for an item at the bench, until the last on which it is due. */
function minutesLeftFor(model: Model, item: ItemModel, attempt: Attempt): number[] {
  const few = model.crew?.fewFor(item.formula!.skill) ?? [];
  const days = minutesLeftOf(model, item, attempt);
  for (const some of few)
    for (const [at, minutes] of minutesLeftOf(model, item, attempt, some).entries())
      days[at] = Math.min(days[at]!, minutes);
  return days;
}

/** What each day has left of everybody's minutes, or of those of `few`. */
function minutesLeftOf(model: Model, item: ItemModel, { netted, placed }: Attempt, few?: Few): number[] {
  const taken = minutesTaken(model, few);
  let last: Day = model.start;
  for (const job of netted.jobs) {
    const { day } = placed.get(job)!;
    const isTaken = !few || isTheirs(few, job.formula.skill);
    if (day !== null && isTaken) taken.set(day, (taken.get(day) ?? 0) + job.minutes);
    if (job.item === item) last = Math.max(last, job.latest);
  }
  return Array.from({ length: last + 1 - model.start }, (_, n) => {
    const day = model.start + n;
    return minutesOpen(model, day, few) - (taken.get(day) ?? 0);
  });
}

const isSame = (one: SizeChoice | undefined, { windowDays, most, mix }: SizeChoice): boolean =>
  one?.windowDays === windowDays && one.most === most && one.mix === mix;
