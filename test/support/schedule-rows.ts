import { schedule } from '../../src/kernel/plan/schedule.js';
import type { Placed, ScheduleJob, ScheduleSetting } from '../../src/kernel/plan/schedule-job.js';
import type { ScheduleVessel } from '../../src/kernel/plan/vessel-days.js';

/** A batch by its key, and the keys of those it draws from; `held`: from their vessel. */
export interface Drawing extends ScheduleJob {
  from?: string[];
  held?: string[];
}

const KEEPS = Number.POSITIVE_INFINITY;

/** A batch of an hour for customers that may be made from day 0 on. */
export const job = (key: string, latest: number, rest: Partial<Drawing> = {}): Drawing => ({
  key,
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
      ...(row.from ?? []).map((key) => ({ job: at(key), held: false, after: 0 })),
      ...(row.held ?? []).map((key) => ({ job: at(key), held: true, after: 0 })),
    ],
    consumers: rows.flatMap((other, index) => [
      ...((other.from ?? []).includes(row.key) ? [{ job: index, held: false, after: 0 }] : []),
      ...((other.held ?? []).includes(row.key) ? [{ job: index, held: true, after: 0 }] : []),
    ]),
  }));
}

/** Open 120 minutes a day, but on the `closed` ones. */
export function placed(
  rows: Drawing[],
  rest: Partial<ScheduleSetting> & { closed?: number[] } = {},
): Record<string, Placed> {
  const { closed = [], ...setting } = rest;
  const placings = schedule(linked(rows), {
    start: 0,
    openMinutes: (day) => (closed.includes(day) ? 0 : 120),
    longestDay: 120,
    usedMinutes: new Map(),
    vessels: [],
    ...setting,
  });
  return Object.fromEntries(rows.map((row, index) => [row.key, placings[index]!]));
}
export const days = (placings: Record<string, Placed>) =>
  Object.fromEntries(Object.entries(placings).map(([key, { day }]) => [key, day]));
export const held = (placings: Record<string, Placed>) =>
  Object.fromEntries(Object.entries(placings).map(([key, { heldUpBy }]) => [key, heldUpBy]));
