import { describe, expect, it } from 'vitest';
import { deviationOfUse, deviationOver, forecast, patternOf, useOver } from '../../src/kernel/buy/forecast.js';

const weeks = (count: number, used: (week: number) => number): number[] =>
  Array.from({ length: count }, (_, n) => used(n));
const alternating = (count: number) => weeks(count, (n) => (n % 2 === 0 ? 5 : 9));

describe('what a history says', () => {
  it('is nothing below six weeks from the first use on', () => {
    expect(forecast([], 2, 1)).toBeNull();
    expect(
      forecast(
        weeks(60, () => 0),
        2,
        1,
      ),
    ).toBeNull();
    expect(forecast([0, 0, 0, 1, 2, 3, 4, 5], 2, 1)).toBeNull();
    expect(forecast([0, 0, 0, 1, 2, 3, 4, 5, 6], 2, 1)).toMatchObject({ weeksOfHistory: 6 });
  });

  it('leaves out weeks before the first use, and all before the last three years', () => {
    expect(forecast([0, 0, ...alternating(20)], 2, 1)).toMatchObject({ weeksOfHistory: 20, intervalWeeks: 1 });
    expect(
      forecast(
        weeks(170, () => 1),
        2,
        1,
      ),
    ).toMatchObject({ weeksOfHistory: 156 });
    expect(
      forecast(
        weeks(40, () => 1),
        2,
        1,
        12,
      ),
    ).toMatchObject({ weeksOfHistory: 36 });
  });

  it('is the mean where fewer than eight sums could be judged, as uncertain as its weeks are few', () => {
    // mean 4, squares 1 + 0 + 1 + 1 + 0 + 1 over five
    const found = forecast([3, 4, 5, 3, 4, 5], 2, 3)!;
    expect(found).toEqual({
      chosen: { method: 'mean', alpha: null, spreadWeeks: null },
      errors: [],
      naiveRmse: null,
      seasonalNaiveRmse: null,
      horizonWeeks: 2,
      origins: 0,
      weekly: [4, 4, 4],
      weekDeviation: Math.sqrt(0.8 * (1 + 1 / 6)),
      horizonDeviation: Math.sqrt(0.8 * 2 * (1 + 2 / 6)),
      deviationAt: null,
      pattern: 'smooth',
      intervalWeeks: 1,
      uses: 6,
      // squares 4 over six and sixteen; the mean of six strays by the root of a sixth of that
      sizeVariation: 4 / 6 / 16,
      rateError: expect.closeTo(Math.sqrt(4 / 6 / 16 / 6), 12) as number,
      weeksOfHistory: 6,
      said: null,
    });
    // judged from week 8 on: of 16 weeks seven sums of two, of 17 eight
    expect(forecast(alternating(16), 2, 1)).toMatchObject({ origins: 0, errors: [] });
    expect(forecast(alternating(17), 2, 1)).toMatchObject({ origins: 8 });
  });

  it('looks ahead for whole weeks, at least one, and at most a third of the history', () => {
    const horizon = (asked: number) => forecast(alternating(21), asked, 1)!.horizonWeeks;
    expect([0, 0.4, 1, 1.5, 2.4, 7, 8].map(horizon)).toEqual([1, 1, 1, 2, 2, 7, 7]);
  });
});

