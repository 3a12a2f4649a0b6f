import { expect, it } from 'vitest';
import { compare } from '../bench/reorder-simulation.js';

/*
 * A short year of the simulation that npm run bench plays at length, on seeds of its own. The simple policies are given
 * the safety with which they reach the same fill rate in this very year.
 */
it('serves what is wanted with less stock and no more waste than a fixed reorder point and a periodic review', () => {
  const { own, byKind, fixedPoint, periodicReview } = compare([501, 502, 503, 504], 60);
  expect(own.fillRate).toBeGreaterThan(0.97);
  expect(Math.min(...Object.values(byKind))).toBeGreaterThan(0.93);
  for (const other of [fixedPoint, periodicReview]) {
    expect(other.fillRate).toBeGreaterThanOrEqual(own.fillRate - 0.002);
    expect(own.stockWorth).toBeLessThan(other.stockWorth);
    expect(own.expiredWorth).toBeLessThanOrEqual(other.expiredWorth);
  }
}, 240_000);
