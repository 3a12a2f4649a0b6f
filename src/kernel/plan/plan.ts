import { type Day, dayOf } from '../measure/day.js';
import { addShort, keepsOrdersBack, withBought } from './bought.js';
import { batchAt, dueDay, type Job, keepsDaysOf, type LineState } from './job.js';
import { buildModel, minutesTaken, type Model } from './model.js';
import { type Cut, type Learned, type Netted, UNCUT } from './netting.js';
import type { Proposal, Shortfall, Taken } from './proposal.js';
import { schedule } from './schedule.js';
import { type Arrival, arrivals, arrivalsAsGiven, drawOnShelf } from './shelf.js';
import { linesOf } from './shortfall.js';
import type { Snapshot } from './snapshot.js';
import { type Planned, toProposal, whenOf } from './to-proposal.js';
import { forPartsOfLines, netWithin } from './within.js';

/** So often bench and vessels are given out anew by what was learned of what comes. */
const TRIES = 4;

/** So often, at most, a plan is made anew by what was learned from it; seldom more than once. */
const ROUNDS = 10;

/**
 * A step is a batch that is placed once more. To better one round of plans so many are taken at least, and so many for each
 * batch it has; and in all the rounds of one plan. Plans of some hundred batches never come to these.
 */
const STEPS_TO_BETTER = { least: 8_000, aBatch: 6 };
const STEPS_IN_ALL = { least: 30_000, aBatch: 30 };

const stepsFor = ({ least, aBatch }: typeof STEPS_IN_ALL, { jobs }: Netted): number =>
  Math.max(least, aBatch * jobs.length);

/**
 * The whole question: from open orders, stock and formulas to batches with their day, vessel and lots, what is short, and
 * what is about to expire. Pure: the same snapshot, its rows in any order, gives the same proposal to the byte.
 * Throws RangeError when the snapshot names unknown items, its formulas go round in a circle or an amount is too large.
 *
 * Its work is bounded. It holds at most `batchesMost` batches (model.ts): what is beyond is left out, and `full` and the
 * lines say so. It is bettered and made anew in so many steps as STEPS_TO_BETTER and STEPS_IN_ALL say, which grow with its
 * batches; then the best so far stands.
 */
export function plan(snapshot: Snapshot): Proposal {
  const model = buildModel(snapshot);
  const work: Work = { cut: UNCUT, stepsLeft: Number.POSITIVE_INFINITY };
  const proposal = proposalFor(model, work);
  return { ...proposal, shortfalls: shortInAll(model, work, proposal.shortfalls) };
}

/** How much a plan holds, as far as that is known, and what it may still cost. */
interface Work {
  cut: Cut;
  stepsLeft: number;
}

/** Made anew as long as a line that goes late, or a batch that begins late, would take what is over by then. */
function proposalFor(model: Model, work: Work): Proposal {
  const goesOn = new Map<string, Day>();
  const begins = new Map<string, Day>();
  const first = netWithin(model, new Set(), { goesOn, begins }, work.cut);
  work.cut = first.cut;
  work.stepsLeft = Math.min(work.stepsLeft, stepsFor(STEPS_IN_ALL, first.netted));
  const rounds: Rounds = { work, cut: first.cut, stepsLeft: stepsFor(STEPS_TO_BETTER, first.netted) };
  let attempt = bettered(model, first.netted, { goesOn, begins }, rounds);
  let proposal = toProposal(model, attempt);
  for (let n = 1; n < ROUNDS && work.stepsLeft > 0; n++) {
    const isLearned = [
      keepLatest(goesOn, linesThatOutlive(model, proposal)),
      keepLatest(begins, batchesThatOutlive(model, attempt)),
    ].some(Boolean);
    if (!isLearned) break;
    const learned = { goesOn, begins };
    attempt = bettered(model, netAgain(model, new Set(), learned, rounds), learned, rounds);
    proposal = toProposal(model, attempt);
  }
  return proposal;
}

/** What the rounds of one proposal hold, and may still cost to better. */
interface Rounds {
  work: Work;
  cut: Cut;
  stepsLeft: number;
}

