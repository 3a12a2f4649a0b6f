import type { Day } from '../measure/day.js';

export interface ScheduleVessel {
  code: string;
  kind: string;
  capacityMg: number;
  /** First and last day of each time it is taken already. */
  busy: readonly { from: Day; to: Day }[];
}

/** A time in which a vessel is taken, both days included; to Infinity until its end is known. */
export interface Stay {
  from: Day;
  to: Day;
}

/**
 * On which days a vessel is taken. Days are counted one by one: thousands of stays are then no slower to ask than a few.
 * Stays may lie over each other, where what happened did.
 */
export class VesselDays implements ScheduleVessel {
  readonly code: string;
  readonly kind: string;
  readonly capacityMg: number;
  readonly busy: ScheduleVessel['busy'];
  /** How many stays there are on each day from `start` on; the last of them stands for all that come after it. */
  private readonly taken: Int32Array;
  /** For each of these days the first from it on that is taken, as found when it was last asked for. */
  private readonly nextTaken: Int32Array;
  private isChanged = true;
  /** How many stays begin on each day. */
  private readonly begun: Int32Array;

  /** It is asked about the `days` days from `start` on. */
  constructor(
    vessel: ScheduleVessel,
    private readonly start: Day,
    days: number,
  ) {
    this.code = vessel.code;
    this.kind = vessel.kind;
    this.capacityMg = vessel.capacityMg;
    this.busy = vessel.busy;
    const lastBusy = vessel.busy.reduce((last, { to }) => Math.max(last, to), start);
    this.taken = new Int32Array(Math.max(days, lastBusy - start + 1) + 1);
    this.nextTaken = new Int32Array(this.taken.length);
    this.begun = new Int32Array(this.taken.length);
    for (const { from, to } of vessel.busy) this.add({ from, to });
  }

  isFree(from: Day, to: Day): boolean {
    if (this.isChanged) this.findNextTaken();
    return this.nextTaken[from - this.start]! > this.indexOf(to);
  }

  /** The first day after `day` on which a stay begins; Infinity where there is none. */
  nextBegun(day: Day): Day {
    for (let i = day - this.start + 1; i < this.begun.length; i++) if (this.begun[i]! > 0) return this.start + i;
    return Number.POSITIVE_INFINITY;
  }

  add(stay: Stay): void {
    this.count(stay.from, stay.to, 1);
    this.begin(stay, 1);
  }

  remove(stay: Stay): void {
    this.count(stay.from, stay.to, -1);
    this.begin(stay, -1);
  }

  /** Says until when a stay lasts. */
  end(stay: Stay, to: Day): void {
    if (to > stay.to) this.count(stay.to + 1, to, 1);
    else this.count(to + 1, stay.to, -1);
    stay.to = to;
  }

  private findNextTaken(): void {
    let next = this.taken.length;
    for (let i = next - 1; i >= 0; i--) {
      if (this.taken[i]! > 0) next = i;
      this.nextTaken[i] = next;
    }
    this.isChanged = false;
  }

  private count(from: Day, to: Day, by: 1 | -1): void {
    this.isChanged = true;
    const last = this.indexOf(to);
    for (let i = Math.max(0, from - this.start); i <= last; i++) this.taken[i]! += by;
  }

  private begin({ from }: Stay, by: 1 | -1): void {
    if (from >= this.start) this.begun[from - this.start]! += by;
  }

  private indexOf(day: Day): number {
    return Math.min(day - this.start, this.taken.length - 1);
  }
}
