import { describe, expect, it } from 'vitest';
import { dayOf, isoOf } from '../../src/kernel/measure/day.js';
import { gammaAbove, gammaLevel, gammaLoss, gammaLossLevel, logGamma } from '../../src/kernel/statistics/gamma.js';
import { lossQuantile, normalBelow, normalQuantile, unitNormalLoss } from '../../src/kernel/statistics/normal.js';
import {
  leadTimeDemandDeviation,
  coverDays,
  economicQuantity,
  learnLeadTime,
  nextOrderDay,
  orderByDay,
  safetyOf,
  safetyStock,
} from '../../src/kernel/buy/reorder-point.js';

it.each([
  [0.8, 0.841621],
  [0.85, 1.036433],
  [0.9, 1.281552],
  [0.95, 1.644854],
  [0.975, 1.959964],
  [0.98, 2.053749],
  [0.99, 2.326348],
  [0.995, 2.575829],
  [0.999, 3.090232],
])(
  'has the quantile of %d as Abramowitz & Stegun, Handbook of Mathematical Functions, ch. 26 (from memory)',
  (p, z) => {
    expect(Math.abs(normalQuantile(p) - z)).toBeLessThan(1e-6);
    expect(normalBelow(normalQuantile(p))).toBeCloseTo(p, 12);
  },
);

describe('the unit normal loss of Silver, Pyke & Peterson, Inventory Management, app. B (from memory)', () => {
  it.each([
    [0, 0.398942],
    [0.25, 0.286345],
    [0.5, 0.197797],
    [0.75, 0.131167],
    [1, 0.083315],
    [1.28, 0.047499],
    [1.5, 0.029307],
    [1.645, 0.020886],
    [2, 0.008491],
    [2.33, 0.003352],
    [2.5, 0.002004],
    [3, 0.000382],
  ])('of %d', (z, loss) => {
    expect(Math.abs(unitNormalLoss(z) - loss)).toBeLessThan(1e-6);
    expect(unitNormalLoss(-z)).toBeCloseTo(unitNormalLoss(z) + z, 12);
    expect(lossQuantile(unitNormalLoss(z))).toBeCloseTo(z, 9);
  });
});

const cycle95 = { kind: 'cycle', share: 0.95 } as const;

describe('safety stock and reorder point', () => {
  it('B. W. Taylor, Introduction to Management Science, inventory: 30 a day, deviation 5, 10 days, 95 %', () => {
    const deviation = leadTimeDemandDeviation({ perDay: 30, useDeviation: 5 * Math.sqrt(10), leadDeviationDays: 0 });
    // printed with z rounded to 1.65: 26.1 and 326.1
    expect(Math.abs(1.65 * deviation - 26.1)).toBeLessThan(0.05);
    expect(safetyOf(cycle95, { mean: 300, deviation, orderQuantity: 300 })).toBeCloseTo(1.644854 * 15.811388, 4);
    expect(30 * 10 + safetyStock(cycle95, { mean: 300, deviation, orderQuantity: 300 })).toBe(327);
  });

  it('Heizer & Render, Operations Management, inventory (from memory): 150 a day, 16; 5 days, 1; 95 %', () => {
    const use = { perDay: 150, useDeviation: 16 * Math.sqrt(5), leadDeviationDays: 1 };
    const deviation = leadTimeDemandDeviation(use);
    expect(deviation).toBeCloseTo(154.208, 3);
    // printed about 1,004 with z 1.65
    expect(Math.abs(150 * 5 + 1.65 * deviation - 1004)).toBeLessThan(0.5);
    expect(150 * 5 + safetyOf(cycle95, { mean: 750, deviation, orderQuantity: 0 })).toBeCloseTo(1003.65, 2);
  });

  it('a textbook problem, answer recomputed: 5 a day, lead time 3 days, deviation 2 days, 95 %', () => {
    const deviation = leadTimeDemandDeviation({ perDay: 5, useDeviation: 0, leadDeviationDays: 2 });
    expect(deviation).toBe(10);
    expect(15 + safetyOf(cycle95, { mean: 100, deviation, orderQuantity: 0 })).toBeCloseTo(31.449, 3);
  });

  it('keeps the expected shortage of an order within what a fill rate allows (Silver, Pyke & Peterson, 7.9; arithmetic)', () => {
    const service = { kind: 'fill-rate', share: 0.99 } as const;
    const exposure = { mean: 400, deviation: 56.4, orderQuantity: 200 };
    const safety = safetyOf(service, exposure);
    expect(56.4 * unitNormalLoss(safety / 56.4)).toBeCloseTo(0.01 * 200, 9);
    // a larger order runs short less often, so it needs less, and one that hardly ever comes needs none
    expect(safetyOf(service, { ...exposure, orderQuantity: 2000 })).toBeLessThan(safety);
    expect(safetyOf({ ...service, share: 0.9 }, { ...exposure, orderQuantity: 5000 })).toBe(0);
    expect(safetyStock(cycle95, { mean: 100, deviation: 0, orderQuantity: 100 })).toBe(0);
  });

  it('takes use that strays by more than half its mean for gamma, which asks for more than normal', () => {
    const exposure = { mean: 100, deviation: 100, orderQuantity: 300 };
    // shape 1 is exponential: the excess over a level is mean x e^(-level / mean)
    expect(safetyOf({ kind: 'fill-rate', share: 0.98 }, exposure)).toBeCloseTo(-100 * Math.log(6 / 100) - 100, 6);
    expect(safetyOf(cycle95, exposure)).toBeCloseTo(-100 * Math.log(0.05) - 100, 6);
    expect(safetyOf(cycle95, exposure)).toBeGreaterThan(1.645 * 100);
  });
});

