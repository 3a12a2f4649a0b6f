import { type Day, dayOf } from '../measure/day.js';
import { type Attempt, isBetter, type Trial } from './attempt.js';
import { addShort, keepsOrdersBack, withBought } from './bought.js';
import { batchAt, dueDay } from './job.js';
import { linesToServeFirst, linesToServeLast } from './first-served.js';
import { buildModel, type Model } from './model.js';
import { type Learned, NOTHING_LEARNED, UNCUT } from './netting.js';
import type { Proposal, Shortfall, Taken } from './proposal.js';
import { goSoonest, isBestPossible } from './search.js';
import { searchLater } from './later-search.js';
import { searchSizes } from './size-search.js';
import { serviceOf } from './service.js';
import { choicesOf, choicesShown, movedFrom } from './as-shown.js';
import { NOTHING_SHOWN } from './shown.js';
import type { Snapshot } from './snapshot.js';
import { compareService } from './terms.js';
import { toProposal } from './to-proposal.js';
import {
  attemptFor,
  beginRounds,
  isSettled,
  lacksNoMore,
  nameOf,
  quickAttemptFor,
  type Rounds,
  type Work,
} from './tries.js';
import { linesToLeave } from './whom.js';

/** So often, at most, a plan is made anew by what was learned from it; seldom more than once. */
const ROUNDS = 10;

/** So often lines are put first that others put first keep back. */
const FIRST_TRIED = 3;

/**
 * Other sizes are tried so often at most, for lines that are late or only for lots that end, with so many batches in all: in
 * plans of hundreds they are not.
 */
const SIZES_TRIED = { late: 40, waste: 8, batches: 480 };

/** The same of lines that are made last. */
const LATER_TRIED = { late: 40, batches: 400 };

/**
 * The whole question: from open orders, stock and formulas to batches with their day, vessel and lots, what is short, and
 * what is about to expire. Pure: the same snapshot, its rows in any order, gives the same proposal to the byte.
 * Throws RangeError when the snapshot names unknown items, its formulas go round in a circle or an amount is too large.
 *
 * Its work is bounded. It holds at most `batchesMost` batches (model.ts): what is beyond is left out, and `full` and the
 * lines say so. It is bettered and made anew in so many steps as tries.ts says, which grow with its batches; then the best
 * so far stands. Where that moves pours of the plan last shown, as much again is spent to keep them.
 */
export function plan(snapshot: Snapshot): Proposal {
  const model = buildModel(snapshot);
  const work: Work = { cut: UNCUT, stepsLeft: Number.POSITIVE_INFINITY };
  const { proposal } = nearestToShown(model, work);
  return { ...proposal, shortfalls: shortInAll(model, work, proposal.shortfalls) };
}

/**
 * First as if nothing had been shown before. Where that moves pours that were shown, once more from where they were, so that
 * only those move by which something that counts more is better.
 */
function nearestToShown(model: Model, work: Work): KeptAttempt {
  const anew = bestAttempt({ ...model, shown: NOTHING_SHOWN }, work);
  if (movedFrom(model, anew.attempt.placed).moved === 0) return anew;
  const service = serviceOf(model, anew.attempt);
  const near = bestAttempt(model, { ...work, stepsLeft: Number.POSITIVE_INFINITY });
  const isNearer = compareService(near.attempt.service, service) < 0 && (near.isKept || !anew.isKept);
  return isNearer ? near : anew;
}

/** As it is found by search, where that serves better than what is made without, and lacks no more. */
function bestAttempt(model: Model, work: Work): KeptAttempt {
  const rounds = beginRounds(model, NOTHING_LEARNED, work);
  const served = withBestServed(model, NOTHING_LEARNED, rounds);
  const plain = attemptKept(model, served, rounds);
  // Stryker disable next-line ConditionalExpression: a search would find nothing better
  if (isBestPossible(model, plain.attempt)) return plain;
  const searching = { ...rounds, isSearched: true, first: served.attempt };
  const found = { ...served, attempt: attemptFor(model, served.learned, searching) };
  const sized = withBestSizes(model, asChosenBefore(model, found, searching), searching);
  const later = withLaterLines(model, sized, searching);
  const best = later === sized ? sized : withBestSizes(model, later, searching);
  const searched = attemptKept(model, best, searching);
  // Stryker disable next-line ConditionalExpression,LogicalOperator: no plan is known that is worse for being searched
  const isPlainBetter = isBetter(plain.attempt, searched.attempt) || !lacksNoMore(searched.attempt, plain.attempt);
  // Stryker disable next-line ConditionalExpression: as above
  return plain.isKept && isPlainBetter ? plain : searched;
}

