import type { Day } from '../measure/day.js';
import { byText } from '../measure/text-order.js';

export interface ScheduleVessel {
  code: string;
  kind: string;
  capacityMg: number;
  /** First and last day of each time it is taken already. */
  busy: readonly Busy[];
  /** The item that was last emptied out of it, where that is known. */
  held?: string;
}

/** A batch in the making that stands in a vessel, and how many of its minutes are for washing that first. */
export interface Busy {
  from: Day;
  to: Day;
  key?: string;
  item?: string;
  washing?: number;
  skill?: string;
}

/** A time in which a vessel is taken, both days included; to Infinity until its end is known. */
export interface Stay {
  from: Day;
  to: Day;
  /** The batch in the making that begins it. */
  key?: string;
  /** The item that is poured first in it, and the one that is emptied last: others where stays lay over each other. */
  first?: string;
  last?: string;
  /** What the batch that begins it asks for of who makes it. */
  skill?: string;
  /** Minutes for washing that a batch in the making has; undefined for what a plan adds. */
  promised?: number;
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
  readonly held: string | undefined;
  private readonly before: readonly Stay[];
  private stays: Stay[];

  constructor(vessel: ScheduleVessel) {
    this.code = vessel.code;
    this.kind = vessel.kind;
    this.capacityMg = vessel.capacityMg;
    this.busy = vessel.busy;
    this.held = vessel.held;
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

  /** The stays before and after a day on which it is free; undefined where there is none. */
  around(day: Day): [before: Stay | undefined, after: Stay | undefined] {
    const at = this.firstUntil(day);
    return [this.stays[at - 1], this.stays[at]];
  }

  /** All its stays, the first first. */
  inOrder(): readonly Stay[] {
    return this.stays;
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

function merged(busy: readonly Busy[]): Stay[] {
  const stays: Stay[] = [];
  const inOrder = [...busy].sort((a, b) => a.from - b.from || a.to - b.to || byText(a.key ?? '', b.key ?? ''));
  for (const { from, to, key, item, washing = 0, skill } of inOrder) {
    const last = stays.at(-1);
    if (last && from <= last.to) {
      if (to >= last.to) [last.to, last.last] = [to, item];
    } else stays.push({ from, to, key, first: item, last: item, promised: washing, skill });
  }
  return stays;
}
