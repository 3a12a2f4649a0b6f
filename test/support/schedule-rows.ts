import { schedule, Scheduler } from '../../src/kernel/plan/schedule.js';
import type { Pin, Placed, ScheduleJob, ScheduleSetting } from '../../src/kernel/plan/schedule-job.js';
import type { ScheduleVessel } from '../../src/kernel/plan/vessel-days.js';

/** A batch by its key, and the keys of those it draws from; `held`: from their vessel. */
export interface Drawing extends ScheduleJob {
  from?: string[];
  held?: string[];
  /** So many days after its day it takes what it draws. */
  after?: number;
}

const KEEPS = Number.POSITIVE_INFINITY;

/** A batch of an hour for customers that may be made from day 0 on. */
export const job = (key: string, latest: number, rest: Partial<Drawing> = {}): Drawing => ({
  key,
  item: key,
  tier: 0,
  minutes: 60,
  restDays: 0,
  vesselKind: null,
  putInMg: 1_000,
  earliest: 0,
  waitsFor: 'delivery',
  goodUntil: KEEPS,
  freshFrom: -KEEPS,
  keepsDays: KEEPS,
  latest,
  sources: [],
  consumers: [],
  ...rest,
});
export const stock = (key: string, rest: Partial<Drawing> = {}) => job(key, 0, { tier: 1, ...rest });
export const pot = (code: string, capacityMg: number, ...busy: [number, number][]): ScheduleVessel => ({
  code,
  kind: 'pot',
  capacityMg,
  busy: busy.map(([from, to]) => ({ from, to })),
});

function linked(rows: Drawing[]): ScheduleJob[] {
  const at = (key: string) => rows.findIndex((row) => row.key === key);
  return rows.map((row) => ({
    ...row,
    sources: [
      ...(row.from ?? []).map((key) => ({ job: at(key), held: false, after: row.after ?? 0 })),
      ...(row.held ?? []).map((key) => ({ job: at(key), held: true, after: 0 })),
    ],
    consumers: rows.flatMap((other, index) => [
      ...((other.from ?? []).includes(row.key) ? [{ job: index, held: false, after: 0 }] : []),
      ...((other.held ?? []).includes(row.key) ? [{ job: index, held: true, after: 0 }] : []),
    ]),
  }));
}

type Setting = Partial<ScheduleSetting> & { closed?: number[] };

/** Open 120 minutes a day, but on the `closed` ones. */
const settingOf = ({ closed = [], ...setting }: Setting): ScheduleSetting => ({
  start: 0,
  openMinutes: (day) => (closed.includes(day) ? 0 : 120),
  longestDay: 120,
  usedMinutes: new Map(),
  vessels: [],
  ...setting,
});

const byKey = (rows: readonly Drawing[], placings: readonly Placed[]): Record<string, Placed> =>
  Object.fromEntries(rows.map((row, index) => [row.key, placings[index]!]));

export const placed = (rows: Drawing[], rest: Setting = {}): Record<string, Placed> =>
  byKey(rows, schedule(linked(rows), settingOf(rest)));

/** How a batch is placed, where it is not as usual. */
interface Guided {
  early?: boolean;
  waits?: number;
  leaves?: number;
  pin?: Pin;
}

/** By another guide: what it says of a batch, by its key. */
export function guided(rows: Drawing[], by: Record<string, Guided>, rest: Setting = {}): Record<string, Placed> {
  const scheduler = new Scheduler(linked(rows), settingOf(rest));
  const guide = {
    ...scheduler.asDue,
    early: rows.map(({ key }) => by[key]?.early ?? false),
    waits: rows.map(({ key }) => by[key]?.waits ?? 0),
    leaves: rows.map(({ key }) => by[key]?.leaves ?? 0),
    pins: rows.map(({ key }) => by[key]?.pin ?? null),
  };
  return byKey(rows, scheduler.place(guide));
}
export const days = (placings: Record<string, Placed>) =>
  Object.fromEntries(Object.entries(placings).map(([key, { day }]) => [key, day]));
export const held = (placings: Record<string, Placed>) =>
  Object.fromEntries(Object.entries(placings).map(([key, { heldUpBy }]) => [key, heldUpBy]));
