import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { unevenness } from '../../src/kernel/plan/evenness.js';
import type { Job } from '../../src/kernel/plan/job.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { Placed } from '../../src/kernel/plan/schedule-job.js';
import { beingMade, day, openShop, product } from '../support/open-shop.js';

const NOTHING_WASHED = { planned: new Map(), making: new Map() };

/** Monday has 480 minutes, Tuesday 240, Wednesday none. */
const of = (making: Parameters<typeof openShop>[0]['making'] = []) =>
  buildModel(openShop({ items: [product('A')], making }, { benchMinutes: [480, 240, 0, 480, 480, 480, 480] }));

const made = (minutes: number, on: number | null) =>
  [{ minutes } as Job, { day: on === null ? null : dayOf(day(on)) } as Placed] as const;

describe('how unevenly days are filled', () => {
  it('is the square of what part of a day is used, day by day', () => {
    expect(unevenness(of(), [], NOTHING_WASHED)).toBe(0);
    expect(unevenness(of(), [made(240, 0)], NOTHING_WASHED)).toBe(250_000);
    expect(unevenness(of(), [made(240, 1)], NOTHING_WASHED)).toBe(1_000_000);
    expect(unevenness(of(), [made(120, 0), made(120, 0), made(60, 1)], NOTHING_WASHED)).toBe(250_000 + 62_500);
    expect(unevenness(of(), [made(240, null)], NOTHING_WASHED)).toBe(0);
  });

  it('counts what is in the making, and what is washed', () => {
    const making = [beingMade('A', 1, 0, { day: day(0), minutes: 120 })];
    expect(unevenness(of(making), [made(120, 0)], NOTHING_WASHED)).toBe(250_000);
    const washed = (more: number) => ({ key: 'A/1', day: dayOf(day(0)), minutes: 90, more, after: 'A' });
    const all = { planned: new Map([['A/1', washed(90)]]), making: new Map([['M', washed(30)]]) };
    expect(unevenness(of(making), [], all)).toBe(250_000);
  });

  it('is a number where the workshop never opens', () => {
    const never = buildModel(openShop({ items: [product('A')] }, { benchMinutes: [0, 0, 0, 0, 0, 0, 0] }));
    expect(unevenness(never, [made(2, 0)], NOTHING_WASHED)).toBe(4_000_000);
  });

  it('takes a day that is closed as the longest', () => {
    const making = [beingMade('A', 1, 2, { day: day(2), minutes: 240 })];
    expect(unevenness(of(making), [], NOTHING_WASHED)).toBe(250_000);
  });
});
