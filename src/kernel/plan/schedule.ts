import type { Day } from '../measure/day.js';
import type { HeldUpBy } from './proposal.js';
import { byText } from '../measure/text-order.js';
import { type ScheduleVessel, type Stay, VesselDays } from './vessel-days.js';

export type { ScheduleVessel } from './vessel-days.js';

/** A batch by its place in the list; `held` where it is drawn from its vessel, `after` so many days after the day it serves. */
interface Link {
  job: number;
  held: boolean;
  after: number;
}

/** One batch to be given a day and a vessel. Sources and consumers are indices into the same list. */
export interface ScheduleJob {
  key: string;
  /** 0 for customers, 1 for stock, 2 for what lacks something and takes only the room that all others leave. */
  tier: 0 | 1 | 2;
  minutes: number;
  restDays: number;
  /** Null for what needs no vessel. */
  vesselKind: string | null;
  putInMg: number;
  /** First day that what it takes of lots, deliveries and earlier batches is there. */
  earliest: Day;
  /** Which of them comes last. */
  waitsFor: 'delivery' | 'source';
  /** Last day that what it takes of earlier batches is good. */
  goodUntil: Day;
  /** First day from which what is made keeps until it goes. */
  freshFrom: Day;
  /** How many days the output keeps after the day it is made; Infinity when it keeps. */
  keepsDays: number;
  /** Latest day that leaves everything it is for in time. */
  latest: Day;
  sources: readonly Link[];
  consumers: readonly Link[];
}

export interface ScheduleSetting {
  start: Day;
  openMinutes: (day: Day) => number;
  /** The most minutes a day of a normal week has. */
  longestDay: number;
  /** Minutes already given away on a day. */
  usedMinutes: ReadonlyMap<Day, number>;
  vessels: readonly ScheduleVessel[];
}

export interface Placed {
  day: Day | null;
  ready: Day | null;
  vessel: string | null;
  /** Last day the vessel is busy. */
  emptied: Day | null;
  heldUpBy: HeldUpBy | null;
  /** Where what it is made of does not keep until then: the first day there is room for it. */
  roomOn?: Day;
}

/** How far ahead a free day is looked for before a batch is left without one. */
const SEARCH_DAYS = 730;
const FOREVER = Number.POSITIVE_INFINITY;
const CLOSED = -1;

interface Slot {
  vessel: VesselDays | null;
  stay: Stay | null;
}

/** A batch whose bulks can still be decanted. */
interface JobState extends ScheduleJob {
  sources: Link[];
  consumers: Link[];
}

const NOWHERE: Slot = { vessel: null, stay: null };

interface State {
  jobs: readonly JobState[];
  setting: ScheduleSetting;
  /** Of each day that is looked at; less than none on a day that is closed. */
  minutesLeft: Int32Array;
  vessels: VesselDays[];
  placed: (Placed | null)[];
  slots: (Slot | null)[];
  /** Jobs in the order they were placed, so that a try can be taken back. */
  log: number[];
  visiting: Set<number>;
}

/**
 * Gives every batch a day and a vessel over finite bench minutes. Customers' batches go first, earliest due first, each
 * as late as is safe; all others then take the earliest room that is left. A vessel is busy from pour until the last
 * filling that draws from it; what orders do not fill is decanted then, and a bulk that stands in the way of what is made
 * with it is decanted once it is ready. A batch stands after everything it draws from.
 * Answers one placing a job, in the jobs' order.
 */