function netAgain(model: Model, noRefill: ReadonlySet<string>, learned: Learned, rounds: Rounds): Netted {
  const { netted, cut } = netWithin(model, noRefill, learned, rounds.cut);
  rounds.cut = cut;
  return netted;
}

/** Answers whether any day is new, or later than the one known. */
function keepLatest(known: Map<string, Day>, found: ReadonlyMap<string, Day>): boolean {
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
  let more = first.filter((row) => keepsOrdersBack(model, row));
  for (let round = 1; round < ROUNDS && more.length > 0 && work.stepsLeft > 0; round++) {
    // what is bought changes nothing of what is made, so that as much as before fits
    const then = proposalFor(buildModel(withBought(model, short)), work);
    more = then.shortfalls.filter((row) => keepsOrdersBack(model, row));
    if (more.length > 0) short = addShort(model, short, more);
  }
  return short;
}

function bettered(model: Model, netted: Netted, learned: Learned, rounds: Rounds): Attempt {
  const attempt = tryPlan(model, netted, rounds);
  const refills = refillsThatHurt(attempt);
  if (refills.size === 0) return attempt;
  const without = tryPlan(model, netAgain(model, refills, learned, rounds), rounds);
  return without.linesShort < attempt.linesShort ? without : attempt;
}

/** Lines that go late, with lots or deliveries that by then have less life left than is owed; and the day they go. */
function linesThatOutlive({ snapshot, items }: Model, { lines, batches }: Proposal): Map<string, Day> {
  const expiry = new Map<string, string | null>();
  for (const { code, expiresOn } of snapshot.lots) expiry.set(`lot ${code}`, expiresOn);
  for (const { key, expiresOn } of snapshot.deliveries) expiry.set(`delivery ${key}`, expiresOn);
  for (const { code, expiresOn } of snapshot.making) expiry.set(`making ${code}`, expiresOn);
  for (const { key, expiresOn } of batches) expiry.set(`batch ${key}`, expiresOn);
  const later = new Map<string, Day>();
  for (const line of lines) {
    if (line.lateDays === 0) continue;
    const goes = dayOf(line.readyOn!);
    const goodUntil = goes + items.get(line.item)!.row.owedLifeDays;
    const isOver = ({ from, key }: Taken): boolean => {
      const expiresOn = expiry.get(`${from} ${key}`) ?? null;
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
    const begins = roomOn ?? day;
    if (begins === null || begins <= dueDay(model, job)) continue;
    const lacksMade = job.inputs.some(
      (input) => input.item.row.kind !== 'material' && (shelf.inputs.get(input)?.missing ?? 0) > 0,
    );
    if (roomOn !== undefined || lacksMade) begin.set(batchAt(job), begins);
  }
  return begin;
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
    return placeAndDraw(model, netted, last, arrived);
  };
  let best = place(new Set(), expected);
  const waits = (job: Job): boolean => best.placed.get(job)!.heldUpBy === 'delivery';
  if (best.shelf.short.size === 0 && !netted.jobs.some(waits)) return best;
  const hasSteps = (): boolean => rounds.stepsLeft >= netted.jobs.length;
  const tryWith = (last: ReadonlySet<Job>, arrived: ReadonlyMap<Job, Arrival>): Attempt => {
    const other = place(last, arrived);
    if (isNoWorse(other, best)) best = other;
    return other;
  };
  if (hasSteps()) tryWith(best.shelf.short, expected);
  for (let round = 1; round < TRIES && hasSteps(); round++) {
    const lacking = new Set(best.shelf.short);
    const given = arrivalsAsGiven(model, best, lacking);
    const before = best;
    const tried = tryWith(lacking, given);
    if (tried === best) {
      if (isNoWorse(before, best)) break;
      continue;
    }
    if (!hasSteps()) break;
    // where that takes the room of others: only what waits for what it was not given, or lacks what still comes
    const isWrong = (job: Job): boolean => waits(job) || best.shelf.short.has(job);
    const thenGiven = arrivalsAsGiven(model, tried, new Set(tried.shelf.short));
    const mended = new Map([...best.arrived, ...[...thenGiven].filter(([job]) => isWrong(job))]);
    if (tryWith(new Set([...best.last, ...best.shelf.short]), mended) !== best || isNoWorse(before, best)) break;
  }
  return best;
}