interface KeptAttempt {
  attempt: Attempt;
  proposal: Proposal;
  /** Whether nothing is over by the time it would be used; where something is, the steps were spent. */
  isKept: boolean;
}

/** Made anew as long as a line that goes late, or a batch that begins late, would take what is over by then. */
function attemptKept(model: Model, chosen: Chosen, rounds: Rounds): KeptAttempt {
  const goesOn = new Map<string, Day>();
  const begins = new Map<string, Day>();
  const learned: Learned = { ...chosen.learned, goesOn, begins };
  let { attempt } = chosen;
  // Stryker disable next-line UpdateOperator: it bounds the work
  for (let n = 1; ; n++) {
    const proposal = { ...toProposal(model, attempt), ...choicesOf(learned) };
    const isNew = [
      keepLatest(goesOn, linesThatOutlive(model, proposal)),
      keepLatest(begins, batchesThatOutlive(model, attempt)),
    ].some(Boolean);
    // Stryker disable next-line all: it bounds the work, and seldom more than one round learns anything
    const isSpent = n === ROUNDS || rounds.work.stepsLeft <= 0;
    // Stryker disable next-line BooleanLiteral: as in bestAttempt
    const found = { attempt, proposal, isKept: !isNew };
    // Stryker disable next-line LogicalOperator: by the same it is the same again
    if (!isNew || isSpent) return found;
    attempt = attemptFor(model, learned, rounds);
  }
}

interface Chosen {
  attempt: Attempt;
  learned: Learned;
}

/** Where there is not enough for all, the batches of those that go without are made apart, so that as many are served as can be. */
function withBestServed(model: Model, learned: Learned, rounds: Rounds): Chosen {
  const attempt = attemptFor(model, learned, rounds);
  const apart = linesToLeave(attempt, model.terms);
  // Stryker disable next-line ConditionalExpression: with none apart the same is made again
  if (apart.size === 0) return withFirstServed(model, { attempt, learned }, rounds);
  const others = { ...learned, apart };
  const other = attemptFor(model, others, rounds);
  const chosen = isTaken(model, other, attempt) ? { attempt: other, learned: others } : { attempt, learned };
  return withFirstServed(model, chosen, rounds);
}

/** Where lines that count for more go without what others were given of what is made already, these are served first. */
function withFirstServed(model: Model, chosen: Chosen, rounds: Rounds): Chosen {
  let best = chosen;
  // Stryker disable next-line EqualityOperator,UpdateOperator: it bounds the work
  for (let n = 1; n <= FIRST_TRIED; n++) {
    const first = new Set([...best.learned.first, ...linesToServeFirst(model, best.attempt)]);
    // Stryker disable next-line ConditionalExpression: the same lines give the same plan, which is no better
    if (first.size === best.learned.first.size) break;
    const learned = { ...best.learned, first };
    const attempt = attemptFor(model, learned, rounds);
    if (!isTaken(model, attempt, best.attempt)) break;
    best = { attempt, learned };
  }
  return withLateOrdersLast(model, best, rounds);
}

/** Orders that are sent complete and are late all the same leave what is made already to others, where that serves better. */
function withLateOrdersLast(model: Model, chosen: Chosen, rounds: Rounds): Chosen {
  const last = new Set(linesToServeLast(model, chosen.attempt));
  // Stryker disable next-line ConditionalExpression: with none last the same is made again
  if (last.size === 0) return chosen;
  const learned = { ...chosen.learned, last };
  const attempt = attemptFor(model, learned, rounds);
  return isTaken(model, attempt, chosen.attempt) ? { attempt, learned } : chosen;
}