export function schedule(jobs: readonly ScheduleJob[], setting: ScheduleSetting): Placed[] {
  const linked = (links: readonly Link[]): Link[] => links.map((link) => ({ ...link }));
  const state: State = {
    jobs: jobs.map((job) => ({ ...job, sources: linked(job.sources), consumers: linked(job.consumers) })),
    setting,
    minutesLeft: Int32Array.from({ length: SEARCH_DAYS }, (_, i) => {
      const day = setting.start + i;
      const open = setting.openMinutes(day);
      return open === 0 ? CLOSED : Math.max(0, open - (setting.usedMinutes.get(day) ?? 0));
    }),
    vessels: [...setting.vessels]
      .sort((a, b) => a.capacityMg - b.capacityMg || byText(a.code, b.code))
      .map((vessel) => new VesselDays(vessel, setting.start, SEARCH_DAYS)),
    placed: jobs.map(() => null),
    slots: jobs.map(() => null),
    log: [],
    visiting: new Set(),
  };
  const order = jobs
    .map((_, index) => index)
    .sort(
      (a, b) =>
        jobs[a]!.tier - jobs[b]!.tier || jobs[a]!.latest - jobs[b]!.latest || byText(jobs[a]!.key, jobs[b]!.key),
    );
  for (const job of order) settle(state, job);
  return state.placed.map((placed) => placed ?? unplaced('source'));
}

const unplaced = (heldUpBy: HeldUpBy): Placed => ({ day: null, ready: null, vessel: null, emptied: null, heldUpBy });

/** Places a job after its sources, then at once whatever draws from it, so that its vessel comes free. */
function settle(state: State, job: number): void {
  if (state.placed[job] || state.visiting.has(job)) return;
  state.visiting.add(job);
  for (const source of state.jobs[job]!.sources) settle(state, source.job);
  state.visiting.delete(job);
  if (state.placed[job]) return;
  const isPlaced = (): boolean => tryPlace(state, job, false) || tryPlace(state, job, true);
  if (!isPlaced() && !(decantInTheWay(state, job) && isPlaced())) {
    giveUp(state, job, tooOldFor(state, job) ?? unplaced(whyNowhere(state, job)));
    return;
  }
  // what also waits for another vessel is settled next, so that this one is not kept busy for longer than it must
  for (const consumer of state.jobs[job]!.consumers) if (consumer.held) settle(state, consumer.job);
}

/** Leaves a batch without a day: what it would have been filled from need not stand there for it. */
function giveUp(state: State, job: number, placed: Placed): void {
  state.placed[job] = placed;
  state.log.push(job);
  for (const source of state.jobs[job]!.sources) if (source.held) closeVessel(state, source.job);
}

/** Says so where only the last day of what it is made of leaves a batch no room; null elsewhere. */
function tooOldFor(state: State, job: number): Placed | null {
  if (lastDayGood(state, job) === FOREVER) return null;
  const spot = findSpot(state, job, false, FOREVER) ?? findSpot(state, job, true, FOREVER);
  return spot && { ...unplaced('expires'), roomOn: spot.day };
}

/**
 * Where a batch needs the very vessels in which bulks stand that it, or a filling from it, is to draw from, those are
 * decanted once they are ready. Answers whether there was any.
 */
function decantInTheWay(state: State, job: number): boolean {
  const { vesselKind, consumers } = state.jobs[job]!;
  if (vesselKind === null) return false;
  let isDecanted = false;
  for (const user of [job, ...consumers.filter(({ held }) => held).map((consumer) => consumer.job)])
    for (const source of state.jobs[user]!.sources) {
      if (!source.held || source.job === job || state.slots[source.job]?.vessel?.kind !== vesselKind) continue;
      source.held = false;
      for (const link of state.jobs[source.job]!.consumers) if (link.job === user) link.held = false;
      closeVessel(state, source.job);
      isDecanted = true;
    }
  return isDecanted;
}

/**
 * One try at a job and all that is filled from its vessel. `afterAll` asks for a vessel nobody has booked later on, which
 * always leaves room for late fillings. On failure everything this try did is taken back.
 */
function tryPlace(state: State, job: number, afterAll: boolean): boolean {
  const mark = state.log.length;
  const spot = findSpot(state, job, afterAll);
  if (!spot) return false;
  take(state, job, spot);
  if (settleHeld(state, job)) {
    closeVessel(state, job);
    return true;
  }
  undoTo(state, mark);
  return false;
}