/** A plan with what it was made by, and how well it serves. */
interface Attempt extends Planned {
  /** Batches that took only the room which all others left. */
  last: ReadonlySet<Job>;
  arrived: ReadonlyMap<Job, Arrival>;
  /** Order lines that are not covered. */
  linesShort: number;
  /** Of all covered lines together. */
  daysLate: number;
}

function placeAndDraw(
  model: Model,
  netted: Netted,
  last: ReadonlySet<Job>,
  arrived: ReadonlyMap<Job, Arrival>,
): Attempt {
  const index = new Map(netted.jobs.map((job, i) => [job, i]));
  // nobody fills what lacks its bottle, so the bulk does not stand in its vessel for it
  const isHeld = (held: boolean, consumer: Job): boolean => held && !last.has(consumer);
  const parts = forPartsOfLines(netted);
  const placings = schedule(
    netted.jobs.map((job) => ({
      key: job.key,
      tier: last.has(job) || parts.has(job) ? 2 : job.tier,
      minutes: job.minutes,
      restDays: job.formula.restDays,
      vesselKind: job.formula.vesselKind,
      putInMg: job.putInMg,
      ...arrived.get(job)!,
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
    })),
    {
      start: model.start,
      openMinutes: model.openMinutes,
      longestDay: model.longestDay,
      usedMinutes: minutesTaken(model),
      vessels: vesselsWithStays(model),
    },
  );
  const placed = new Map(netted.jobs.map((job, i) => [job, placings[i]!]));
  const shelf = drawOnShelf(netted, (job) => whenOf(placed, job));
  const planned = { netted, placed, shelf };
  return { ...planned, last, arrived, linesShort: linesShortOf(planned), daysLate: daysLateOf(planned) };
}

/** The first day on which a batch can be made to keep until every order it is for has gone. */
const freshFrom = (job: Job): Day =>
  Math.max(...job.pegs.map(({ line }) => (line?.until ?? Number.NEGATIVE_INFINITY) - keepsDaysOf(job.item)));

function vesselsWithStays(
  model: Model,
): { code: string; kind: string; capacityMg: number; busy: { from: Day; to: Day }[] }[] {
  return model.snapshot.vessels.map((vessel) => ({
    ...vessel,
    busy: model.snapshot.making
      .filter((row) => row.vessel === vessel.code)
      // what should have been emptied by now and is not closed still stands in its vessel today
      .map((row) => ({ from: dayOf(row.day), to: Math.max(dayOf(row.emptiedOn), model.today) })),
  }));
}

/** Items whose refill takes material that a customer's batch then misses. */
function refillsThatHurt({ netted, shelf }: Planned): Set<string> {
  const refills = new Set<string>();
  const seen = new Set<Job>();
  const visit = (job: Job): void => {
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

/** Whether no more lines are uncovered, and of as many no more days late are promised in all. */
function isNoWorse(one: Attempt, other: Attempt): boolean {
  const more = one.linesShort - other.linesShort;
  return more < 0 || (more === 0 && one.daysLate <= other.daysLate);
}

function daysLateOf({ netted, placed, shelf }: Planned): number {
  let days = 0;
  for (const line of netted.lines)
    for (const { job } of line.fromJobs) {
      const { ready } = placed.get(job)!;
      if (ready !== null && !shelf.short.has(job)) days += Math.max(0, ready - line.shipBy);
    }
  return days;
}

/** How much of what customers ordered is not covered, counted in lines. */
function linesShortOf({ netted, shelf }: Planned): number {
  const hurt = new Set<LineState>();
  const seen = new Set<Job>();
  for (const job of shelf.short) for (const line of linesOf(job, seen)) hurt.add(line);
  for (const line of netted.lines)
    if (line.missing + line.leftOut > 0 || (shelf.lines.get(line)?.missing ?? 0) > 0) hurt.add(line);
  return hurt.size;
}