/** Whether another plan serves better, and all that it says is so, as far as that is so of the one it replaces. */
const isTaken = (model: Model, other: Attempt, than: Attempt): boolean =>
  isBetter(other, than) && (isSettled(model, other) || !isSettled(model, than));

/** As the plan last shown was made, where that serves better. */
function asChosenBefore(model: Model, chosen: Chosen, rounds: Rounds): Chosen {
  const choices = choicesShown(model);
  if (!choices) return chosen;
  const learned = { ...chosen.learned, ...choices };
  const attempt = attemptFor(model, learned, rounds);
  return isTaken(model, attempt, chosen.attempt) && lacksNoMore(attempt, chosen.attempt)
    ? { attempt, learned }
    : chosen;
}

/** Batches of other sizes, where orders are served better by them. */
function withBestSizes(model: Model, chosen: Chosen, rounds: Rounds): Chosen {
  const { attempt: first, learned } = chosen;
  const { late, waste, batches } = SIZES_TRIED;
  // Stryker disable next-line ArithmeticOperator: it bounds the work
  const bound = Math.floor(batches / first.netted.jobs.length);
  // Stryker disable next-line ConditionalExpression: it is only quicker
  if (bound === 0) return chosen;
  const most = Math.min(goSoonest(model, first) ? waste : late, bound);
  const trial = trialFor(model, chosen, most, (sizes: Learned['sizes'], tried, best) =>
    quickAttemptFor(model, { ...learned, sizes }, rounds, tried, best),
  );
  const { attempt, sizes } = searchSizes(model, { attempt: first, sizes: learned.sizes }, trial);
  // Stryker disable next-line ConditionalExpression: as usual it is the same again
  if (attempt === first) return chosen;
  return inFull(model, { attempt, learned: { ...learned, sizes } }, rounds, trial);
}

/** Lines that are late anyway made last, where that serves others better. */
function withLaterLines(model: Model, chosen: Chosen, rounds: Rounds): Chosen {
  const { attempt: first, learned } = chosen;
  const { late, batches } = LATER_TRIED;
  // Stryker disable next-line ArithmeticOperator: it bounds the work
  const most = Math.min(late, Math.floor(batches / first.netted.jobs.length));
  // Stryker disable next-line ConditionalExpression,LogicalOperator: nothing better is found
  if (most === 0 || goSoonest(model, first)) return chosen;
  const trial = trialFor(model, chosen, most, (later: Learned['later'], tried, best) =>
    quickAttemptFor(model, { ...learned, later }, rounds, tried, best),
  );
  const { attempt, later } = searchLater({ attempt: first, later: learned.later }, trial);
  // Stryker disable next-line ConditionalExpression: as usual it is the same again
  if (attempt === first) return chosen;
  return inFull(model, { attempt, learned: { ...learned, later } }, rounds, trial);
}

/** For each plan that is tried, so many are looked at, at most, which turn out to be one that was tried. */
const LOOKS_A_TRY = 8;

/** Plans that are tried so often at most, each only once, and taken only where no more is lacking than at first. */
function trialFor<What>(
  model: Model,
  { attempt: first }: Chosen,
  most: number,
  planWith: (what: What, tried: Set<string>, best: Attempt) => Attempt | null,
): Trial<What> {
  // Stryker disable next-line ArrayDeclaration: made again it is no better
  const tried = new Set([nameOf(first.netted)]);
  let looks = LOOKS_A_TRY * most;
  return {
    // Stryker disable next-line EqualityOperator: it bounds the work
    mayTry: () => tried.size <= most && looks > 0,
    tryWith: (what, best) => {
      looks--;
      return planWith(what, tried, best);
    },
    isTaken: (other, than) => isTaken(model, other, than) && lacksNoMore(other, first),
  };
}

/** What was only tried with few steps, with as many as a plan has. */
function inFull<What>(model: Model, { attempt, learned }: Chosen, rounds: Rounds, trial: Trial<What>): Chosen {
  const other = attemptFor(model, learned, rounds);
  return { learned, attempt: trial.isTaken(other, attempt) ? other : attempt };
}

