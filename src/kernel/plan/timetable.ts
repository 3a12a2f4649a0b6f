import type { Day } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import { DayMinutes, type FewMinutes } from './day-minutes.js';
import type { Guide, Link, Placed, ScheduleJob, ScheduleSetting } from './schedule-job.js';
import { type Stay, VesselDays } from './vessel-days.js';
import { toWash } from './washed.js';

/** How far ahead a free day is looked for before a batch is left without one: so many days at least, and at most. */
const SEARCH_DAYS = { least: 730, most: 4_000 };

interface Slot {
  vessel: VesselDays | null;
  stay: Stay | null;
}

const NOWHERE: Slot = { vessel: null, stay: null };

const NO_VESSELS: readonly VesselDays[] = [];

/** A batch whose bulks can still be decanted. */
export interface TimetableJob extends ScheduleJob {
  sources: Link[];
  consumers: Link[];
  /** Whose minutes it takes beside everybody's. */
  few: readonly FewMinutes[];
  /** Those that can hold it, smallest first. */
  vessels: readonly VesselDays[];
  /** Whatever the others take: nothing holds it, or no day is as long. */
  isImpossible: boolean;
}

/** Where a batch can be placed. */
export interface Spot {
  day: Day;
  vessel: VesselDays | null;
  /** Last day its vessel must be free. */
  to: Day;
  heldUpBy: Placed['heldUpBy'];
}

/** Which days and vessels batches have, and what is left of both. It is filled again and again, each time by another guide. */
export class Timetable {
  readonly jobs: readonly TimetableJob[];
  readonly placed: (Placed | null)[];
  /** First day after the last one that is looked at. */
  readonly end: Day;
  guide: Guide;
  private readonly slots: (Slot | null)[];
  private readonly minutes: DayMinutes;
  private readonly vessels: readonly VesselDays[];
  /** Jobs in the order they were placed, so that a try can be taken back. */
  private readonly log: number[] = [];
  /** What is not drawn from its vessel any more. */
  private readonly decanted: Link[] = [];

  constructor(
    jobs: readonly ScheduleJob[],
    readonly setting: ScheduleSetting,
    guide: Guide,
  ) {
    this.guide = guide;
    this.vessels = [...setting.vessels]
      .sort((a, b) => a.capacityMg - b.capacityMg || byText(a.code, b.code))
      .map((vessel) => new VesselDays(vessel));
    const holding = ({ vesselKind, putInMg }: ScheduleJob): readonly VesselDays[] =>
      vesselKind === null
        ? NO_VESSELS
        : this.vessels.filter(({ kind, capacityMg }) => kind === vesselKind && capacityMg >= putInMg);
    this.end = setting.start + daysAhead(jobs, this.vessels);
    this.minutes = new DayMinutes(setting, this.end);
    this.jobs = jobs.map((job) => {
      const few = this.minutes.fewFor(job.skill);
      const vessels = holding(job);
      const isImpossible = (job.vesselKind !== null && vessels.length === 0) || !this.minutes.everHad(job.minutes, few);
      return timetableJob(job, { few, vessels, isImpossible });
    });
    // Stryker disable next-line ArrowFunction: cleared before anything is placed
    this.placed = jobs.map(() => null);
    // Stryker disable next-line ArrowFunction: as above
    this.slots = jobs.map(() => null);
  }

  /**
   * Minutes of washing if a batch is poured into a vessel that is free on that day, with what is to be poured there next.
   * Infinity where either day has no room for them.
   */
  washingIn(job: number, vessel: VesselDays, day: Day): number {
    const { washing } = this.setting;
    if (!washing) return 0;
    const row = this.jobs[job]!;
    const { minutes, next, more, skill } = toWash(washing, vessel, day, row.item);
    const hasRoom =
      this.hasMinutes(day, row.minutes + minutes, row.few) &&
      (more <= 0 || this.hasMinutes(next!, more, this.minutes.fewFor(skill)));
    return hasRoom ? minutes + more : Number.POSITIVE_INFINITY;
  }

  /** Takes, or gives back, the minutes of washing for a batch that is not in its vessel yet, or no more. */
  private wash(job: number, vessel: VesselDays, day: Day, isTaken: boolean): void {
    const { washing } = this.setting;
    if (!washing) return;
    const { item, few } = this.jobs[job]!;
    const { minutes, next, more, skill } = toWash(washing, vessel, day, item);
    this.minutes.take(day, isTaken ? minutes : -minutes, few);
    if (next !== null) this.minutes.take(next, isTaken ? more : -more, this.minutes.fewFor(skill));
  }

  /** Takes everything back. */
  clear(guide: Guide): void {
    this.guide = guide;
    this.minutes.reset();
    for (const vessel of this.vessels) vessel.reset();
    this.placed.fill(null);
    this.slots.fill(null);
    this.log.length = 0;
    for (const link of this.decanted) link.held = true;
    this.decanted.length = 0;
  }

  /** For `undoTo`: all that is placed from now on. */
  mark(): number {
    return this.log.length;
  }

  /** Of everybody; of those too who alone may do something, where they are named. */
  hasMinutes(day: Day, minutes: number, few?: readonly FewMinutes[]): boolean {
    return this.minutes.has(day, minutes, few);
  }

