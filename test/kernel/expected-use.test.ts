import { describe, expect, it } from 'vitest';
import { alike, beginning, estimated, expectedUse, type Said } from '../../src/kernel/buy/expected-use.js';
import { forecast } from '../../src/kernel/buy/forecast.js';

const of = (history: readonly number[], said: Said | null, planned: readonly number[] = [], horizon = 4, weeks = 3) =>
  expectedUse({ history, said, planned }, horizon, weeks);
const times = (count: number, used: number): number[] => Array.from({ length: count }, () => used);

describe('an estimate', () => {
  const twelve = estimated([12, 12, 12]);

  it('speaks alone while nothing was used', () => {
    const found = of([], twelve)!;
    expect(found).toMatchObject({
      weekly: [12, 12, 12],
      weeksOfHistory: 0,
      horizonWeeks: 4,
      intervalWeeks: 1,
      pattern: 'smooth',
      said: { by: 'estimate', weekly: 12, ownShare: 0 },
    });
    // a week strays by half, and the estimate by a quarter: of four weeks 4 x 6 squared and 12 squared
    expect(found.weekDeviation).toBeCloseTo(Math.hypot(6, 3), 12);
    expect(found.horizonDeviation).toBeCloseTo(Math.sqrt(4 * 36 + 144), 12);
    expect(found.rateError).toBe(0.25);
  });

  it('counts as much as eight weeks of its own, which are as uncertain as they are few', () => {
    // 20 and 24: mean 22, variance 8
    const found = of([20, 24], twelve)!;
    expect(found.said).toEqual({ by: 'estimate', weekly: 12, ownShare: 0.2 });
    expect(found.weeksOfHistory).toBe(2);
    expect(found.weekly[2]).toBeCloseTo(0.2 * 22 + 0.8 * 12, 12);
    // a fifth of the one variance, four of the other, and what lies between the two
    const week = 0.2 * (8 * 1.5) + 0.8 * (36 + 9) + 0.2 * 0.8 * 10 ** 2;
    expect(found.weekDeviation).toBeCloseTo(Math.sqrt(week), 9);
    const four = 0.2 * (8 * 4 * (1 + 4 / 2)) + 0.8 * (4 * 36 + 144) + 0.2 * 0.8 * 40 ** 2;
    expect(found.horizonDeviation).toBeCloseTo(Math.sqrt(four), 9);
    const own = 4 / 22 ** 2 / 2;
    expect(found.rateError).toBeCloseTo(Math.sqrt(0.2 * own + 0.8 / 16 + 0.2 * 0.8 * (10 / 14) ** 2), 9);
  });

  it('is taken back by weeks without use, too, the first among them', () => {
    expect(of([0, 0], twelve)!.weekly[0]).toBeCloseTo(0.8 * 12, 12);
    const one = of([10], twelve)!;
    expect(one.weekly[0]).toBeCloseTo(10 / 9 + (8 / 9) * 12, 12);
    // own weeks: a third of them with use
    const rare = of([0, 0, 30, 0, 0, 50, 0, 0], twelve)!;
    expect(rare.weekly[0]).toBeCloseTo(0.5 * 10 + 0.5 * 12, 12);
    expect(rare.intervalWeeks).toBeCloseTo(1 / (0.5 * 0.25 + 0.5), 12);
    expect(rare).toMatchObject({ uses: 2, pattern: 'intermittent' });
    expect(rare.sizeVariation).toBeCloseTo(0.5 * (10 / 40) ** 2, 12);
    const never = of(times(8, 0), twelve)!;
    expect(never).toMatchObject({ uses: 0, intervalWeeks: 2 });
    expect(never.weekly[0]).toBeCloseTo(6, 12);
  });

  it('gives way to the methods there are where they can be judged, and to them alone after a year', () => {
    const rising = Array.from({ length: 30 }, (_, week) => 10 + week * 5);
    const own = forecast(rising, 4, 3)!;
    expect(own.chosen.method).toBe('smoothing');
    const found = of(rising, twelve)!;
    expect(found).toMatchObject({ chosen: own.chosen, errors: own.errors, origins: own.origins });
    expect(found.weekly[0]).toBeCloseTo((30 * own.weekly[0]! + 8 * 12) / 38, 9);
    expect(of(times(51, 9), twelve)!.said).not.toBeNull();
    expect(of(times(52, 9), twelve)).toEqual(forecast(times(52, 9), 4, 3));
  });

  it('begins on its day', () => {
    const rates = [70, 70, 70];
    expect(beginning(rates, 0, [7, 7, 7])).toEqual(rates);
    expect(beginning(rates, -30, [7, 7, 7])).toEqual(rates);
    expect(beginning(rates, 10, [7, 14])).toEqual(
      [7, (4 / 7) * 70 + (3 / 7) * 14, 70].map((used) => expect.closeTo(used, 9) as number),
    );
    expect(beginning(rates, 14, [])).toEqual([0, 0, 70]);
    const later = of([], estimated([0, 40]), [], 1, 3)!;
    expect(later.weekly).toEqual([0, 40, 40]);
    expect(later).toMatchObject({ weekDeviation: 0, said: { weekly: 0 } });
  });

  it('is for whole weeks, one at least', () => {
    expect(of([], twelve, [], 0)!.horizonWeeks).toBe(1);
    expect(of([], twelve, [], 2.6)!.horizonWeeks).toBe(3);
  });
});