/** Places everything that draws straight from this job's vessel and has all its sources; false if one finds no day. */
function settleHeld(state: State, job: number): boolean {
  const waiting = state.jobs[job]!.consumers.filter((consumer) => consumer.held && !state.placed[consumer.job])
    .map((consumer) => consumer.job)
    .sort((a, b) => state.jobs[a]!.latest - state.jobs[b]!.latest || byText(state.jobs[a]!.key, state.jobs[b]!.key));
  for (const consumer of waiting) {
    if (state.placed[consumer] || !state.jobs[consumer]!.sources.every((source) => state.placed[source.job])) continue;
    if (tryPlace(state, consumer, false) || tryPlace(state, consumer, true)) continue;
    // what is made for others does not wait for what it would be too old for
    const tooOld = tooOldFor(state, consumer);
    if (!tooOld) return false;
    giveUp(state, consumer, tooOld);
  }
  return true;
}

interface Spot {
  day: Day;
  vessel: VesselDays | null;
  to: Day;
  heldUpBy: HeldUpBy | null;
}

/** Earliest first for stock; else as late as is safe, else as soon after as there is room. */
function findSpot(state: State, job: number, afterAll: boolean, goodUntil = lastDayGood(state, job)): Spot | null {
  const row = state.jobs[job]!;
  const ready = sourcesReady(state, job);
  if (ready === null) return null;
  const first = Math.max(state.setting.start, row.earliest, row.freshFrom, ready);
  const last = Math.min(state.setting.start + SEARCH_DAYS - 1, lastDayWhileHeld(state, job), goodUntil);
  const vessels = state.vessels.filter((vessel) => canHold(vessel, row));
  const lastFilled = lastFilledOf(state, row);
  const spotOn = (day: Day): Spot | null => {
    if (!hasMinutes(state, day, row.minutes)) return null;
    if (row.vesselKind === null) return { day, vessel: null, to: day, heldUpBy: null };
    const to = Math.max(day + row.restDays, lastFilled);
    const vessel = vessels.find((one) => one.isFree(day, afterAll ? FOREVER : to));
    return vessel ? { day, vessel, to, heldUpBy: null } : null;
  };
  const isForStock = row.tier === 1;
  if (!isForStock)
    for (let day = Math.min(row.latest, last); day >= first; day--) {
      const spot = spotOn(day);
      if (spot) return spot;
    }
  for (let day = isForStock ? first : Math.max(first, row.latest + 1); day <= last; day++) {
    const spot = spotOn(day);
    if (spot) return { ...spot, heldUpBy: !isForStock && day > row.latest ? whyLate(state, job, first, day) : null };
  }
  return null;
}

/** What kept a batch from its latest safe day. */
function whyLate(state: State, job: number, first: Day, day: Day): HeldUpBy {
  const row = state.jobs[job]!;
  if (first > row.latest) {
    if (first > state.setting.start) return row.earliest === first ? row.waitsFor : 'source';
    if (firstOpen(state, first) >= day) return 'rest';
  }
  return hasMinutesWithin(state, row.minutes, first, Math.max(row.latest, day - 1)) ? 'no-vessel' : 'bench-full';
}

function whyNowhere(state: State, job: number): HeldUpBy {
  const row = state.jobs[job]!;
  const ready = sourcesReady(state, job);
  if (ready === null) return 'source';
  if (row.minutes > state.setting.longestDay) return 'too-long';
  if (row.vesselKind !== null && !state.vessels.some((vessel) => canHold(vessel, row))) return 'too-large';
  const { start } = state.setting;
  return hasMinutesWithin(state, row.minutes, Math.max(start, row.earliest, ready), start + SEARCH_DAYS - 1)
    ? 'no-vessel'
    : 'bench-full';
}

function hasMinutesWithin(state: State, minutes: number, from: Day, to: Day): boolean {
  for (let day = from; day <= to; day++) if (hasMinutes(state, day, minutes)) return true;
  return false;
}

function firstOpen(state: State, from: Day): Day {
  let day = from;
  while (day < from + 31 && state.setting.openMinutes(day) === 0) day++;
  return day;
}

