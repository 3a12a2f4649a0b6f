import { describe, expect, it } from 'vitest';
import {
  type Candidate,
  candidatesFor,
  isSeasonal,
  METHODS,
  naive,
  rareUse,
  rollingError,
  rollingLevel,
  sameWeeks,
  smoothed,
  weeklyRate,
  yearlyWave,
} from '../../src/kernel/buy/forecast-methods.js';

describe('which methods a history can judge', () => {
  const of = (weeks: number, intervalWeeks = 1) =>
    candidatesFor({ weeks, horizonWeeks: 4, seasonWeeks: 52, intervalWeeks, warmUpWeeks: 8, leastOrigins: 8 });
  const named = (weeks: number, intervalWeeks?: number) =>
    of(weeks, intervalWeeks).candidates.map(({ method, alpha, spreadWeeks }) =>
      [method, alpha ?? spreadWeeks].filter((part) => part !== null).join(' '),
    );
  const smoothing = [0.05, 0.1, 0.2, 0.3, 0.5, 0.8].map((alpha) => `smoothing ${alpha}`);

  it('are the mean and smoothing, steadiest first', () => {
    expect(named(20)).toEqual(['mean', ...smoothing]);
  });

  it('are those for rare use where there is less than ten weeks of use in eleven', () => {
    expect(named(20, 1.1)).toEqual(['mean', ...smoothing]);
    const rare = [0.05, 0.1, 0.2, 0.3].map((alpha) => `rare-use ${alpha}`);
    expect(named(20, 1.11)).toEqual(['mean', ...rare, ...smoothing]);
  });

  it('are the same weeks of last year once eight sums of four weeks can be judged after a year', () => {
    // after week 52 the last sum of four begins in week 60 - of 63
    expect(of(62)).toMatchObject({ start: 8 });
    expect(named(62)).not.toContain('same-weeks-last-year 0');
    expect(of(63)).toMatchObject({ start: 52 });
    expect(named(62)).not.toContain('yearly-wave');
    expect(named(63).at(-4)).toBe('yearly-wave');
    expect(named(63).slice(-3)).toEqual(['same-weeks-last-year 2', 'same-weeks-last-year 1', 'same-weeks-last-year 0']);
  });
});

describe('one rise and fall a year', () => {
  const turn = (week: number) => (2 * Math.PI * week) / 10;
  const wave = (week: number) => 50 + 20 * Math.cos(turn(week)) - 30 * Math.sin(turn(week));
  const series = Array.from({ length: 23 }, (_, week) => wave(week));

  it('is found again in what it was made of, for every week ahead', () => {
    const rate = yearlyWave(series, 10);
    for (const known of [10, 14, 23])
      for (const ahead of [0, 3, 12]) expect(rate(known, ahead)).toBeCloseTo(wave(known + ahead), 8);
  });

  it('is the mean before a year is known, nothing before the first week, and never below zero', () => {
    const rate = yearlyWave(series, 10);
    expect(rate(0, 0)).toBe(0);
    expect(rate(9, 4)).toBeCloseTo(series.slice(0, 9).reduce((sum, used) => sum + used, 0) / 9, 9);
    const peak = Array.from({ length: 20 }, (_, week) => (week % 10 === 0 ? 100 : 0));
    const level = yearlyWave(peak, 10);
    // a tenth of 100, and twice that by the cosine
    expect(level(20, 0)).toBeCloseTo(30, 9);
    expect(level(20, 5)).toBe(0);
    expect(weeklyRate(peak, { method: 'yearly-wave', alpha: null, spreadWeeks: null }, 10)(20, 0)).toBeCloseTo(30, 9);
  });

  it('is the line nearest by squares: what is left over knows nothing of the wave', () => {
    const uneven = Array.from({ length: 25 }, (_, week) => 40 + ((week * week * 7) % 23));
    const rate = yearlyWave(uneven, 10);
    const left = uneven.map((used, week) => used - rate(25, week - 25));
    for (const term of [() => 1, (week: number) => Math.cos(turn(week)), (week: number) => Math.sin(turn(week))])
      expect(left.reduce((sum, missed, week) => sum + missed * term(week), 0)).toBeCloseTo(0, 8);
  });

  it('belongs with last year to what goes by the time of the year', () => {
    const of = (method: Candidate['method']) => isSeasonal({ method, alpha: null, spreadWeeks: null });
    expect(METHODS.filter(of)).toEqual(['yearly-wave', 'same-weeks-last-year']);
  });
});