describe('what is used like another', () => {
  it('is so many times as much, as often and as unevenly, and by the same weeks', () => {
    // 24 weeks of 30 and 0 by turns: mean 15, variance 225 x 24/23
    const other = forecast(
      Array.from({ length: 24 }, (_, week) => (week % 2 ? 0 : 30)),
      4,
      3,
    )!;
    const said = alike(other, 0.8);
    expect(said).toMatchObject({ by: 'like', intervalWeeks: 2, sizeVariation: 0, uses: 12 });
    expect(said.weekly).toEqual(other.weekly.map((used) => used * 0.8));
    expect(said.weekVariation).toBeCloseTo(other.weekDeviation / other.weekly[0]!, 12);
    expect(said.rateError).toBeCloseTo(Math.hypot(0.25, other.rateError), 12);
    const found = of([12, 12, 12, 12], said)!;
    expect(found.said).toEqual({ by: 'like', weekly: other.weekly[0]! * 0.8, ownShare: 1 / 3 });
    expect(found.intervalWeeks).toBeCloseTo(1 / (1 / 3 + 2 / 3 / 2), 12);
    // its own four, and two thirds of the other's twelve
    expect(found.uses).toBeCloseTo(12, 12);
  });

  it('strays as the other does at the level it was found at, or by half where nothing was expected', () => {
    const other = { ...forecast(times(20, 10), 2, 3)!, weekDeviation: 6, deviationAt: null };
    expect(alike(other, 1).weekVariation).toBe(0.6);
    expect(alike({ ...other, deviationAt: 30 }, 1).weekVariation).toBe(0.2);
    expect(alike({ ...other, weekly: [0] }, 1).weekVariation).toBe(0.5);
    expect(alike({ ...other, weekly: [] }, 1).weekVariation).toBe(0.5);
  });
});

describe('planned orders', () => {
  it('speak with its own weeks where three weeks with use are known, of four at least', () => {
    const found = of([], null, [30, 0, 60, 40])!;
    expect(found).toMatchObject({ weeksOfHistory: 0, said: { by: 'planned', weekly: 32.5, ownShare: 0 } });
    expect(found.weekly).toEqual([32.5, 32.5, 32.5]);
    expect(of([0, 0, 20], null, [30, 0, 70])).toMatchObject({
      weekly: [30, 30, 30],
      weeksOfHistory: 1,
      said: { by: 'planned', weekly: 100 / 3, ownShare: 0.25 },
    });
    // three weeks of orders are counted over four
    expect(of([], null, [30, 30, 30])).toMatchObject({ weekly: [22.5, 22.5, 22.5], said: { weekly: 22.5 } });
  });

  it('say nothing of what comes after them while they are one or two', () => {
    expect(of([], null, [30, 0, 0, 50])).toBeNull();
    expect(of([40], null, [0, 0, 50])).toBeNull();
    expect(of([40, 30, 20], null)).toBeNull();
    expect(of([], null)).toBeNull();
  });

  it('say nothing beside six weeks of its own, nor beside what is said', () => {
    expect(of(times(6, 10), null, times(6, 90))).toEqual(forecast(times(6, 10), 4, 3));
    expect(of([], estimated([12]), times(6, 90))!.weekly).toEqual([12, 12, 12]);
  });
});
