import type { Day } from '../measure/day.js';
import type { Crew, Few } from './crew.js';
import type { HeldUpBy } from './proposal.js';
import type { ScheduleVessel } from './vessel-days.js';
import type { Washing } from './washing.js';

/** A batch by its place in the list; `held` where it is drawn from its vessel, `after` so many days after the day it serves. */
export interface Link {
  job: number;
  held: boolean;
  after: number;
}

/** One batch to be given a day and a vessel. Sources and consumers are indices into the same list. */
export interface ScheduleJob {
  key: string;
  /** What is made, which decides what is washed before and after it. */
  item: string;
  /** 0 for customers, 1 for stock, 2 for what lacks something and takes only the room that all others leave. */
  tier: 0 | 1 | 2;
  minutes: number;
  /** What it asks for of who makes it; undefined where anybody may. */
  skill?: string;
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
  /** Who works here; null or undefined where nobody is said, and anybody may do anything. */
  crew?: Crew | null;
  /** Minutes already given away on a day of those who alone may do something. */
  usedByFew?: ReadonlyMap<Few, ReadonlyMap<Day, number>>;
  vessels: readonly ScheduleVessel[];
  /** What is washed between two pours; null or undefined where nothing is said of it. */
  washing?: Washing | null;
}

/** When what a batch takes of lots, deliveries and earlier batches is there. */
export type Comes = Pick<ScheduleJob, 'earliest' | 'waitsFor'>;

/** In which order batches get their days, and how. */
export interface Guide {
  /** Places in the list of jobs. What a batch draws from is placed before it all the same. */
  order: readonly number[];
  /** By job: whether it takes the first room there is, and not the last that is safe. Stock always does. */
  early: readonly boolean[];
  /** By job: for how many days an early one waits, though there is room. */
  waits: readonly number[];
  /** By job: how many of the smallest vessels it leaves to others as long as a larger one is free. */
  leaves: readonly number[];
  /** Places in the list of jobs: who takes first of what is there before a delivery. Empty: as the jobs themselves say. */
  takes: readonly number[];
  /** By job: what follows from that. */
  comes: readonly Comes[];
  /** By job: where it goes if there is room, whatever else is said; undefined where that is said of none. */
  pins?: readonly (Pin | null)[];
}

/** A day, and a vessel where one is needed. */
export interface Pin {
  day: Day;
  vessel: string | null;
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
