import { describe, expect, it } from 'vitest';
import { largestRemainder, scaleSheet } from '../../src/kernel/formula/scaling.js';
import { parseQuantity, PPB_ONE, printQuantity } from '../../src/kernel/measure/quantity.js';

/*
 * Largest remainder. The row of six is the classical example of Hamilton's apportionment, the known weakness below it
 * is the Alabama paradox: Balinski & Young, Fair Representation (from memory; recomputed). The other rows: arithmetic.
 * Weights in milligrams, grams times 1000.
 */
describe('largest remainder (Balinski & Young, Fair Representation; from memory)', () => {
  it.each([
    [[1, 1, 1], 100, 1, [34, 33, 33]],
    [[333_333, 333_333, 333_334], 100_000, 100, [33_300, 33_300, 33_400]],
    [[70, 15, 10, 5], 333_000, 1_000, [233_000, 50_000, 33_000, 17_000]],
    [[605, 245, 100, 50], 250_000, 500, [151_500, 61_000, 25_000, 12_500]],
    [[125, 125, 250, 500], 4_600, 100, [600, 600, 1_100, 2_300]],
    [[470, 160, 159, 120, 60, 31], 10, 1, [5, 2, 1, 1, 1, 0]],
  ])('%j over %d in steps of %d', (weights, total, step, expected) => {
    expect(largestRemainder(weights, total, step)).toEqual(expected);
  });

  it('is not monotone: a larger total may lower a part', () => {
    expect(largestRemainder([6, 6, 2], 10)).toEqual([4, 4, 2]);
    expect(largestRemainder([6, 6, 2], 11)).toEqual([5, 5, 1]);
  });
});

it('flags a line whose rounding error passes what the scale can weigh: 0.05 g on 0.575 g is 8.7 % (arithmetic)', () => {
  const sheet = scaleSheet({
    partsPpb: [125_000_000, 125_000_000, 250_000_000, 500_000_000],
    putInMg: 4_600,
    stepMg: 100,
    leastMg: 1_000,
  });
  expect(sheet.weightsMg).toEqual([600, 600, 1_100, 2_300]);
  expect(sheet.flags.map((flag) => [flag.line, flag.largerBatchMg])).toEqual([
    [0, 8_000],
    [1, 8_000],
  ]);
  expect(50 / 575).toBeCloseTo(0.087, 3);
});

/*
 * Half-way cases. NIST SP 811 (2008), appendix B.7.1, p. 43, rounds an exact half to the even digit (2.5 -> 2,
 * 3.5 -> 4); trade practice often rounds it up (from memory). Here an exact half of a milligram goes up, so the two
 * rules agree on odd halves and differ on even ones; nothing else is ever rounded while reading.
 */
describe('half-way cases (NIST SP 811, appendix B.7.1: half to even; trade practice: half up)', () => {
  it.each([
    ['2.5', 2, 3],
    ['3.5', 4, 4],
  ])('%s mg from a volume', (ml, even, up) => {
    const read = parseQuantity(`${ml} ml`, { measure: 'weighed', densityUgPerMl: 1_000 });
    expect(read).toBe(up);
    expect(read === even).toBe(Number.parseFloat(ml) % 2 !== 0.5);
  });

  it('0.1 g and 0.2 g are 0.3 g', () => {
    const grams = (text: string) => parseQuantity(text, { measure: 'weighed' });
    expect(grams('0.1 g') + grams('0.2 g')).toBe(grams('0.3 g'));
    expect(printQuantity(grams('0.1 g') + grams('0.2 g'), 'weighed')).toBe('0.3 g');
  });

  it('a hundred per cent is exactly a billion parts', () => {
    expect(largestRemainder([1, 1, 1, 1, 1, 1, 1], PPB_ONE).reduce((a, n) => a + n, 0)).toBe(1_000_000_000);
  });
});