  vesselOf(job: number): VesselDays | null {
    return this.slots[job]?.vessel ?? null;
  }

  /** The first day the vessel a batch stands in is taken by another; null where it stands in none. */
  vesselTakenOn(job: number): Day | null {
    const { vessel, stay } = this.slots[job] ?? NOWHERE;
    // Stryker disable next-line ConditionalExpression,LogicalOperator: a batch has both or neither
    return vessel && stay ? vessel.nextBegun(stay.from) : null;
  }

  take(job: number, spot: Spot): void {
    const row = this.jobs[job]!;
    const { item, skill } = row;
    const stay = spot.vessel ? { from: spot.day, to: Number.POSITIVE_INFINITY, first: item, last: item, skill } : null;
    if (stay) {
      this.wash(job, spot.vessel!, spot.day, true);
      spot.vessel!.add(stay);
    }
    this.minutes.take(spot.day, row.minutes, row.few);
    this.slots[job] = { vessel: spot.vessel, stay };
    this.placed[job] = {
      day: spot.day,
      ready: spot.day + row.restDays,
      vessel: spot.vessel?.code ?? null,
      emptied: spot.day,
      heldUpBy: spot.heldUpBy,
    };
    this.log.push(job);
    for (const source of row.sources) if (source.held) this.closeVessel(source.job);
  }

  /** Leaves a batch without a day: what it would have been filled from need not stand there for it. */
  giveUp(job: number, placed: Placed): void {
    this.placed[job] = placed;
    this.log.push(job);
    for (const source of this.jobs[job]!.sources) if (source.held) this.closeVessel(source.job);
  }

  /** What `job` draws of `source` it takes from another container. */
  decant(source: Link, job: number): void {
    const links = [source, ...this.jobs[source.job]!.consumers.filter((link) => link.job === job)];
    for (const link of links.filter(({ held }) => held)) {
      link.held = false;
      this.decanted.push(link);
    }
    this.closeVessel(source.job);
  }

  /** Once everything drawn from a vessel has its day, the vessel is free from the day after the last. */
  closeVessel(job: number): void {
    const placed = this.placed[job];
    const { vessel, stay } = this.slots[job] ?? NOWHERE;
    if (!placed || placed.day === null || !vessel || !stay) return;
    let emptied = placed.day + this.jobs[job]!.restDays;
    for (const consumer of this.jobs[job]!.consumers) {
      if (!consumer.held) continue;
      const next = this.placed[consumer.job];
      if (!next) return;
      if (next.day !== null) emptied = Math.max(emptied, next.day);
    }
    stay.to = emptied;
    placed.emptied = emptied;
  }

  undoTo(mark: number): void {
    while (this.log.length > mark) {
      const job = this.log.pop()!;
      const placed = this.placed[job]!;
      const slot = this.slots[job];
      // Stryker disable next-line LogicalOperator: as above, both or neither
      if (slot?.vessel && slot.stay) {
        slot.vessel.remove(slot.stay);
        this.wash(job, slot.vessel, slot.stay.from, false);
      }
      const { minutes, few, sources } = this.jobs[job]!;
      if (placed.day !== null) this.minutes.take(placed.day, -minutes, few);
      this.placed[job] = null;
      this.slots[job] = null;
      for (const source of sources) {
        const { stay } = this.slots[source.job] ?? NOWHERE;
        if (source.held && stay) stay.to = Number.POSITIVE_INFINITY;
      }
    }
  }
}

const linked = ({ job, held, after }: Link): Link => ({ job, held, after });

/** Each by its name: all of a row at once, with more besides, costs ten times as much, and every attempt begins with it. */
const timetableJob = (
  job: ScheduleJob,
  { few, vessels, isImpossible }: Pick<TimetableJob, 'few' | 'vessels' | 'isImpossible'>,
): TimetableJob => ({
  key: job.key,
  item: job.item,
  tier: job.tier,
  minutes: job.minutes,
  skill: job.skill,
  restDays: job.restDays,
  vesselKind: job.vesselKind,
  putInMg: job.putInMg,
  earliest: job.earliest,
  waitsFor: job.waitsFor,
  goodUntil: job.goodUntil,
  freshFrom: job.freshFrom,
  keepsDays: job.keepsDays,
  latest: job.latest,
  sources: job.sources.map(linked),
  consumers: job.consumers.map(linked),
  few,
  vessels,
  isImpossible,
});

/** What stands long in vessels, one after the other, takes longer than the least. */
function daysAhead(jobs: readonly ScheduleJob[], vessels: readonly VesselDays[]): number {
  const daysIn = new Map<string, number>();
  for (const { vesselKind, restDays } of jobs)
    if (vesselKind !== null) daysIn.set(vesselKind, (daysIn.get(vesselKind) ?? 0) + restDays + 1);
  let longest = 0;
  for (const [kind, days] of daysIn)
    longest = Math.max(longest, days / Math.max(1, vessels.filter((vessel) => vessel.kind === kind).length));
  return Math.min(SEARCH_DAYS.most, Math.max(SEARCH_DAYS.least, Math.ceil(2 * longest)));
}
