import { describe, expect, it } from 'vitest';
import { dayOf, isoOf } from '../../src/kernel/measure/day.js';
import {
  coverDays,
  lastOrderDay,
  learnLeadTime,
  nextOrderDay,
  orderByDay,
  safetyOf,
  safetyStock,
} from '../../src/kernel/buy/reorder-point.js';

/** Quantiles of the normal distribution, as every table prints them. */
const Z_95 = 1.644854;
const Z_9999 = 3.719016;

describe('what is kept for safety', () => {
  const fill = (share: number) => ({ kind: 'fill-rate', share }) as const;
  const cycle = (share: number) => ({ kind: 'cycle', share }) as const;

  it('is nothing where nothing strays, nor where half the time is enough', () => {
    expect(safetyOf(cycle(0.95), { mean: 100, deviation: 0, orderQuantity: 10 })).toBe(0);
    expect(safetyOf(cycle(0.3), { mean: 100, deviation: 10, orderQuantity: 10 })).toBe(0);
    expect(safetyOf(cycle(0.3), { mean: 10, deviation: 20, orderQuantity: 10 })).toBe(0);
    expect(safetyOf(fill(0.5), { mean: 10, deviation: 20, orderQuantity: 1_000 })).toBe(0);
  });

  it('is by the normal distribution up to a deviation of half the mean, or without a mean', () => {
    expect(safetyOf(cycle(0.95), { mean: 100, deviation: 50, orderQuantity: 10 })).toBeCloseTo(50 * Z_95, 4);
    expect(safetyOf(cycle(0.95), { mean: 0, deviation: 50, orderQuantity: 10 })).toBeCloseTo(50 * Z_95, 4);
    // beyond that it reaches further up
    expect(safetyOf(cycle(0.95), { mean: 100, deviation: 50.001, orderQuantity: 10 })).toBeGreaterThan(
      50.001 * Z_95 + 1,
    );
  });

  it('is for nearly all that is wanted where all is, or nothing is said of the size of an order', () => {
    for (const [share, orderQuantity] of [
      [1, 100],
      [0.98, 0],
      [0.98, -5],
    ] as const)
      expect(safetyOf(fill(share), { mean: 1_000, deviation: 10, orderQuantity })).toBeCloseTo(10 * Z_9999, 3);
    // exponential: as often above as e to the power of minus the level over the mean
    expect(safetyOf(fill(1), { mean: 100, deviation: 100, orderQuantity: 5 })).toBeCloseTo(
      -100 * Math.log(1e-4) - 100,
      4,
    );
  });

  it('is whole, rounded up, and never below zero', () => {
    expect(safetyStock(cycle(0.95), { mean: 100, deviation: 10, orderQuantity: 10 })).toBe(17);
    expect(Object.is(safetyStock(cycle(0.1), { mean: 100, deviation: 10, orderQuantity: 10 }), 0)).toBe(true);
  });
});

describe('the lead time that is learned', () => {
  it('strays by what is stated and by what came, each from the new mean', () => {
    // mean (3 x 10 + 16) / 4 = 11.5; stated 2 squared and 1.5 squared, three times, and 4.5 squared: 39 over four
    expect(learnLeadTime(10, [16])).toEqual({ meanDays: 11.5, deviationDays: Math.sqrt(9.75), deliveries: 1 });
    // (30 + 4 + 8) / 5 = 8.4
    expect(learnLeadTime(10, [4, 8]).meanDays).toBeCloseTo(8.4, 12);
  });

  it('is of the latest twenty deliveries', () => {
    const took = [...Array.from({ length: 9 }, () => 90), ...Array.from({ length: 20 }, () => 10)];
    expect(learnLeadTime(10, took)).toMatchObject({ meanDays: 10, deliveries: 20 });
    expect(learnLeadTime(10, took).deviationDays).toBeCloseTo(Math.sqrt((3 * 4) / 23), 12);
  });
});

it('lets an order last no shorter than until the next look and no longer than is said', () => {
  const days = (perDayE4: number) => coverDays({ perDayE4, orderCostE4: 20_000, reviewDays: 7, mostDays: 56 });
  // the root of 2 x 365 x 20 000 over a fifth of the worth a day: 55.5, 56.3, 7.0 and 8.5
  expect([days(23_688), days(23_000), days(1_489_796), days(1_000_000), days(-1)]).toEqual([56, 56, 7, 9, 56]);
});

describe('the days on which a supplier takes orders', () => {
  // a Thursday
  const thursday = dayOf('2026-03-19');

  it('are looked back for, and ahead', () => {
    const back = (...orderDays: number[]) => isoOf(lastOrderDay(thursday, orderDays));
    const ahead = (...orderDays: number[]) => isoOf(nextOrderDay(thursday, orderDays));
    expect([back(), back(3), back(2, 4), back(4)]).toEqual(['2026-03-19', '2026-03-19', '2026-03-18', '2026-03-13']);
    expect([ahead(), ahead(3), ahead(2, 4), ahead(2)]).toEqual([
      '2026-03-19',
      '2026-03-19',
      '2026-03-20',
      '2026-03-25',
    ]);
  });

  it('come before lead time, receiving and trial, a day that is begun counting whole', () => {
    const timing = { fallsUnderOn: thursday, leadDays: 3, receivingDays: 0, trialDays: 0, orderDays: [] };
    expect(isoOf(orderByDay(timing))).toBe('2026-03-16');
    expect(isoOf(orderByDay({ ...timing, leadDays: 3.01 }))).toBe('2026-03-15');
    expect(isoOf(orderByDay({ ...timing, receivingDays: 2, trialDays: 5 }))).toBe('2026-03-09');
  });
});