describe('the gamma distribution', () => {
  it.each([
    [10, 18.307],
    [5, 11.07],
    [1, 3.841],
    [30, 43.773],
  ])(
    'has the chi-square value of %d degrees at 0.05 (NIST/SEMATECH e-Handbook, 1.3.6.7.4; from memory)',
    (degrees, value) => {
      expect(gammaAbove(value / 2, degrees / 2)).toBeCloseTo(0.05, 4);
      // chi-square has mean n and variance 2 n
      expect(Math.abs(gammaLevel(0.05, degrees, Math.sqrt(2 * degrees)) - value)).toBeLessThan(0.001);
    },
  );

  it('loses what summing up its tail says (arithmetic)', () => {
    const [mean, deviation, level] = [50, 40, 90];
    let sum = 0;
    const step = 0.01;
    for (let x = level; x < 2_000; x += step)
      sum += gammaAbove((x + step / 2) / (deviation ** 2 / mean), (mean / deviation) ** 2) * step;
    expect(gammaLoss(level, mean, deviation)).toBeCloseTo(sum, 5);
    expect(gammaLoss(gammaLossLevel(2, mean, deviation), mean, deviation)).toBeCloseTo(2, 9);
    expect(logGamma(10)).toBeCloseTo(Math.log(362_880), 11);
  });
});

describe('how long an order lasts', () => {
  it('balances ordering and carrying: Heizer & Render, inventory (from memory): 1000 a year, 10, 0.50: 200', () => {
    expect(economicQuantity({ usePerYear: 1000, orderCost: 10, carryingPerUnitYear: 0.5 })).toBe(200);
  });

  it('is longer for what is cheap, within bounds', () => {
    const days = (perDayE4: number) => coverDays({ perDayE4, orderCostE4: 20_000, reviewDays: 7, mostDays: 56 });
    // sqrt(2 x 365 x 20,000 / (40,000 x 0.2))
    expect(days(40_000)).toBe(43);
    expect([days(10), days(0), days(10_000_000)]).toEqual([56, 56, 7]);
  });
});

describe('lead time learned from deliveries (arithmetic)', () => {
  it('is what the supplier states before anything came', () => {
    expect(learnLeadTime(10, [])).toEqual({ meanDays: 10, deviationDays: 2, deliveries: 0 });
  });

  it('moves from there as deliveries come, the stated time counting as three', () => {
    // (3 x 10 + 16) / 4
    expect(learnLeadTime(10, [16]).meanDays).toBe(11.5);
    const many = learnLeadTime(
      10,
      Array.from({ length: 30 }, (_, i) => (i % 2 ? 16 : 12)),
    );
    expect(many.meanDays).toBeCloseTo((30 + 20 * 14) / 23, 9);
    expect(many.deliveries).toBe(20);
    expect(many.deviationDays).toBeGreaterThan(2);
    expect(many.deviationDays).toBeLessThan(3);
  });
});

describe('the last day to order (calendar)', () => {
  // Wednesday 1 April 2026
  const fallsUnderOn = dayOf('2026-04-01');
  const timing = { fallsUnderOn, leadDays: 9.2, receivingDays: 1, trialDays: 2, orderDays: [] };

  it('lies the lead time, receiving and trial before the day stock falls under safety', () => {
    expect(isoOf(orderByDay(timing))).toBe('2026-03-19');
  });

  it("is the last of the supplier's order days", () => {
    expect(isoOf(orderByDay({ ...timing, orderDays: [1, 3] }))).toBe('2026-03-19');
    expect(isoOf(orderByDay({ ...timing, orderDays: [1] }))).toBe('2026-03-17');
    expect(isoOf(orderByDay({ ...timing, orderDays: [4] }))).toBe('2026-03-13');
    expect(isoOf(nextOrderDay(dayOf('2026-03-19'), [1]))).toBe('2026-03-24');
  });
});
