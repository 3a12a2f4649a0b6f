import { describe, expect, it } from 'vitest';
import { parseQuantity, printQuantity } from '../../src/kernel/measure/quantity.js';

const mg = (text: string, densityUgPerMl?: number) => parseQuantity(text, { measure: 'weighed', densityUgPerMl });

/*
 * Exact factors. Source: NIST Handbook 44 (2014), appendix C, pp. C-12 (volume), C-14 (mass), C-19, C-20;
 * NIST SP 811 (2008), appendix B.8 (ounce avoirdupois 2.834 952 E+01 g, US fluid ounce 2.957 353 E+01 mL).
 * A million units at a time, so that whole milligrams show every printed digit of the factor.
 */
describe('unit factors (NIST Handbook 44, appendix C; NIST SP 811, appendix B.8)', () => {
  it.each([
    ['1000000 oz', 28_349_523_125], // 28.349 523 125 g, 437.5 grains
    ['1000000 lb', 453_592_370_000], // 453.592 37 g, 7000 grains
    ['16000000 oz', 453_592_370_000], // 16 oz are one pound
    ['1000 g', 1_000_000],
    ['1 kg', 1_000_000],
  ])('%s', (text, expected) => {
    expect(mg(text)).toBe(expected);
  });

  it('a US gallon is 231 cubic inches, 3785.411 784 ml, and 128 fluid ounces', () => {
    expect(2.54 ** 3 * 231).toBeCloseTo(3_785.411_784, 9);
    // at 1 g/ml a millilitre weighs 1 g
    expect(mg('128000000 fl oz', 1_000_000)).toBe(3_785_411_784_000);
    expect(mg('1000000 fl oz', 1_000_000)).toBe(29_573_529_563); // 29.573 529 562 5 ml, half up
    expect(mg('3785.411784 l', 1_000_000)).toBe(3_785_411_784);
  });

  it('a fluid ounce of water at 20 C weighs 29.5203 g, 1.0413 oz: it is not an ounce', () => {
    const water = mg('1 fl oz', 998_201); // density from the formula of OIML R 22: 998.201 kg/m3
    expect(water / 1000).toBeCloseTo(29.5203, 3);
    expect(water / mg('1 oz')).toBeCloseTo(1.0413, 4);
  });

  it('16 oz of oil of density 0.92 g/ml weigh 453.592 g and fill 493.035 ml, 16.67 fl oz', () => {
    const oil = mg('16 oz');
    expect(oil).toBe(453_592);
    expect(Number.parseFloat(printQuantity(oil, 'weighed', 'ml', 920_000))).toBeCloseTo(493.035, 2);
    expect(Number.parseFloat(printQuantity(oil, 'weighed', 'fl oz', 920_000))).toBeCloseTo(16.67, 2);
  });
});

describe('mass is volume times density (arithmetic)', () => {
  it.each([
    ['30 ml', 950_000, 28_500], // 28.5 g
    ['503.992 ml', 900_000, 453_593], // 453.59 g
  ])('%s at %d ug/ml', (text, density, expected) => {
    expect(mg(text, density)).toBe(expected);
  });

  it('453.59237 g at 0.90 g/ml fill 503.992 ml', () => {
    expect(Number.parseFloat(printQuantity(453_592, 'weighed', 'ml', 900_000))).toBeCloseTo(503.992, 2);
  });

  /* Water in kg/m3. Source: OIML R 22 (1973/75), general formula p. 5, coefficients p. 13. */
  it.each([
    [999_969, '4 C'],
    [999_096, '15 C'],
    [998_201, '20 C'],
    [997_043, '25 C'],
  ])('a litre of water of %d ug/ml (%s)', (density) => {
    expect(mg('1 l', density)).toBe(density);
  });
});
