import { byText } from '../measure/text-order.js';
import type { HeldUpBy } from './proposal.js';
import type { Guide, Placed, ScheduleJob, ScheduleSetting } from './schedule-job.js';
import { findSpot, heldUpInAll, lastDayGood, whyNowhere } from './spots.js';
import { Timetable } from './timetable.js';

const FOREVER = Number.POSITIVE_INFINITY;

/**
 * Gives every batch a day and a vessel over finite bench minutes. Customers' batches go first, earliest due first, each
 * as late as is safe; all others then take the earliest room that is left. A vessel is busy from pour until the last
 * filling that draws from it; what orders do not fill is decanted then, and a bulk that stands in the way of what is made
 * with it is decanted once it is ready. A batch stands after everything it draws from.
 * Answers one placing a job, in the jobs' order.
 */
export function schedule(jobs: readonly ScheduleJob[], setting: ScheduleSetting): Placed[] {
  return new Scheduler(jobs, setting).place();
}

/** Places the same batches again and again, each time by another guide. */
export class Scheduler {
  /** Customers' batches first, earliest due first, each as late as is safe. */
  readonly asDue: Guide;
  private readonly table: Timetable;
  private readonly visiting = new Set<number>();

  constructor(
    readonly jobs: readonly ScheduleJob[],
    setting: ScheduleSetting,
  ) {
    this.asDue = {
      order: jobs.map((_, index) => index).sort((a, b) => compareDue(jobs[a]!, jobs[b]!)),
      early: jobs.map(() => false),
      waits: jobs.map(() => 0),
      leaves: jobs.map(() => 0),
      takes: [],
      comes: jobs,
    };
    this.table = new Timetable(jobs, setting, this.asDue);
  }

  /** Answers one placing a job, in the jobs' order; it is not changed by what is placed later. */
  place(guide: Guide = this.asDue): Placed[] {
    this.table.clear(guide);
    for (const job of guide.order) this.settle(job);
    return this.table.placed.map((placed, job) => {
      if (!placed) return unplaced('source');
      const heldUpBy = heldUpInAll(this.table, job, placed);
      return heldUpBy === placed.heldUpBy ? placed : { ...placed, heldUpBy };
    });
  }

  /** Places a job after its sources, then at once whatever draws from it, so that its vessel comes free. */
  private settle(job: number): void {
    const { table } = this;
    if (table.placed[job] || this.visiting.has(job)) return;
    this.visiting.add(job);
    for (const source of table.jobs[job]!.sources) this.settle(source.job);
    this.visiting.delete(job);
    if (table.placed[job]) return;
    const isPlaced = (): boolean => this.tryPlace(job, false) || this.tryPlace(job, true);
    if (!isPlaced() && !(this.decantInTheWay(job) && isPlaced())) {
      table.giveUp(job, this.tooOldFor(job) ?? unplaced(whyNowhere(table, job)));
      return;
    }
    // what also waits for another vessel is settled next, so that this one is not kept busy for longer than it must
    for (const consumer of table.jobs[job]!.consumers) if (consumer.held) this.settle(consumer.job);
  }

  /** Says so where only the last day of what it is made of leaves a batch no room; null elsewhere. */
  private tooOldFor(job: number): Placed | null {
    const { table } = this;
    if (lastDayGood(table, job) === FOREVER) return null;
    const spot = findSpot(table, job, false, FOREVER) ?? findSpot(table, job, true, FOREVER);
    return spot && { ...unplaced('expires'), roomOn: spot.day };
  }

  /**
   * Where a batch needs the very vessels in which bulks stand that it, or a filling from it, is to draw from, those are
   * decanted once they are ready. Answers whether there was any.
   */
  private decantInTheWay(job: number): boolean {
    const { jobs } = this.table;
    const { vesselKind, consumers } = jobs[job]!;
    if (vesselKind === null) return false;
    let isDecanted = false;
    for (const user of [job, ...consumers.filter(({ held }) => held).map((consumer) => consumer.job)])
      for (const source of jobs[user]!.sources) {
        if (!source.held || this.table.vesselOf(source.job)?.kind !== vesselKind) continue;
        this.table.decant(source, user);
        isDecanted = true;
      }
    return isDecanted;
  }

  /**
   * One try at a job and all that is filled from its vessel. `afterAll` asks for a vessel nobody has booked later on, which
   * always leaves room for late fillings. On failure everything this try did is taken back.
   */
  private tryPlace(job: number, afterAll: boolean): boolean {
    const mark = this.table.mark();
    const spot = findSpot(this.table, job, afterAll);
    if (!spot) return false;
    this.table.take(job, spot);
    if (this.settleHeld(job)) {
      this.table.closeVessel(job);
      return true;
    }
    this.table.undoTo(mark);
    return false;
  }

  /** Places everything that draws straight from this job's vessel and has all its sources; false if one finds no day. */
  private settleHeld(job: number): boolean {
    const { jobs, placed } = this.table;
    const waiting = jobs[job]!.consumers.filter((consumer) => consumer.held && !placed[consumer.job])
      .map((consumer) => consumer.job)
      .sort((a, b) => jobs[a]!.latest - jobs[b]!.latest || byText(jobs[a]!.key, jobs[b]!.key));
    for (const consumer of waiting) {
      if (placed[consumer] || !jobs[consumer]!.sources.every((source) => placed[source.job])) continue;
      if (this.tryPlace(consumer, false) || this.tryPlace(consumer, true)) continue;
      // what is made for others does not wait for what it would be too old for
      const tooOld = this.tooOldFor(consumer);
      if (!tooOld) return false;
      this.table.giveUp(consumer, tooOld);
    }
    return true;
  }
}

const unplaced = (heldUpBy: HeldUpBy): Placed => ({ day: null, ready: null, vessel: null, emptied: null, heldUpBy });

const compareDue = (a: ScheduleJob, b: ScheduleJob): number =>
  a.tier - b.tier || a.latest - b.latest || byText(a.key, b.key);
