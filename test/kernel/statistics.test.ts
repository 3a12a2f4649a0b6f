import { describe, expect, it } from 'vitest';
import { gammaAbove, gammaLoss, gammaLossLevel, gammaSecondLoss, logGamma } from '../../src/kernel/statistics/gamma.js';
import { lossQuantile, normalBelow, normalQuantile, unitNormalLoss } from '../../src/kernel/statistics/normal.js';

describe('the normal distribution', () => {
  it('is all or nothing far from the mean', () => {
    expect([normalBelow(-40), normalBelow(-9), normalBelow(9), normalBelow(40)]).toEqual([0, 0, 1, 1]);
    expect([unitNormalLoss(9), unitNormalLoss(-40)]).toEqual([0, 40]);
  });

  it('has quantiles of what lies between never and always only', () => {
    for (const p of [0, 1, -0.1, 1.1, Number.NaN])
      expect(() => normalQuantile(p)).toThrow(new RangeError(`not a probability between 0 and 1: ${p}`));
    expect(normalQuantile(0.5)).toBeCloseTo(0, 12);
  });

  it('loses as much as the level lies below the mean, and hardly anything eight deviations above', () => {
    expect(lossQuantile(1_000)).toBeCloseTo(-1_000, 9);
    expect(lossQuantile(9)).toBeCloseTo(-9, 9);
    expect(lossQuantile(1e-300)).toBeGreaterThan(7.5);
    expect(lossQuantile(1e-300)).toBeLessThan(8.5);
    for (const loss of [0, -1, Number.NaN])
      expect(() => lossQuantile(loss)).toThrow(new RangeError(`not a loss above 0: ${loss}`));
  });
});

describe('the gamma distribution', () => {
  // the values of the gamma function at a quarter and a tenth, as tables print them (from memory)
  it('knows its function below a half', () => {
    expect(logGamma(0.25)).toBeCloseTo(Math.log(3.625609908221908), 11);
    expect(logGamma(0.1)).toBeCloseTo(Math.log(9.513507698668732), 11);
    expect(logGamma(0.5)).toBeCloseTo(Math.log(Math.sqrt(Math.PI)), 11);
  });

  it('lies above zero always', () => {
    expect([gammaAbove(0, 2), gammaAbove(-1, 2)]).toEqual([1, 1]);
    expect([gammaLoss(0, 10, 4), gammaLoss(-5, 10, 4)]).toEqual([10, 15]);
  });

  it('loses by the square what the exponential does, and what summing up its loss says', () => {
    // shape 1: the mean squared times e to the power of minus the level over the mean
    for (const level of [5, 30, 200])
      expect(gammaSecondLoss(level, 40, 40)).toBeCloseTo(1_600 * Math.exp(-level / 40), 9);
    for (const [mean, deviation] of [
      [50, 20],
      [50, 90],
    ] as const) {
      let sum = 0;
      const step = 0.05;
      for (let x = 60; x < 4_000; x += step) sum += gammaLoss(x + step / 2, mean, deviation) * step;
      expect(gammaSecondLoss(60, mean, deviation) / sum).toBeCloseTo(1, 5);
    }
    // from below nothing it is half of mean and deviation squared, and the way up to it
    expect(gammaSecondLoss(0, 10, 4)).toBe(58);
    expect(gammaSecondLoss(-5, 10, 4)).toBe((116 + 100 + 25) / 2);
    expect(gammaSecondLoss(1e6, 10, 4)).toBe(0);
  });

  it('loses all of its mean at the level of nothing', () => {
    expect([gammaLossLevel(10, 10, 4), gammaLossLevel(11, 10, 4)]).toEqual([0, 0]);
    // shape 1 is exponential: the mean times e to the power of minus the level over the mean
    expect(gammaLossLevel(1, 10, 10)).toBeCloseTo(10 * Math.log(10), 9);
  });
});
