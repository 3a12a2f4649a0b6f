import { describe, expect, it } from 'vitest';
import { rareLevel, type RareUse } from '../../src/kernel/buy/rare-use.js';
import { gammaAbove, gammaLoss } from '../../src/kernel/statistics/gamma.js';

const fill = (share: number) => ({ kind: 'fill-rate', share }) as const;
const cycle = (share: number) => ({ kind: 'cycle', share }) as const;

/** One use a week by Poisson: a week has any with probability 1 - 1/e. Nothing strays but how often and how much. */
const often = 1 / (1 - Math.exp(-1));
const known: RareUse = {
  // sizes as uneven as exponential ones: a week's square is (1 + 1) over one use, plus one, times its mean squared
  shape: { intervalWeeks: often, sizeVariation: 3 / often - 1, uses: 1e9, rateError: 0 },
  perDay: 10,
  delayDays: 14,
  leadDeviationDays: 0,
  reviewDays: 7,
  step: 35,
};

const factorial = (count: number): number => (count < 2 ? 1 : count * factorial(count - 1));
const poisson = (mean: number, count: number): number => (Math.exp(-mean) * mean ** count) / factorial(count);

/** Expected shortage beyond a level of so many exponential uses of 70, summed up plainly. */
const lossOf = (weeks: number, level: number): number =>
  Array.from({ length: 40 }, (_, n) => n + 1).reduce(
    (sum, n) => sum + poisson(weeks, n) * gammaLoss(level, n * 70, Math.sqrt(n) * 70),
    0,
  );

/** What runs short of a review's use, in the mean of all the levels an order may bring stock up to. */
function shortOf(level: number, step: number): number {
  const parts = 400;
  let sum = 0;
  for (let i = 0; i < parts; i++) {
    const at = level + ((i + 0.5) * step) / parts;
    sum += lossOf(3, at) - lossOf(2, at);
  }
  return sum / parts;
}

describe('the level for what is used now and then', () => {
  it('lets run short of the use between two looks what the share allows, wherever in a step it ends', () => {
    for (const [share, step] of [
      [0.98, 35],
      [0.9, 35],
      [0.98, 300],
    ] as const) {
      const level = rareLevel(fill(share), { ...known, step });
      expect(shortOf(level, step)).toBeCloseTo((1 - share) * 70, 3);
    }
  });

  it('is the quantile of what is used until the next order can be here, where runs are counted', () => {
    const level = rareLevel(cycle(0.95), known);
    const above = Array.from({ length: 40 }, (_, n) => n + 1).reduce(
      (sum, n) => sum + poisson(3, n) * gammaAbove(level / 70, n),
      0,
    );
    expect(above).toBeCloseTo(0.05, 6);
    // in one week of three nothing is used: that is enough for a share of less
    expect(rareLevel(cycle(0.3), { ...known, delayDays: 0 })).toBeLessThan(1e-5);
  });

  it('takes sizes for uneven while few were seen', () => {
    const even = { ...known.shape, sizeVariation: 2 / often - 1 };
    const of = (uses: number) => rareLevel(fill(0.98), { ...known, shape: { ...even, uses } });
    // what was seen is of one size always; ten such count as much as ten of the other
    expect(of(0)).toBeCloseTo(rareLevel(fill(0.98), known), 2);
    const half = { ...known.shape, sizeVariation: 2.5 / often - 1 };
    expect(of(10)).toBeCloseTo(rareLevel(fill(0.98), { ...known, shape: half }), 2);
    expect(of(1_000)).toBeLessThan(of(10) - 10);
    // weeks that stray less than one size alone would say the same as that
    const less = { ...known.shape, sizeVariation: 0, uses: 10 };
    expect(rareLevel(fill(0.98), { ...known, shape: less })).toBeCloseTo(of(10), 6);
  });

  it('adds what the lead time and the rate itself stray, by their squares', () => {
    // of three uses of 70, 210 in 21 days, the rate strays by 84, as a lead time does by 8.4 days of ten
    const exponential = rareLevel(cycle(0.95), known);
    const rate = rareLevel(cycle(0.95), { ...known, shape: { ...known.shape, rateError: 0.4 } });
    const lead = rareLevel(cycle(0.95), { ...known, leadDeviationDays: 0.4 * 21 });
    expect(rate).toBeCloseTo(lead, 6);
    expect(rate).toBeGreaterThan(exponential + 10);
    const both = rareLevel(cycle(0.95), {
      ...known,
      shape: { ...known.shape, rateError: 0.4 },
      leadDeviationDays: 0.3 * 21,
    });
    expect(both).toBeCloseTo(rareLevel(cycle(0.95), { ...known, leadDeviationDays: 0.5 * 21 }), 6);
    // the same square in the sizes: (0.4 x 210) squared over three uses beside 70 squared
    const above = Array.from({ length: 40 }, (_, n) => n + 1).reduce((sum, n) => {
      const variance = 4_900 + 84 ** 2 / 3;
      return sum + poisson(3, n) * gammaAbove((rate * 70) / variance, (n * 4_900) / variance);
    }, 0);
    expect(above).toBeCloseTo(0.05, 6);
  });

  it('covers what is used between two looks where an order is here at once', () => {
    const level0 = rareLevel(fill(0.98), { ...known, delayDays: 0 });
    expect(level0).toBeGreaterThan(70);
    expect(level0).toBeLessThan(rareLevel(fill(0.98), known));
  });
});
