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
 * On which days a vessel is taken: its stays in order of time. Those it had before may lie over each other, where what
 * happened did, and are one here; what a plan adds lies where it was free.
 */
export class VesselDays implements ScheduleVessel {
  readonly code: string;
  readonly kind: string;
  readonly capacityMg: number;
  readonly busy: ScheduleVessel['busy'];
  private readonly before: readonly Stay[];
  private stays: Stay[];

  constructor(vessel: ScheduleVessel) {
    this.code = vessel.code;
    this.kind = vessel.kind;
    this.capacityMg = vessel.capacityMg;
    this.busy = vessel.busy;
    this.before = merged(vessel.busy);
    this.stays = [...this.before];
  }

  /** Takes back all that was added. */
  reset(): void {
    this.stays = [...this.before];
  }

  isFree(from: Day, to: Day): boolean {
    const next = this.stays[this.firstUntil(from)];
    return next === undefined || next.from > to;
  }

  /** The first day from `day` on that is not taken; Infinity where there is none. */
  firstFree(day: Day): Day {
    let free = day;
    for (let i = this.firstUntil(day); i < this.stays.length && this.stays[i]!.from <= free; i++)
      free = this.stays[i]!.to + 1;
    return free;
  }

  /** The first day after `day` on which a stay begins; Infinity where there is none. */
  nextBegun(day: Day): Day {
    const at = this.firstUntil(day);
    const next = this.stays[at]?.from === undefined || this.stays[at].from > day ? at : at + 1;
    return this.stays[next]?.from ?? Number.POSITIVE_INFINITY;
  }

  add(stay: Stay): void {
    this.stays.splice(this.firstUntil(stay.from), 0, stay);
  }

  remove(stay: Stay): void {
    this.stays.splice(this.stays.indexOf(stay, this.firstUntil(stay.from)), 1);
  }

  /** The place of the first stay that lasts until `day` or longer. */
  private firstUntil(day: Day): number {
    let [low, high] = [0, this.stays.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.stays[middle]!.to < day) low = middle + 1;
      else high = middle;
    }
    return low;
  }
}

function merged(busy: readonly Stay[]): Stay[] {
  const stays: Stay[] = [];
  for (const { from, to } of [...busy].sort((a, b) => a.from - b.from)) {
    const last = stays.at(-1);
    if (last && from <= last.to) last.to = Math.max(last.to, to);
    else stays.push({ from, to });
  }
  return stays;
}
