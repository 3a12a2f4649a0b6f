import { type Attempt, attemptAsDue, attemptWith, isBetter, isNoWorse } from './attempt.js';
import type { Job } from './job.js';
import { beforeLotsEnd } from './lot-ends.js';
import type { Model } from './model.js';
import type { Cut, Learned, Netted } from './netting.js';
import type { Comes, Guide } from './schedule-job.js';
import { goSoonest, searchGuide, type StepsLeft } from './search.js';
import { type Arrival, arrivals, arrivalsAsGiven } from './arrival.js';
import { isNoWorseServed } from './terms.js';
import type { Planned } from './planned.js';
import { netWithin } from './within.js';

/** So often bench and vessels are given out anew by what was learned of what comes. */
const TRIES = 4;

/**
 * A step is a batch that is placed once more. To better one round of plans so many are taken at least, and so many for each
 * batch it has; and in all the rounds of one plan. Plans of some hundred batches never come to these. Then so many to look for
 * a better order of the batches; and, where that is only to show whether other sizes are better, fewer.
 */
const STEPS_TO_BETTER = { least: 8_000, aBatch: 6 };
const STEPS_IN_ALL = { least: 120_000, aBatch: 40 };
const STEPS_TO_SEARCH = { least: 4_000, aBatch: 4, ordersAPair: 360 };
const STEPS_TO_SHOW = { least: 2_400, aBatch: 4, ordersAPair: 0 };

const stepsFor = ({ least, aBatch }: Pick<typeof STEPS_TO_SEARCH, 'least' | 'aBatch'>, { jobs }: Netted): number =>
  Math.max(least, aBatch * jobs.length);

/** How often all batches are placed for other reasons than to search. */
const TRIES_BESIDE_SEARCH = 10;

/** How much a plan holds, as far as that is known, and what it may still cost. */
export interface Work {
  cut: Cut;
  stepsLeft: number;
}

/** What the rounds of one proposal hold, and may still cost to better. */
export interface Rounds {
  work: Work;
  cut: Cut;
  stepsLeft: number;
  /** Whether a better order is looked for. */
  isSearched: boolean;
  /** Whether it is worth the work to better a plan: not where it begins with more late than the best began with. */
  isHopeful: (attempt: Attempt) => boolean;
  /** As it is made at first, before anything is searched or left out. */
  first: Attempt | null;
}

export function beginRounds(model: Model, learned: Learned, work: Work): Rounds {
  const { netted, cut } = netWithin(model, new Set(), learned, work.cut);
  work.cut = cut;
  work.stepsLeft = Math.min(work.stepsLeft, stepsFor(STEPS_IN_ALL, netted));
  const rounds = {
    work,
    cut,
    stepsLeft: stepsFor(STEPS_TO_BETTER, netted),
    isSearched: false,
    isHopeful: () => true,
    first: null,
  };
  return { ...rounds, first: tryPlan(model, netted, rounds) };
}

/** The best plan that is found by what was learned. */
export const attemptFor = (model: Model, learned: Learned, rounds: Rounds): Attempt =>
  bettered(model, learned, rounds, STEPS_TO_SEARCH);

/**
 * A plan by what was learned, only to show whether it is better than `best`; it takes nothing of what the rounds may cost.
 * Null where its batches are the same as those of a plan whose name is in `tried`; its own name is put there.
 */
export function quickAttemptFor(
  model: Model,
  learned: Learned,
  rounds: Rounds,
  tried: Set<string>,
  best: Attempt,
): Attempt | null {
  const late = model.terms.indexOf('late');
  const isHopeful = ({ service }: Attempt): boolean => service[late]! <= best.unsearched[late]!;
  const apart = { ...rounds, work: { ...rounds.work }, stepsLeft: STEPS_TO_SHOW.least, isHopeful };
  const first = netAgain(model, new Set(), learned, apart);
  const name = nameOf(first);
  // Stryker disable next-line ConditionalExpression: made again it is no better
  if (tried.has(name)) return null;
  tried.add(name);
  return bettered(model, learned, { ...apart, first: tryPlan(model, first, apart) }, STEPS_TO_SHOW);
}

/** The same for the same batches for the same needs, placed in the same order. */
export const nameOf = ({ jobs }: Netted): string =>
  jobs
    .map(({ key, output, latest, isApart, isLater, pegs }) => {
      const shares = pegs.map(({ quantity }) => quantity).join();
      return `${key} ${output} ${latest} ${isApart} ${isLater} ${shares}`;
    })
    .join();