it('tells at which level forecasts were made', () => {
  // of 3 and 4 made after the second and third week: the root of half of 25
  expect(rollingLevel([1, 3, 4, 9], naive([1, 3, 4, 9]), 2)).toBeCloseTo(Math.sqrt(12.5), 12);
});

describe('a forecast made after so many weeks', () => {
  const mean = { method: 'mean', alpha: null, spreadWeeks: null } as const;

  it('by the last week again is that week, and nothing before the first', () => {
    const rate = naive([3, 5]);
    expect([rate(0, 0), rate(1, 0), rate(2, 0), rate(2, 7)]).toEqual([0, 3, 5, 5]);
  });

  it('by the mean is that of all weeks known then', () => {
    const rate = weeklyRate([2, 4, 9], mean);
    expect([rate(0, 0), rate(1, 0), rate(2, 3), rate(3, 0)]).toEqual([0, 2, 3, 5]);
  });

  it('by smoothing starts from the mean of the first eight weeks', () => {
    // 1 to 8 are 4.5 in the mean; half way from there to 1, then half way to 2
    const rate = weeklyRate([1, 2, 3, 4, 5, 6, 7, 8, 100], { method: 'smoothing', alpha: 0.5, spreadWeeks: null });
    expect([rate(1, 0), rate(2, 0)]).toEqual([2.75, 2.375]);
    expect(smoothed([10, 0], 0.2, 5)).toEqual([6, 4.8]);
  });

  it('of rare use is its size over its waiting time, corrected', () => {
    // four after two weeks: two a week, less a tenth
    const rate = weeklyRate([0, 4, 0], { method: 'rare-use', alpha: 0.2, spreadWeeks: null });
    expect([rate(1, 0), rate(2, 0), rate(3, 0)]).toEqual([0, 1.8, 1.8]);
    // then nine after two more: 4 + 0.2 x 5, and 2 weeks as before
    expect(rareUse([0, 4, 0, 9], 0.2).at(-1)).toEqual({ size: 5, interval: 2, plain: 2.5, corrected: 2.25 });
  });

  it('by the same weeks goes back as many seasons as it takes', () => {
    const rate = sameWeeks([1, 2, 3, 4, 5, 6], 0, 4);
    expect([rate(6, 0), rate(6, 3), rate(6, 4), rate(6, 7), rate(6, 8)]).toEqual([3, 6, 3, 6, 3]);
    expect(
      weeklyRate([1, 2, 3, 4, 5, 6], { method: 'same-weeks-last-year', alpha: null, spreadWeeks: 0 }, 4)(6, 0),
    ).toBe(3);
  });

  it('by the same weeks takes those beside them into the mean, as far as they were known', () => {
    const wide = sameWeeks([1, 2, 3, 4, 5, 6], 1, 4);
    expect([wide(6, 0), wide(6, 3), wide(4, 0)]).toEqual([3, 5.5, 1.5]);
    // two weeks before the first
    const before = (spread: number) => sameWeeks([1, 2, 3, 4, 5, 6], spread, 4)(2, 0);
    expect([before(0), before(1), before(2), before(3)]).toEqual([0, 0, 1, 1.5]);
  });
});

describe('what a method missed', () => {
  it('is the root of the mean square, of sums over the horizon, each forecast from what was known', () => {
    // 2 + 3 less 4, and 3 + 4 less 4: (1 + 9) / 2
    expect(rollingError([1, 2, 3, 4], () => 2, 1, 2)).toBe(Math.sqrt(5));
    // 5 - 10 - 11, and 7 - 20 - 21
    expect(rollingError([1, 2, 3, 4], (known, ahead) => 10 * known + ahead, 1, 2)).toBe(Math.sqrt(706));
    expect(rollingError([1, 2, 3, 4], () => 2, 2, 2)).toBe(3);
  });

  it('is unknown where no sum can be compared', () => {
    expect(rollingError([1, 2, 3, 4], () => 2, 3, 2)).toBeNaN();
  });
});
