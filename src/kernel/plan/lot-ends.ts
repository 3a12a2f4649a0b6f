import { type Attempt, attemptAnew } from './attempt.js';
import type { Model } from './model.js';
import { Figures } from './random.js';
import type { Guide } from './schedule-job.js';
import { changedFor, type StepsLeft } from './search.js';
import { compareService } from './terms.js';
import { endingLots } from './waste.js';

/** So often something else is tried for what is not used yet. */
const TRIES = 100;

/**
 * Batches that would use what ends before they are made are made earlier, where that serves orders no worse: all at once
 * where that can be, else one after the other; then other orders of the batches are tried, as long as there are steps left.
 */
export function beforeLotsEnd(model: Model, attempt: Attempt, work: StepsLeft): Attempt {
  const perTry = attempt.netted.jobs.length;
  let best = attempt;
  const tryGuide = (guide: Guide): boolean => {
    work.stepsLeft -= perTry;
    const other = attemptAnew(model, best, guide);
    const change = compareService(other.service, best.service);
    if (change <= 0) best = other;
    return change < 0;
  };
  const late = madeTooLate(model, attempt);
  if (late.length === 0 || work.stepsLeft < perTry) return attempt;
  if (!tryGuide(soonerBy(best, late)))
    for (const job of late) if (work.stepsLeft >= perTry) tryGuide(soonerBy(best, [job]));
  const figures = new Figures();
  let [seen, left]: [Attempt['placed'] | null, number[]] = [null, []];
  for (let n = 0; n < TRIES && work.stepsLeft >= perTry; n++) {
    if (best.placed !== seen) [seen, left] = [best.placed, madeTooLate(model, best)];
    if (left.length === 0) break;
    const job = left[figures.below(left.length)]!;
    const others = figures.below(2) === 0 ? [job] : [job, left[figures.below(left.length)]!];
    tryGuide(figures.below(3) === 0 ? soonerBy(best, others) : changedFor(best, job, figures));
  }
  return best;
}

/** These batches, and what they draw from, before all others and as early as there is room. */
function soonerBy(attempt: Attempt, jobs: readonly number[]): Guide {
  const sooner = new Set(jobs.flatMap((job) => withSources(attempt, job)));
  const isFirst = (job: number): boolean => sooner.has(job);
  const { guide } = attempt;
  return {
    ...guide,
    early: guide.early.map((is, job) => is || sooner.has(job)),
    ...(guide.pins && { pins: guide.pins.map((pin, job) => (sooner.has(job) ? null : pin)) }),
    waits: guide.waits.map((days, job) => (sooner.has(job) ? 0 : days)),
    order: [...guide.order.filter(isFirst), ...guide.order.filter((job) => !isFirst(job))],
  };
}

/** Batches, by their place, that are made after a lot has ended which they could use, and of which something is left. */
function madeTooLate(model: Model, attempt: Attempt): number[] {
  const ends = new Map<string, number>();
  for (const { row, until } of endingLots(model, attempt)) ends.set(row.item, Math.max(until, ends.get(row.item) ?? 0));
  return attempt.netted.jobs.flatMap((job, index) => {
    const day = attempt.placed.get(job)!.day ?? Number.NEGATIVE_INFINITY;
    const isTooLate =
      !attempt.shelf.short.has(job) &&
      job.inputs.some(
        ({ item, fromShelf }) => fromShelf > 0 && day > (ends.get(item.code) ?? Number.POSITIVE_INFINITY),
      );
    return isTooLate ? [index] : [];
  });
}

function withSources({ scheduler }: Attempt, job: number): number[] {
  return [job, ...scheduler.jobs[job]!.sources.map((source) => source.job)];
}
