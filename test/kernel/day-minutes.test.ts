import { describe, expect, it } from 'vitest';
import { Crew } from '../../src/kernel/plan/crew.js';
import { DayMinutes } from '../../src/kernel/plan/day-minutes.js';
import type { ScheduleSetting } from '../../src/kernel/plan/schedule-job.js';

/** Two hours a day from day 0 on, but none on day 1; an hour of day 2 is taken. */
const setting = (): ScheduleSetting => ({
  start: 0,
  openMinutes: (day) => (day === 1 ? 0 : 120),
  longestDay: 120,
  usedMinutes: new Map([[2, 60]]),
  vessels: [],
});

/** The most of 60 or 120 minutes that each day has, none as 0, as far as it looks. */
const seen = (days: DayMinutes): number[] =>
  [0, 1, 2, 3].map((day) => [120, 60].find((minutes) => days.has(day, minutes)) ?? (days.has(day, 0) ? 1 : 0));

describe('minutes of a setting', () => {
  it('are what is open and not taken', () => {
    expect(seen(new DayMinutes(setting(), 4))).toEqual([120, 0, 60, 120]);
  });

  it('are as at first for each that asks, however far that looks, and whatever another took', () => {
    const of = setting();
    const near = new DayMinutes(of, 3);
    near.take(0, 60, []);
    expect(seen(near)).toEqual([60, 0, 60, 0]);
    expect(seen(new DayMinutes(of, 4))).toEqual([120, 0, 60, 120]);
    expect(seen(new DayMinutes(of, 3))).toEqual([120, 0, 60, 0]);
    near.reset();
    expect(seen(near)).toEqual([120, 0, 60, 0]);
  });

  it('are more than any day has, whatever is placed', () => {
    const days = new DayMinutes(setting(), 4);
    days.take(0, 100, []);
    expect([days.everHad(120, []), days.everHad(121, [])]).toEqual([true, false]);
    // of those who alone may mix lye, Ada has 30 minutes on Mondays
    const ada = { name: 'Ada', minutes: [30, 0, 0, 0, 0, 0, 0], skills: ['lye'] };
    const bea = { name: 'Bea', minutes: [90, 90, 90, 90, 90, 90, 90], skills: [] };
    const crew = new Crew([ada, bea], new Set(['lye']));
    const shared = new DayMinutes({ ...setting(), crew }, 8);
    const few = shared.fewFor('lye');
    expect([shared.everHad(30, few), shared.everHad(31, few), shared.everHad(31, [])]).toEqual([true, false, true]);
  });
});