describe('the method that is chosen', () => {
  it('is the steadiest of those hardly worse than the best', () => {
    // as steady as can be: all methods miss nothing, and the mean changes least
    const steady = forecast(
      weeks(40, () => 7),
      3,
      2,
    )!;
    expect(steady.chosen.method).toBe('mean');
    expect(steady).toMatchObject({ weekly: [7, 7], weekDeviation: 0, horizonDeviation: 0, naiveRmse: 0, origins: 30 });
    // a step of use that stays: the fastest smoothing is nearest
    const step = forecast(
      weeks(40, (n) => (n < 20 ? 10 : 100)),
      1,
      1,
    )!;
    expect(step.chosen).toEqual({ method: 'smoothing', alpha: 0.8, spreadWeeks: null });
    expect(step.errors[0]).toMatchObject(step.chosen);
    expect(step.errors[0]!.rmse).toBeLessThan(step.errors[1]!.rmse / 1.02);
    expect(step.weekly[0]).toBeCloseTo(100, 6);
  });

  it('is beside what the last week again would have missed', () => {
    // 5 and 9 by turns: the next is always four off
    const found = forecast(alternating(30), 1, 1)!;
    expect(found.naiveRmse).toBe(4);
    expect(found.seasonalNaiveRmse).toBeNull();
    // sums of two are always 14, and the last week again says 10 or 18
    expect(forecast(alternating(30), 2, 1)!.naiveRmse).toBe(4);
    expect(found.errors).toHaveLength(7);
  });

  it('looks for years of whatever length is said', () => {
    const yearly = weeks(40, (n) => (n % 10 === 0 ? 50 : 3));
    const found = forecast(yearly, 1, 11, 10)!;
    expect(found.chosen.method).toBe('same-weeks-last-year');
    expect(found).toMatchObject({ seasonalNaiveRmse: 0, origins: 20, weeksOfHistory: 30 });
    expect(found.weekly).toEqual([50, 3, 3, 3, 3, 3, 3, 3, 3, 3, 50]);
  });
});

describe('how far a sum of weeks strays', () => {
  it('is between what single weeks and whole sums say, the sums counting the more of them there are', () => {
    // 30 weeks of one use: as steady as a clock, but each tenth week is dear
    const found = forecast(
      weeks(30, (n) => (n % 3 === 0 ? 40 : 10)),
      3,
      1,
    )!;
    const chosen = found.errors.find(
      ({ method, alpha }) => method === found.chosen.method && alpha === found.chosen.alpha,
    )!;
    // 20 origins of three weeks are 6.67 windows beside ten
    expect(found.origins).toBe(20);
    const share = 20 / 3 / (20 / 3 + 10);
    const squared = share * chosen.rmse ** 2 + (1 - share) * 3 * found.weekDeviation ** 2;
    expect(found.horizonDeviation).toBeCloseTo(Math.sqrt(squared), 9);
  });

  it('goes by the root before one week and beyond the horizon, and steadily between', () => {
    const judged = { horizonWeeks: 4, horizonDeviation: 80, weekDeviation: 10 };
    // from 10 at one week to 80 at four: weeks to the power of 1.5
    expect(deviationOver(judged, 2)).toBeCloseTo(10 * 2 ** 1.5, 9);
    expect(deviationOver(judged, 1)).toBe(10);
    expect(deviationOver(judged, 0.25)).toBe(5);
    expect(deviationOver(judged, 4)).toBe(80);
    expect(deviationOver(judged, 16)).toBe(160);
    // where single weeks never stray there is no way between
    expect(deviationOver({ ...judged, weekDeviation: 0 }, 1)).toBe(40);
    expect(deviationOver({ horizonWeeks: 1, horizonDeviation: 6, weekDeviation: 6 }, 0.25)).toBe(3);
  });
});