/** Answers whether any day is new, or later than the one known. */
export function keepLatest(known: Map<string, Day>, found: ReadonlyMap<string, Day>): boolean {
  const later = [...found].filter(([key, day]) => day > (known.get(key) ?? Number.NEGATIVE_INFINITY));
  for (const [key, day] of later) known.set(key, day);
  return later.length > 0;
}

/**
 * What orders lack, so that they lack nothing once it is bought. Batches that are made after all take bench, vessels and
 * lots before these expire, so that others can lack something then which they do not lack now.
 */
function shortInAll(model: Model, work: Work, first: Shortfall[]): Shortfall[] {
  let short = first;
  const missing = (row: Shortfall): boolean => keepsOrdersBack(model, row);
  // Stryker disable next-line ConditionalExpression: the next round finds nothing more
  if (!first.some(missing)) return first;
  // Stryker disable next-line ConditionalExpression,EqualityOperator,LogicalOperator,UpdateOperator: it bounds the work
  for (let round = 1; round < ROUNDS && work.stepsLeft > 0; round++) {
    // what is bought changes nothing of what is made, so that as much as before fits; a search never lacks more than this
    const then = buildModel(withBought(model, short));
    const rounds = beginRounds(then, NOTHING_LEARNED, work);
    const { proposal } = attemptKept(then, withBestServed(then, NOTHING_LEARNED, rounds), rounds);
    const more = proposal.shortfalls.filter(missing);
    // Stryker disable next-line ConditionalExpression: the same rounds add nothing
    if (more.length === 0) break;
    short = addShort(model, short, more);
  }
  return short;
}

/** Lines that go late, with lots or deliveries that by then have less life left than is owed; and the day they go. */
function linesThatOutlive({ snapshot, items, lines: open }: Model, { lines, batches }: Proposal): Map<string, Day> {
  const expiry = new Map<string, string | null>();
  for (const { code, expiresOn } of snapshot.lots) expiry.set(`lot ${code}`, expiresOn);
  for (const { key, expiresOn } of snapshot.deliveries) expiry.set(`delivery ${key}`, expiresOn);
  for (const { code, expiresOn } of snapshot.making) expiry.set(`making ${code}`, expiresOn);
  for (const { key, expiresOn } of batches) expiry.set(`batch ${key}`, expiresOn);
  const later = new Map<string, Day>();
  const needBy = new Map(open.map((line) => [line.row.key, line.needBy]));
  for (const line of lines) {
    // what is sent in parts is taken for the day on which its part goes
    if (line.readyOn === null || line.parts) continue;
    const goes = dayOf(line.readyOn);
    if (goes <= needBy.get(line.key)!) continue;
    const goodUntil = goes + items.get(line.item)!.row.owedLifeDays;
    const isOver = ({ from, key }: Taken): boolean => {
      const expiresOn = expiry.get(`${from} ${key}`) ?? null;
      // Stryker disable next-line EqualityOperator: what is good until then is taken again
      return expiresOn !== null && dayOf(expiresOn) < goodUntil;
    };
    if (line.taken.some(isOver)) later.set(line.key, goes);
  }
  return later;
}

/**
 * Batches that begin later than they should, when what they would take of made goods is over; and the day there is room
 * for them.
 */
function batchesThatOutlive(model: Model, { netted, placed, shelf }: Attempt): Map<string, Day> {
  const begin = new Map<string, Day>();
  for (const job of netted.jobs) {
    const { day, roomOn } = placed.get(job)!;
    const begins = roomOn ?? day ?? Number.NEGATIVE_INFINITY;
    if (begins <= dueDay(model, job)) continue;
    const lacksMade = job.inputs.some(
      (input) => input.item.row.kind !== 'material' && (shelf.inputs.get(input)?.missing ?? 0) > 0,
    );
    if (roomOn !== undefined || lacksMade) begin.set(batchAt(job), begins);
  }
  return begin;
}
