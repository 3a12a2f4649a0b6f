import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  limitCeil,
  limitFloor,
  mulDivCeil,
  mulDivFloor,
  roundDownTo,
  roundUpTo,
  wholeUp,
} from '../../src/kernel/measure/ratio.js';
import { runs } from '../support/scale.js';

const MOST = Number.MAX_SAFE_INTEGER;
/** Whole numbers of every size up to 2^53, small ones as often as large ones. */
const whole = fc.oneof(fc.nat(1_000), fc.nat(1_000_000_000), fc.maxSafeNat());
const divisor = whole.map((n) => Math.max(n, 1));

const floorBy = (a: number, b: number, c: number): bigint => (BigInt(a) * BigInt(b)) / BigInt(c);
const ceilBy = (a: number, b: number, c: number): bigint => (BigInt(a) * BigInt(b) + BigInt(c) - 1n) / BigInt(c);

describe('a part of a whole amount', () => {
  it('is 63 for nine elevenths of 77, where a float says a hair more', () => {
    expect(Math.ceil(77 * (9 / 11))).toBe(64);
    expect(mulDivCeil(77, 9, 11)).toBe(63);
    expect(mulDivFloor(77, 9, 11)).toBe(63);
  });

  it('rounds one way or the other, and not at all where it comes out', () => {
    expect([mulDivFloor(7, 3, 2), mulDivCeil(7, 3, 2)]).toEqual([10, 11]);
    expect([mulDivFloor(8, 3, 2), mulDivCeil(8, 3, 2)]).toEqual([12, 12]);
    expect([mulDivFloor(0, 5, 7), mulDivCeil(0, 5, 7)]).toEqual([0, 0]);
  });

  it('is exact past 2^53', () => {
    // a milligram less than nine tonnes, in parts per billion: (10^10 - 1)(10^9 - 1) / 10^9 = 9 999 999 989 + 1 / 10^9
    expect(mulDivFloor(9_999_999_999, 999_999_999, 1_000_000_000)).toBe(9_999_999_989);
    expect(mulDivCeil(9_999_999_999, 999_999_999, 1_000_000_000)).toBe(9_999_999_990);
    expect([mulDivFloor(MOST, MOST, MOST), mulDivCeil(MOST, MOST, MOST)]).toEqual([MOST, MOST]);
  });

  it('agrees with whole numbers of any length, and refuses an answer past 2^53', () => {
    fc.assert(
      fc.property(whole, whole, divisor, (a, b, c) => {
        for (const [round, limit, exactly] of [
          [mulDivFloor, limitFloor, floorBy],
          [mulDivCeil, limitCeil, ceilBy],
        ] as const) {
          const expected = exactly(a, b, c);
          if (expected > BigInt(MOST)) {
            expect(() => round(a, b, c)).toThrow(/passes 2\^53/);
            expect(limit(a, b, c)).toBe(Number.POSITIVE_INFINITY);
          } else {
            expect(BigInt(round(a, b, c))).toBe(expected);
            expect(BigInt(limit(a, b, c))).toBe(expected);
          }
        }
      }),
      { numRuns: runs(500, 20_000) },
    );
  });

  it('agrees where the exact answer is a whole number or just beside one', () => {
    const near = fc.tuple(fc.maxSafeNat(), divisor, fc.constantFrom(-1, 0, 1));
    fc.assert(
      fc.property(near, ([quotient, c, by]) => {
        const a = Math.min(Math.floor(MOST / c), quotient) * c + by;
        fc.pre(a >= 0 && a <= MOST);
        expect(BigInt(mulDivFloor(a, 1, c))).toBe(floorBy(a, 1, c));
        expect(BigInt(mulDivCeil(a, 1, c))).toBe(ceilBy(a, 1, c));
      }),
      { numRuns: runs(500, 20_000) },
    );
  });

  it('refuses what is not whole, below zero or divided by nothing', () => {
    for (const round of [mulDivFloor, mulDivCeil]) {
      for (const bad of [-1, 0.5, MOST + 1, Number.NaN, Number.POSITIVE_INFINITY]) {
        expect(() => round(bad, 1, 1)).toThrow(/not a part/);
        expect(() => round(1, bad, 1)).toThrow(/not a part/);
        expect(() => round(1, 1, bad)).toThrow(/not a part/);
      }
      expect(() => round(1, 1, 0)).toThrow(/not a part/);
      expect(() => round(MOST, 2, 1)).toThrow(/passes 2\^53/);
      expect(round(MOST, 1, 1)).toBe(MOST);
    }
  });
});

describe('whole steps', () => {
  it('lie above, below or on the amount', () => {
    expect([roundUpTo(1_201, 100), roundUpTo(1_200, 100), roundUpTo(0, 100)]).toEqual([1_300, 1_200, 0]);
    expect([roundDownTo(1_299, 100), roundDownTo(1_200, 100), roundDownTo(99, 100)]).toEqual([1_200, 1_200, 0]);
    expect(() => roundUpTo(MOST, 2)).toThrow(/2\^53/);
    expect(roundUpTo(MOST, 1)).toBe(MOST);
  });

  it('agree with whole numbers of any length', () => {
    fc.assert(
      fc.property(whole, divisor, (amount, step) => {
        const [n, s] = [BigInt(amount), BigInt(step)];
        expect(BigInt(roundDownTo(amount, step))).toBe((n / s) * s);
        const up = ((n + s - 1n) / s) * s;
        if (up > BigInt(MOST)) expect(() => roundUpTo(amount, step)).toThrow(RangeError);
        else expect(BigInt(roundUpTo(amount, step))).toBe(up);
      }),
      { numRuns: runs(500, 20_000) },
    );
  });
});

it('takes a statistic for the whole number it lies a hair above, and any other up', () => {
  expect([wholeUp(12), wholeUp(12 + 1e-12), wholeUp(12.001), wholeUp(0.1 + 0.2)]).toEqual([12, 12, 13, 1]);
  expect(wholeUp(-3.5)).toBe(-3);
});