describe('how far use strays by what is expected', () => {
  /** A wave from 20 to 180 and back, and a little beside it that no year repeats. */
  const wave = weeks(104, (n) => 100 + 80 * Math.cos((2 * Math.PI * n) / 52) + 6 * ((n % 5) - 2));

  it('is in proportion to what is expected, down to a fifth of what was found', () => {
    const found = forecast(wave, 4, 52)!;
    expect(found.chosen.method).toBe('yearly-wave');
    // level and swing by their squares: the root of 100 squared and half of 80 squared
    expect(found.deviationAt).toBeCloseTo(Math.sqrt(10_000 + 3_200), 0);
    expect(useOver(found, 1)).toBeCloseTo(180, 0);
    expect(deviationOfUse(found, 1)).toBeCloseTo((found.weekDeviation * useOver(found, 1)) / found.deviationAt!, 9);
    expect(deviationOfUse(found, 1)).toBeGreaterThan(found.weekDeviation * 1.5);
    const low = { ...found, weekly: [1] };
    expect(deviationOfUse(low, 4)).toBeCloseTo(found.horizonDeviation / 5, 9);
    // where it does not go by the year, or nothing was forecast, it is what was found
    for (const deviationAt of [null, 0])
      expect(deviationOfUse({ ...low, deviationAt }, 4)).toBe(found.horizonDeviation);
  });

  it('is so for all that is not rare, and for that only by the time of the year', () => {
    const found = (every: number) =>
      forecast(
        weeks(40, (n) => (n % every ? 0 : 10 + (n % 7))),
        2,
        1,
      )!.deviationAt;
    expect(found(1)).toBeGreaterThan(10);
    expect(found(2)).toBeNull();
  });

  it('counts parts of weeks, and the last week on', () => {
    const of = (over: number) => useOver({ weekly: [10, 20, 40] }, over);
    expect([of(0.5), of(1), of(1.5), of(3), of(4.25), useOver({ weekly: [] }, 3)]).toEqual([5, 10, 20, 70, 120, 0]);
  });
});

describe('how use comes', () => {
  const pattern = (series: number[]) => forecast(series, 1, 1)!;

  it('is rare where there are more than 1.32 weeks between uses', () => {
    // 25 uses in 33 weeks are 1.32 exactly
    const uses = (used: number, of: number) => weeks(of, (n) => (n < used ? 4 : 0));
    expect(pattern(uses(25, 33))).toMatchObject({ pattern: 'smooth', intervalWeeks: 1.32 });
    expect(pattern(uses(25, 34))).toMatchObject({ pattern: 'intermittent', intervalWeeks: 1.36 });
  });

  it('strays where the squared variation of its sizes is above 0.49', () => {
    // 1 and 5 by turns: two thirds from the mean of three, squared 0.444; 1 and 6: 5/7 squared, 0.51
    expect(pattern(weeks(20, (n) => (n % 2 ? 5 : 1))).pattern).toBe('smooth');
    expect(pattern(weeks(20, (n) => (n % 2 ? 6 : 1))).pattern).toBe('erratic');
    expect(pattern([0, 1, 0, 6].flatMap((used) => [used, 0, 0])).pattern).toBe('lumpy');
    // 1 and 2.4 are 7/17 of their mean apart from it, 0.7 squared is 0.49 itself
    expect(patternOf({ intervalWeeks: 1.32, sizeVariation: 0.49 })).toBe('smooth');
    expect(patternOf({ intervalWeeks: 1.33, sizeVariation: 0.5 })).toBe('lumpy');
  });

  it('is uncertain by how seldom and unevenly it comes, and in how many weeks', () => {
    // 1 and 5 by turns in every second week of 24: 12 uses of 3, squared variation 4/9; (13/9 x 2 - 1) over 24
    const found = pattern(weeks(24, (n) => (n % 2 ? 0 : n % 4 ? 5 : 1)));
    expect(found).toMatchObject({ uses: 12, intervalWeeks: 2 });
    expect(found.sizeVariation).toBeCloseTo(4 / 9, 12);
    expect(found.rateError).toBeCloseTo(Math.sqrt(((13 / 9) * 2 - 1) / 24), 12);
  });

  it('tells methods apart the less the more rarely it comes', () => {
    // one use in three weeks, more of late: smoothing is nearer, but by no more than chance in five windows
    const rising = (count: number) => weeks(count, (n) => (n % 3 ? 0 : 20 + n));
    const few = pattern(rising(30));
    expect(few.errors[0]!.method).not.toBe('mean');
    const mean = few.errors.find(({ method }) => method === 'mean')!;
    expect(mean.rmse / few.errors[0]!.rmse).toBeGreaterThan(1.02);
    expect(mean.rmse / few.errors[0]!.rmse).toBeLessThan(1 + 1 / Math.sqrt(few.origins));
    expect(few.chosen.method).toBe('mean');
  });
});
