import { describe, expect, it } from 'vitest';
import { deviationOver, forecast } from '../../src/kernel/buy/forecast.js';
import { rareUse, smoothed } from '../../src/kernel/buy/forecast-methods.js';
import { besideNaive, monthlyBottles, outOfSample, weeklyProducts } from '../support/real-demand.js';

it('smooths as Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 7.1 (numbers from memory)', () => {
  const series = [
    445.36, 453.2, 454.41, 422.38, 456.04, 440.39, 425.19, 486.21, 500.43, 521.28, 508.95, 488.89, 509.87, 456.72,
    473.82, 525.95, 549.83, 542.34,
  ];
  const printed = [
    445.56, 451.93, 454.0, 427.63, 451.32, 442.21, 428.02, 476.54, 496.46, 517.16, 510.31, 492.45, 506.98, 465.07,
    472.37, 517.05, 544.39, 542.68,
  ];
  const levels = smoothed(series, 0.8339, 446.5868);
  for (const [week, level] of printed.entries())
    expect(Math.abs(levels[week]! - level), `week ${week}`).toBeLessThan(0.02);
});

it("follows Croston's rules (J. D. Croston 1972) with the correction of Syntetos & Boylan 2005; worked by hand", () => {
  const states = rareUse([0, 0, 6, 0, 4, 0, 0, 5, 3, 0, 0, 0, 8], 0.1);
  const changes = states.filter(({ size }, week) => size !== (states[week - 1]?.size ?? 0));
  const worked = [6, 5.8, 5.72, 5.448, 5.7032];
  expect(changes).toHaveLength(worked.length);
  for (const [index, size] of worked.entries()) expect(changes[index]!.size).toBeCloseTo(size, 9);
  expect(states.at(-1)!.interval).toBeCloseTo(2.8471, 6);
  expect(states.at(-1)!.plain).toBeCloseTo(2.003161, 6);
  expect(states.at(-1)!.corrected).toBeCloseTo(1.903003, 6);
  // nothing is used: nothing changes
  expect(states[11]!.corrected).toBe(states[8]!.corrected);
});

it('calls use as Syntetos, Boylan & Croston 2005 do: limits 1.32 weeks and 0.49 squared variation', () => {
  const repeated = (weeks: number[]): number[] => Array.from({ length: 24 }, (_, i) => weeks[i % weeks.length]!);
  expect(forecast(repeated([5, 6, 5, 4]), 2, 1)?.pattern).toBe('smooth');
  expect(forecast(repeated([1, 1, 1, 20]), 2, 1)?.pattern).toBe('erratic');
  expect(forecast(repeated([5, 0, 6, 0]), 2, 1)?.pattern).toBe('intermittent');
  expect(forecast(repeated([1, 0, 1, 0, 20, 0]), 2, 1)?.pattern).toBe('lumpy');
});

// 52 weeks hold no year to look back on, so that the weekly sales have no seasonal naive forecast; the months have
describe('against real demand (test/data/demand, with sources and licences)', () => {
  const products = weeklyProducts();

  it('has the copy of the data as the source describes it', () => {
    expect(products).toHaveLength(40);
    for (const { code, weeks, least, most } of products)
      expect([code, weeks.length, Math.min(...weeks), Math.max(...weeks)]).toEqual([code, 52, least, most]);
  });

  it.each([1, 4])('misses less than the last week again on weekly sales, %i weeks ahead', (horizon) => {
    const { ratio, better } = besideNaive(horizon);
    expect(ratio).toBeLessThan(horizon === 1 ? 0.85 : 0.7);
    expect(better).toBeGreaterThanOrEqual(36);
  });

  it.each([1, 3])(
    'finds the season in monthly bottles, %i months ahead, and misses hardly more than the same months last year',
    (horizon) => {
      const months = monthlyBottles();
      const rmse = outOfSample(months, 48, horizon, 12);
      expect(rmse.chosen).toBeLessThan(0.7 * rmse.naive);
      expect(rmse.chosen).toBeLessThanOrEqual(1.05 * rmse.seasonal);
      expect(forecast(months, horizon, 3, 12)?.chosen.method).toBe('same-weeks-last-year');
    },
  );
});

describe('what is shown beside a forecast', () => {
  it('says nothing below six weeks of use, and takes the mean where no method can be judged', () => {
    expect(forecast([0, 0, 3, 4, 5, 3, 4], 2, 1)).toBeNull();
    const short = forecast([3, 4, 5, 3, 4, 5], 2, 2)!;
    expect(short).toMatchObject({
      chosen: { method: 'mean' },
      errors: [],
      naiveRmse: null,
      origins: 0,
      weekly: [4, 4],
    });
  });

  it('lists every method it judged, the chosen one first, over the weeks after the first year where there is one', () => {
    const season = Array.from({ length: 110 }, (_, week) => (week % 52 > 40 ? 90 : 10));
    const found = forecast(season, 4, 60)!;
    expect(found.chosen).toEqual({ method: 'same-weeks-last-year', alpha: null, spreadWeeks: 0 });
    expect(found.errors[0]!.rmse).toBe(0);
    expect(found.errors.map(({ rmse }) => rmse)).toEqual(found.errors.map(({ rmse }) => rmse).sort((a, b) => a - b));
    expect(found.origins).toBe(110 - 52 - 4 + 1);
    expect(found.naiveRmse).toBeGreaterThan(50);
    expect(found.seasonalNaiveRmse).toBe(0);
    // 110 weeks are known: the season comes again in week 145
    expect(found.weekly.map((used) => used > 50)).toEqual(
      Array.from({ length: 60 }, (_, ahead) => (110 + ahead) % 52 > 40),
    );
  });

  it('spreads the error over other lengths of time by the root, and trusts sums the more of them there are', () => {
    const judged = { horizonWeeks: 4, horizonDeviation: 20, weekDeviation: 10 };
    expect([0.25, 1, 4, 16].map((weeks) => deviationOver(judged, weeks))).toEqual([5, 10, 20, 40]);
    expect(deviationOver(judged, 2)).toBeCloseTo(10 * Math.SQRT2, 9);
    // weeks that make up for one another: sums of two are sure, and the longer that is known the more it counts
    const deviation = (weeks: number) => {
      const found = forecast(
        Array.from({ length: weeks }, (_, week) => (week % 2 ? 9 : 5)),
        2,
        1,
      )!;
      return found.horizonDeviation / (found.weekDeviation * Math.SQRT2);
    };
    expect(deviation(20)).toBeLessThan(1);
    expect(deviation(50)).toBeLessThan(deviation(20));
  });
});