/** The first day everything it draws from is ready; null when one of them has no day. */
function sourcesReady(state: State, job: number): Day | null {
  let ready = Number.NEGATIVE_INFINITY;
  for (const source of state.jobs[job]!.sources) {
    const placed = state.placed[source.job];
    if (!placed || placed.ready === null) return null;
    ready = Math.max(ready, placed.ready);
  }
  return ready;
}

/** The last day on which everything it is made of is still good. */
function lastDayGood(state: State, job: number): Day {
  let last = state.jobs[job]!.goodUntil;
  for (const { job: source, after } of state.jobs[job]!.sources) {
    const day = state.placed[source]?.day ?? null;
    if (day !== null) last = Math.min(last, day + state.jobs[source]!.keepsDays - after);
  }
  return last;
}

/** The last day before one of the vessels it is filled from is booked again. */
function lastDayWhileHeld(state: State, job: number): Day {
  let last = FOREVER;
  for (const source of state.jobs[job]!.sources) {
    const slot = state.slots[source.job];
    if (!source.held || !slot?.vessel || !slot.stay) continue;
    last = Math.min(last, slot.vessel.nextBegun(slot.stay.from) - 1);
  }
  return last;
}

/** The last day on which something should be filled from the vessel it stands in. */
function lastFilledOf(state: State, { consumers }: JobState): Day {
  let last = Number.NEGATIVE_INFINITY;
  for (const consumer of consumers) if (consumer.held) last = Math.max(last, state.jobs[consumer.job]!.latest);
  return last;
}

function hasMinutes(state: State, day: Day, minutes: number): boolean {
  const left = state.minutesLeft[day - state.setting.start];
  return left !== undefined && left >= minutes;
}

const canHold = (vessel: ScheduleVessel, { vesselKind, putInMg }: ScheduleJob): boolean =>
  vessel.kind === vesselKind && vessel.capacityMg >= putInMg;

function take(state: State, job: number, spot: Spot): void {
  const row = state.jobs[job]!;
  const stay = spot.vessel ? { from: spot.day, to: FOREVER } : null;
  if (stay) spot.vessel!.add(stay);
  state.minutesLeft[spot.day - state.setting.start]! -= row.minutes;
  state.slots[job] = { vessel: spot.vessel, stay };
  state.placed[job] = {
    day: spot.day,
    ready: spot.day + row.restDays,
    vessel: spot.vessel?.code ?? null,
    emptied: spot.day,
    heldUpBy: spot.heldUpBy,
  };
  state.log.push(job);
  for (const source of row.sources) if (source.held) closeVessel(state, source.job);
}

/** Once everything drawn from a vessel has its day, the vessel is free from the day after the last. */
function closeVessel(state: State, job: number): void {
  const placed = state.placed[job];
  const { vessel, stay } = state.slots[job] ?? NOWHERE;
  if (!placed || placed.day === null || !vessel || !stay) return;
  let emptied = placed.day + state.jobs[job]!.restDays;
  for (const consumer of state.jobs[job]!.consumers) {
    if (!consumer.held) continue;
    const next = state.placed[consumer.job];
    if (!next) return;
    if (next.day !== null) emptied = Math.max(emptied, next.day);
  }
  vessel.end(stay, emptied);
  placed.emptied = emptied;
}

function undoTo(state: State, mark: number): void {
  while (state.log.length > mark) {
    const job = state.log.pop()!;
    const placed = state.placed[job]!;
    const slot = state.slots[job];
    if (slot?.vessel && slot.stay) slot.vessel.remove(slot.stay);
    if (placed.day !== null) state.minutesLeft[placed.day - state.setting.start]! += state.jobs[job]!.minutes;
    state.placed[job] = null;
    state.slots[job] = null;
    for (const source of state.jobs[job]!.sources) {
      const { vessel, stay } = state.slots[source.job] ?? NOWHERE;
      if (source.held && vessel && stay) vessel.end(stay, FOREVER);
    }
  }
}