function netAgain(model: Model, noRefill: ReadonlySet<string>, learned: Learned, rounds: Rounds): Netted {
  const { netted, cut } = netWithin(model, noRefill, learned, rounds.cut);
  rounds.cut = cut;
  return netted;
}

function bettered(model: Model, learned: Learned, rounds: Rounds, steps: typeof STEPS_TO_SEARCH): Attempt {
  const tryWithout = (refills: ReadonlySet<string>): Attempt =>
    tryPlan(model, netAgain(model, refills, learned, rounds), rounds);
  const best = (attempt: Attempt): Attempt => {
    if (!rounds.isSearched || !rounds.isHopeful(attempt)) return attempt;
    const found = searched(model, attempt, rounds.work, steps);
    return found === attempt ? attempt : { ...found, unsearched: attempt.service };
  };
  const attempt = best(rounds.first ?? tryWithout(new Set()));
  rounds.first = null;
  const refills = refillsThatHurt(attempt);
  if (refills.size === 0) return attempt;
  const without = best(tryWithout(refills));
  return isBetter(without, attempt) ? without : attempt;
}

/** In the best order of its batches that is found in so many steps. */
function searched(model: Model, attempt: Attempt, work: Work, steps: typeof STEPS_TO_SEARCH): Attempt {
  const perTry = attempt.netted.jobs.length;
  const forOthers = TRIES_BESIDE_SEARCH * perTry;
  if (work.stepsLeft < forOthers) return attempt;
  const { ordersAPair } = steps;
  const search = { stepsLeft: Math.min(stepsFor(steps, attempt.netted), work.stepsLeft - forOthers), ordersAPair };
  const beside = { stepsLeft: forOthers - 2 * perTry };
  work.stepsLeft -= search.stepsLeft + forOthers;
  const given = arrivalsAsGiven(model, attempt, new Set(attempt.shelf.short));
  const fixed = attemptAsDue(model, { ...attempt, arrived: given });
  const guide = searchGuide(model, fixed, search);
  const other = guide && attemptWith(model, { ...fixed, arrived: arrivedBy(fixed, guide) }, guide);
  const best = asGiven(model, other && isNoWorse(other, attempt) ? other : attempt, beside);
  const rest = { stepsLeft: search.stepsLeft + beside.stepsLeft };
  // what expires is not looked at where lines are late and it is only to show whether other sizes are better for them
  const answer = steps === STEPS_TO_SHOW && !goSoonest(model, best) ? best : beforeLotsEnd(model, best, rest);
  work.stepsLeft += rest.stepsLeft;
  return [answer, best].find((one) => isSettled(model, one) && lacksNoMore(one, attempt)) ?? attempt;
}

/** What batches wait for by a guide. */
const arrivedBy = ({ netted, arrived }: Attempt, { comes }: Guide): ReadonlyMap<Job, Arrival> =>
  new Map(netted.jobs.map((job, i) => [job, { ...arrived.get(job)!, ...whatComes(comes[i]!) }]));

const whatComes = ({ earliest, waitsFor }: Comes): Comes => ({ earliest, waitsFor });

/**
 * What waits for what it was not given, or lacks what is still to come, waits for what is there for it instead: all of it at
 * once, or only what lacks something, where that serves no worse.
 */
export function asGiven(model: Model, attempt: Attempt, budget: StepsLeft): Attempt {
  let best = attempt;
  const tryWith = (given: readonly (readonly [Job, Arrival])[]): boolean => {
    const { netted, arrived, last, guide } = best;
    const changed = given.filter(([job, { earliest }]) => earliest !== arrived.get(job)!.earliest);
    if (changed.length === 0 || budget.stepsLeft < netted.jobs.length) return false;
    budget.stepsLeft -= netted.jobs.length;
    const other = attemptWith(model, { netted, last, arrived: new Map([...arrived, ...changed]) }, guide);
    // what is said must be so, even if more pours move by it
    const isTaken = isNoWorseServed(other.service, best.service, model.terms);
    if (isTaken) best = other;
    return isTaken;
  };
  // Stryker disable next-line EqualityOperator,UpdateOperator: it bounds the work
  for (let round = 1; round < TRIES; round++) {
    const given = [...arrivalsAsGiven(model, best, new Set(best.shelf.short))];
    const lacking = given.filter(([job]) => best.shelf.short.has(job));
    const waiting = given.filter(([job]) => best.placed.get(job)!.heldUpBy === 'delivery');
    if (!tryWith([...lacking, ...waiting]) && !tryWith(lacking)) break;
  }
  return best;
}

