import { describe, expect, it } from 'vitest';
import { Crew } from '../../src/kernel/plan/crew.js';
import { DayMinutes, type FewMinutes } from '../../src/kernel/plan/day-minutes.js';
import type { ScheduleSetting } from '../../src/kernel/plan/schedule-job.js';
import { person } from '../support/people.js';

/** Monday 5 January 1970. */
const MONDAY = 4;

/** Two hours a day from Monday on, but none on Tuesday; an hour of Wednesday is taken. */
const setting = (rest: Partial<ScheduleSetting> = {}): ScheduleSetting => ({
  start: MONDAY,
  openMinutes: (day) => (day === MONDAY + 1 ? 0 : 120),
  longestDay: 120,
  usedMinutes: new Map([[MONDAY + 2, 60]]),
  vessels: [],
  ...rest,
});

/** The most of some minutes that each day from Monday to Thursday has; nothing where it is not looked at or closed. */
const seen = (days: DayMinutes, few?: readonly FewMinutes[]): (number | undefined)[] =>
  [0, 1, 2, 3].map((n) => [120, 60, 45, 15, 0].find((minutes) => days.has(MONDAY + n, minutes, few)));

describe('minutes of a setting', () => {
  it('are what is open and not taken', () => {
    expect(seen(new DayMinutes(setting(), MONDAY + 4))).toEqual([120, undefined, 60, 120]);
  });

  it('are as at first for each that asks, however far that looks, and whatever another took', () => {
    const of = setting();
    const near = new DayMinutes(of, MONDAY + 3);
    near.take(MONDAY, 60, []);
    expect(seen(near)).toEqual([60, undefined, 60, undefined]);
    expect(seen(new DayMinutes(of, MONDAY + 4))).toEqual([120, undefined, 60, 120]);
    expect(seen(new DayMinutes(of, MONDAY + 3))).toEqual([120, undefined, 60, undefined]);
    near.reset();
    expect(seen(near)).toEqual([120, undefined, 60, undefined]);
  });

  it('are worked out once, as far as any has looked', () => {
    let asked = 0;
    const of = setting({ openMinutes: () => ++asked });
    expect([4, 4, 3].map((days) => seen(new DayMinutes(of, MONDAY + days))[0])).toEqual([0, 0, 0]);
    expect(asked).toBe(4);
  });

  it('are more than any day has, whatever is placed', () => {
    const days = new DayMinutes(setting(), MONDAY + 4);
    days.take(MONDAY, 100, []);
    expect([days.everHad(120, []), days.everHad(121, [])]).toEqual([true, false]);
  });
});

describe('minutes of those who alone may do something', () => {
  /** Ada alone may mix lye, for three quarters of an hour a day; of Thursday's a half is taken. */
  const crew = new Crew([person('Ada', 45, ['lye']), person('Bea', 75)], new Set(['lye']));
  const shared = () =>
    new DayMinutes(setting({ crew, usedByFew: new Map([[crew.few[0]!, new Map([[MONDAY + 3, 30]])]]) }), MONDAY + 4);

  it('are taken and given back beside those of everybody', () => {
    const days = shared();
    const lye = days.fewFor('lye');
    expect(days.fewFor('lye')).toBe(lye);
    expect(seen(days, lye)).toEqual([45, undefined, 45, 15]);
    expect(seen(days)).toEqual([120, undefined, 60, 120]);
    days.take(MONDAY, 30, lye);
    expect([seen(days, lye)[0], seen(days)[0]]).toEqual([15, 60]);
    // what others do leaves Ada hers as long as there are any
    days.take(MONDAY, 75, []);
    expect([days.has(MONDAY, 15, lye), days.has(MONDAY, 16, lye)]).toEqual([true, false]);
    days.take(MONDAY, -30, lye);
    expect(days.has(MONDAY, 45, lye)).toBe(true);
    days.reset();
    expect(seen(days, lye)).toEqual([45, undefined, 45, 15]);
  });

  it('are nothing apart where anybody may do it, or nobody is named', () => {
    expect([shared().fewFor('cut'), shared().fewFor(undefined)]).toEqual([[], []]);
    expect(new DayMinutes(setting(), MONDAY + 4).fewFor('lye')).toEqual([]);
  });

  it('are never more than the longest day of theirs', () => {
    const days = shared();
    const lye = days.fewFor('lye');
    expect([days.everHad(45, lye), days.everHad(46, lye), days.everHad(46, [])]).toEqual([true, false, true]);
  });

  it('are as they work where none of them are taken', () => {
    const days = new DayMinutes(setting({ crew }), MONDAY + 4);
    expect(seen(days, days.fewFor('lye'))).toEqual([45, undefined, 45, 45]);
  });
});
