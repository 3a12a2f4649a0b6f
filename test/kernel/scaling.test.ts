import { describe, expect, it } from 'vitest';
import { largestRemainder, scaleSheet } from '../../src/kernel/formula/scaling.js';

/** A scale that reads 0.1 g and weighs from 0.5 g; parts in thousandths. */
const sheet = (thousandths: number[], putInMg: number, max: (number | null)[] = []) => {
  const ppb = (part: number | null) => (part === null ? null : Math.round(part * 1_000_000));
  const { weightsMg, stepMg, flags } = scaleSheet({
    partsPpb: thousandths.map((part) => ppb(part)!),
    maxPpb: max.map(ppb),
    putInMg,
    stepMg: 100,
    leastMg: 500,
  });
  return { weightsMg, stepMg, flags: flags.map(({ line, code }) => `${line} ${code}`) };
};

it('says what cannot be shared or scaled', () => {
  expect(() => largestRemainder([2, -1], 5)).toThrow(new RangeError('weights must not be negative'));
  expect(() => largestRemainder([0, 0], 5)).toThrow(new RangeError('nothing to share over: every weight is zero'));
  expect(() => largestRemainder([1], 5, 0.5)).toThrow(new RangeError('not a step: 0.5'));
  expect(() => largestRemainder([1], 5, 2)).toThrow(new RangeError('5 is not a multiple of the step 2'));
  expect(() => largestRemainder([1], -2, 2)).toThrow(new RangeError('-2 is not a multiple of the step 2'));
  expect(() => sheet([999], 1_000)).toThrow(new RangeError('parts must sum to 1 000 000 000'));
});

describe('a line of a sheet', () => {
  it('may be as light as the scale weighs', () => {
    expect(sheet([995, 5], 100_000)).toEqual({ weightsMg: [99_500, 500], stepMg: 100, flags: [] });
    expect(sheet([996, 4], 100_000)).toMatchObject({ weightsMg: [99_600, 400], flags: ['1 below-smallest'] });
  });

  it('is rounded up where its limit leaves a whole step, and else not', () => {
    // 50.6 steps: 51 are within 5.1 %, and 5.09 % are 50
    expect(sheet([949.4, 50.6], 100_000, [null, 51]).weightsMg).toEqual([94_900, 5_100]);
    expect(sheet([949.4, 50.6], 100_000, [null, 50.9]).weightsMg).toEqual([95_000, 5_000]);
  });

  it('past its limit already is made no worse', () => {
    expect(sheet([900, 100], 100_000, [null, 50])).toEqual({ weightsMg: [90_000, 10_000], stepMg: 100, flags: [] });
  });
});

describe('a finer step', () => {
  it('is asked for by lines that would round to nothing, not by one that is just a step', () => {
    // 97.8, 1 and three times 0.4 steps: one each for the last three are more than the hundred
    expect(sheet([978, 10, 4, 4, 4], 10_000)).toEqual({
      weightsMg: [9_780, 100, 40, 40, 40],
      stepMg: 10,
      flags: ['1 below-smallest', '2 finer-scale-needed', '3 finer-scale-needed', '4 finer-scale-needed'],
    });
  });

  it('is asked for by lines at their limits where nothing else may take the rest', () => {
    // 849.4, 50.6 and just 100 steps: neither of the first two may be rounded up
    expect(sheet([849.4, 50.6, 100], 100_000, [849.4, 50.6, null])).toEqual({
      weightsMg: [84_940, 5_060, 10_000],
      stepMg: 10,
      flags: ['0 finer-scale-needed', '1 finer-scale-needed'],
    });
  });
});