/** Whether one plan lacks no more of any item than another. */
export function lacksNoMore(one: Attempt, than: Attempt): boolean {
  const most = missingOf(than);
  return [...missingOf(one)].every(([item, missing]) => missing <= (most.get(item) ?? 0));
}

function missingOf({ shelf, netted }: Attempt): Map<string, number> {
  const missing = new Map<string, number>();
  for (const job of netted.jobs)
    for (const input of job.inputs) {
      const { code } = input.item;
      missing.set(code, (missing.get(code) ?? 0) + (shelf.inputs.get(input)?.missing ?? 0));
    }
  return missing;
}

/** Whether nothing lacks what is left over for it, and nothing waits for what it was not given: only then it may be said. */
export function isSettled(model: Model, attempt: Attempt): boolean {
  const { short } = attempt.shelf;
  const lacking = new Set(short);
  const given = arrivalsAsGiven(model, attempt, lacking);
  const isLeftOver = (job: Job): boolean => !lacking.has(job) && job.sources.every((source) => !short.has(source.job));
  if ([...short].some((job) => isLeftOver(job) && job.tier === 0)) return false;
  return attempt.netted.jobs.every((job) => {
    const isWaiting = attempt.placed.get(job)!.heldUpBy === 'delivery' && !attempt.shelf.short.has(job);
    return !isWaiting || given.get(job)!.earliest >= attempt.arrived.get(job)!.earliest;
  });
}

/**
 * First as things are expected to come. Then batches that lack something give their bench and vessels to those that can be
 * made, and each batch waits for what it was really given, or could be, and for nothing else; where that serves orders no
 * worse, and as long as there are steps left.
 */
function tryPlan(model: Model, netted: Netted, rounds: Rounds): Attempt {
  const expected = arrivals(model, netted);
  const place = (last: ReadonlySet<Job>, arrived: ReadonlyMap<Job, Arrival>): Attempt => {
    rounds.stepsLeft -= netted.jobs.length;
    rounds.work.stepsLeft -= netted.jobs.length;
    return attemptAsDue(model, { netted, last, arrived });
  };
  let best = place(new Set(netted.jobs.filter(({ isApart }) => isApart)), expected);
  const waits = (job: Job): boolean => best.placed.get(job)!.heldUpBy === 'delivery';
  if ((best.shelf.short.size === 0 && !netted.jobs.some(waits)) || !rounds.isHopeful(best)) return best;
  const hasSteps = (): boolean => rounds.stepsLeft >= netted.jobs.length;
  const tryWith = (last: ReadonlySet<Job>, arrived: ReadonlyMap<Job, Arrival>): Attempt => {
    const other = place(last, arrived);
    if (isNoWorseServed(other.service, best.service, model.terms)) best = other;
    return other;
  };
  if (hasSteps()) tryWith(best.shelf.short, expected);
  // Stryker disable next-line ConditionalExpression,EqualityOperator,UpdateOperator: it bounds the work
  for (let round = 1; round < TRIES && hasSteps(); round++) {
    const lacking = new Set(best.shelf.short);
    const given = arrivalsAsGiven(model, best, lacking);
    const before = best;
    const tried = tryWith(lacking, given);
    if (tried === best) {
      if (isNoWorse(before, best)) break;
      continue;
    }
    // that took the room of others: once more by what they were given by it
    const thenGiven = arrivalsAsGiven(model, tried, new Set(tried.shelf.short));
    const arrived = new Map([...best.arrived, ...thenGiven]);
    // Stryker disable next-line ConditionalExpression: it bounds the work
    if (hasSteps()) tryWith(new Set([...best.last, ...best.shelf.short]), arrived);
    break;
  }
  return best;
}

/** Items whose refill takes material that a customer's batch then misses. */
function refillsThatHurt({ netted, shelf }: Planned): Set<string> {
  const refills = new Set<string>();
  const seen = new Set<Job>();
  const visit = (job: Job): void => {
    // Stryker disable next-line ConditionalExpression: what is seen twice is the same twice
    if (seen.has(job)) return;
    seen.add(job);
    for (const peg of job.pegs) {
      if (peg.job) visit(peg.job);
      else if (!peg.line && netted.refilled.has(job.item.code)) refills.add(job.item.code);
    }
  };
  for (const job of netted.jobs) if (job.tier === 0 && shelf.short.has(job)) visit(job);
  return refills;
}
