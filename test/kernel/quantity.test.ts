import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  milligrams,
  outputFor,
  parseQuantity,
  partOf,
  PPB_ONE,
  printQuantity,
  putInFor,
  QuantityError,
  units,
} from '../../src/kernel/measure/quantity.js';
import type { Measure, UnitName } from '../../src/kernel/measure/quantity.js';
import { runs } from '../support/scale.js';

const MAX_MG = 9_000_000_000_000;
const weighed = (text: string, densityUgPerMl?: number | null) =>
  parseQuantity(text, { measure: 'weighed', densityUgPerMl });
const counted = (text: string) => parseQuantity(text, { measure: 'counted' });

function codeOf(run: () => unknown): string {
  try {
    run();
  } catch (error) {
    if (error instanceof QuantityError) return error.code;
    throw error;
  }
  return 'accepted';
}

/** What a person is told who typed something that cannot be read. */
function saidBy(run: () => unknown): string {
  try {
    run();
  } catch (error) {
    if (error instanceof QuantityError) return error.message;
    throw error;
  }
  return 'accepted';
}

/** 'amount' or 'refused'; anything else that happens is thrown on. */
function outcome(text: string, measure: Measure): string {
  try {
    const amount = parseQuantity(text, { measure, densityUgPerMl: 900_000 });
    return Number.isSafeInteger(amount) && amount >= 0 ? 'amount' : `odd ${amount}`;
  } catch (error) {
    if (error instanceof QuantityError) return 'refused';
    throw error;
  }
}

describe('parseQuantity', () => {
  it.each([
    ['250 g', 250_000],
    ['2.5 kg', 2_500_000],
    ['2.5kg', 2_500_000],
    [' 0.1  g ', 100],
    ['.5 g', 500],
    ['.25 g', 250],
    ['0 g', 0],
    ['007 g', 7_000],
    ['1\u00a0kg', 1_000_000],
    ['5 mg', 5],
    ['9007199254.740991 kg', Number.MAX_SAFE_INTEGER],
    ['1 OZ', 28_350],
    ['1 ounce', 28_350],
    ['2 oz.', 56_699],
    ['1 lb', 453_592],
    ['2 lbs', 907_185],
  ])('reads %j as %d mg', (text, mg) => {
    expect(weighed(text)).toBe(mg);
  });

  it.each([
    ['100 ml', 810_700, 81_070],
    ['1 l', 998_201, 998_201],
    ['1 litre', 1_000_000, 1_000_000],
    ['1 fl oz', 1_000_000, 29_574],
    ['1 floz', 1_000_000, 29_574],
    ['1 fl. oz.', 1_000_000, 29_574],
    ['1 fl.oz', 1_000_000, 29_574],
    ['16 US fl oz', 1_000_000, 473_176],
    ['1 us.fl.oz.', 1_000_000, 29_574],
  ])('reads %j at %d ug/ml as %d mg', (text, density, mg) => {
    expect(weighed(text, density)).toBe(mg);
  });

  it('rounds half a milligram up', () => {
    expect(weighed('0.5 ml', 1_001_000)).toBe(501); // 500.5 mg
    expect(weighed('0.5 ml', 1_000_998)).toBe(500); // 500.499 mg
  });

  it.each([
    ['12', 12],
    ['12 each', 12],
    ['12 ea', 12],
    ['12 pcs', 12],
    ['3 dozen', 36],
    ['1.5 dozen', 18],
    ['2.0', 2],
  ])('reads %j as %d units', (text, n) => {
    expect(counted(text)).toBe(n);
  });

  it.each([
    ['', 'empty'],
    ['   ', 'empty'],
    ['kg', 'not-a-number'],
    ['.', 'not-a-number'],
    ['5. g', 'not-a-number'],
    ['+5 g', 'not-a-number'],
    ['+.5 g', 'not-a-number'],
    ['.5,5 g', 'not-a-number'],
    ['1e3 g', 'not-a-number'],
    ['1E-3 kg', 'not-a-number'],
    ['1/2 oz', 'not-a-number'],
    ['½ oz', 'not-a-number'],
    ['5² g', 'unknown-unit'],
    ['NaN g', 'not-a-number'],
    ['Infinity', 'not-a-number'],
    ['0x10 g', 'not-a-number'],
    ['2 lb 3 oz', 'not-a-number'],
    [`${'1'.repeat(70)} g`, 'not-a-number'],
    ['1,234 g', 'ambiguous-number'],
    ['1,5 kg', 'ambiguous-number'],
    ['1.234,5 g', 'ambiguous-number'],
    ['1,234.5 g', 'ambiguous-number'],
    ['1.234.567 g', 'ambiguous-number'],
    ['1 234 g', 'ambiguous-number'],
    ["1'234 g", 'ambiguous-number'],
    ['-5 g', 'negative'],
    ['\u22125 g', 'negative'],
    ['5', 'no-unit'],
    ['5 oz fl', 'unknown-unit'],
    ['5 troy oz', 'unknown-unit'],
    ['2 cups', 'unknown-unit'],
    ['3 gallons', 'unknown-unit'],
    ['5 constructor', 'unknown-unit'],
    ['5 g\u0000', 'unknown-unit'],
    ['5 each', 'wrong-measure'],
    ['1 dozen', 'wrong-measure'],
    ['100 ml', 'needs-density'],
    ['16 fl oz', 'needs-density'],
    ['0.0001 g', 'too-fine'],
    ['0.5 mg', 'too-fine'],
    ['0.0000005 kg', 'too-fine'],
    ['0.00001 oz', 'too-fine'],
    ['9007199254.740992 kg', 'too-large'],
    ['999999999999999999999 kg', 'too-large'],
  ])('refuses %j for a weighed item: %s', (text, code) => {
    expect(codeOf(() => weighed(text))).toBe(code);
  });

  it.each([
    ['5 oz', 'wrong-measure'],
    ['5 ml', 'wrong-measure'],
    ['2.5', 'not-whole'],
    ['0.1 dozen', 'not-whole'],
    ['1,000', 'ambiguous-number'],
    ['9007199254740992', 'too-large'],
  ])('refuses %j for a counted item: %s', (text, code) => {
    expect(codeOf(() => counted(text))).toBe(code);
  });

  it.each([
    ['', 'Write an amount, for example 250 g.'],
    ['-5 g', '"-5 g" is negative; an amount cannot be.'],
    ['kg', '"kg" does not begin with a number like 250 or 2.5.'],
    ['1e3 g', 'Write "1e3" without an exponent, like 1500.'],
    ['1e+16 g', 'Write "1e+16" without an exponent, like 1500.'],
    ['1E-3 kg', 'Write "1e-3" without an exponent, like 1500.'],
    ['1,5e3 g', 'Write "1,5e3" without an exponent, like 1500.'],
    ['1/16 oz', 'Write "1/16" as a decimal, like 0.5.'],
    ['2 lb 3 oz', 'Write one number and one unit, not "lb 3 oz" as well.'],
    ['5', 'Say in which unit: g, kg, mg, oz, lb, ml, l, fl oz, each or dozen.'],
    ['5 each', 'This item is weighed: write a weight such as 250 g, not each.'],
    ['100 ml', 'ml is a volume and this item has no density. Write a weight.'],
    ['0.0001 g', '"0.0001 g" is finer than a milligram, the smallest amount kept here.'],
    ['0.00001 oz', '"0.00001 oz" is less than half a milligram.'],
    ['9007199254.740992 kg', '"9007199254.740992 kg" is larger than any amount kept here.'],
    [`${'1'.repeat(70)} g`, '"11111111111111111111…" is too long.'],
  ])('says of %j: %s', (text, message) => {
    expect(saidBy(() => weighed(text))).toBe(message);
  });

  it('says how a number that can be read in two ways is written', () => {
    for (const number of ['1,5', '1.234,5', '1 234', "1'234", '1.234.567', '+1,5'])
      expect(saidBy(() => weighed(`${number} kg`))).toBe(
        `"${number}" can be read in two ways. Write no thousands separator, and a point for decimals: 1234.5.`,
      );
  });

  it('names the units there are, and what is meant by an ounce or a cup', () => {
    const known = 'Use g, kg, mg, oz, lb, ml, l, fl oz, each or dozen.';
    const said = (text: string) => saidBy(() => weighed(text));
    expect(said('5 stone')).toBe(`"stone" is not a unit used here. ${known}`);
    const ounces = ' An ounce of weight is oz, a US fluid ounce is fl oz.';
    for (const unit of ['oz fl', 'troy oz', 'troy ounces'])
      expect(said(`5 ${unit}`)).toBe(`"${unit}" is not a unit used here. ${known}${ounces}`);
    const household = ' Household measures vary: weigh it.';
    for (const unit of ['cups', 'tsp', 'tbsp', 'drops', 'pints', 'quarts', 'gallons', 'pt', 'qt'])
      expect(said(`5 ${unit}`)).toBe(`"${unit}" is not a unit used here. ${known}${household}`);
    // only where that is what the unit is
    expect(said('5 froz')).toBe(`"froz" is not a unit used here. ${known}`);
    expect(said('5 small cups')).toBe(`"small cups" is not a unit used here. ${known}`);
  });

  it('says of a counted item what it is to be counted in', () => {
    expect(saidBy(() => counted('5 oz'))).toBe('This item is counted: write a number of pieces, not oz.');
    expect(saidBy(() => counted('2.5'))).toBe('"2.5" is not a whole number of pieces.');
    expect(saidBy(() => counted('0.1 dozen'))).toBe('"0.1 dozen" is not a whole number of pieces.');
  });

  it('reads 64 characters and no more', () => {
    expect(weighed(`${'0'.repeat(60)}25 g`)).toBe(25_000);
    expect(codeOf(() => weighed(`${'0'.repeat(61)}25 g`))).toBe('not-a-number');
    // blanks around it do not count
    expect(weighed(`   ${'0'.repeat(60)}25    g  `)).toBe(25_000);
  });

  it('refuses a density that is none, as a fault of the program', () => {
    for (const density of [0, -1, 0.5, Number.NaN])
      expect(() => weighed('1 ml', density)).toThrow(new RangeError(`not a density in ug/ml: ${density}`));
    expect(weighed('1 l', 1)).toBe(1);
  });

  it('reads any text without failing otherwise', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string(), fc.stringMatching(/^[-+\d.,' e/]{0,12} ?(g|oz|fl oz|each|ml)?$/)), (text) => {
        for (const measure of ['weighed', 'counted'] as const)
          expect(outcome(text, measure)).toMatch(/^(amount|refused)$/);
      }),
      { numRuns: runs(2_000, 200_000) },
    );
  });
});

describe('printQuantity', () => {
  it.each<[number, Measure, UnitName | undefined, string]>([
    [0, 'weighed', undefined, '0 g'],
    [1, 'weighed', undefined, '0.001 g'],
    [23_600, 'weighed', undefined, '23.6 g'],
    [999_999, 'weighed', undefined, '999.999 g'],
    [1_000_000, 'weighed', undefined, '1 kg'],
    [2_500_000, 'weighed', undefined, '2.5 kg'],
    [2_500_001, 'weighed', undefined, '2500.001 g'],
    [-5_000, 'weighed', undefined, '-5 g'],
    [28_350, 'weighed', 'oz', '1 oz'],
    [100_000, 'weighed', 'oz', '3.5274 oz'],
    [29_574, 'weighed', 'fl oz', '1 fl oz'],
    [12, 'counted', undefined, '12'],
    [36, 'counted', 'dozen', '3 dozen'],
    [18, 'counted', 'dozen', '1.5 dozen'],
    [12, 'counted', 'each', '12 each'],
  ])('prints %d (%s, %s) as %j', (amount, measure, unit, text) => {
    expect(printQuantity(amount, measure, unit, 1_000_000)).toBe(text);
  });

  it('is read back as the same amount, in every unit', () => {
    const weights: (UnitName | undefined)[] = [undefined, 'mg', 'g', 'kg', 'oz', 'lb', 'ml', 'l', 'fl oz'];
    fc.assert(
      fc.property(
        fc.oneof(fc.nat(100_000), fc.integer({ min: 0, max: MAX_MG })),
        fc.constantFrom(...weights),
        fc.integer({ min: 100_000, max: 25_000_000 }),
        (mg, unit, densityUgPerMl) => {
          const text = printQuantity(mg, 'weighed', unit, densityUgPerMl);
          expect(parseQuantity(text, { measure: 'weighed', densityUgPerMl })).toBe(mg);
        },
      ),
    );
  });

  it('refuses what it cannot print', () => {
    expect(codeOf(() => printQuantity(1, 'counted', 'dozen'))).toBe('not-whole');
    expect(codeOf(() => printQuantity(1, 'counted', 'g'))).toBe('wrong-measure');
    expect(codeOf(() => printQuantity(1, 'weighed', 'ml'))).toBe('needs-density');
    expect(new QuantityError('empty', 'nothing').name).toBe('QuantityError');
    expect(() => printQuantity(0.5, 'weighed')).toThrow(RangeError);
    expect(saidBy(() => printQuantity(1, 'counted', 'dozen'))).toBe('1 has no short form in dozen.');
  });
});

describe('exact arithmetic', () => {
  it('brands only safe integers', () => {
    expect(milligrams(5)).toBe(5);
    expect(units(-5)).toBe(-5);
    expect(Object.is(milligrams(-0), 0)).toBe(true);
    for (const bad of [0.5, Number.NaN, Infinity, 2 ** 53])
      for (const brand of [milligrams, units]) expect(() => brand(bad)).toThrow(RangeError);
  });

  it('takes a part beyond what floats could multiply', () => {
    expect(partOf(18_000_000, 500_000_001, 'floor')).toBe(9_000_000);
    expect(partOf(18_000_000, 500_000_001, 'ceil')).toBe(9_000_001);
    expect(partOf(MAX_MG, 333_333_333, 'floor')).toBe(2_999_999_997_000);
    expect(partOf(7, PPB_ONE, 'ceil')).toBe(7);
    expect(() => partOf(-1, 1, 'floor')).toThrow(RangeError);
  });

  it('says what is wrong with an amount', () => {
    expect(() => milligrams(0.5)).toThrow(new RangeError('milligrams must be a whole number below 2^53: 0.5'));
    expect(() => units(0.5)).toThrow(new RangeError('units must be a whole number below 2^53: 0.5'));
    expect(() => printQuantity(0.5, 'weighed')).toThrow(
      new RangeError('amount must be a whole number below 2^53: 0.5'),
    );
    expect(() => putInFor(-1, 0, 0)).toThrow(new RangeError('outputMg must not be negative: -1'));
    expect(() => putInFor(1, -1, 0)).toThrow(new RangeError('residueMg must not be negative: -1'));
    expect(() => putInFor(1, 0, -1)).toThrow(new RangeError('lossPpb must not be negative: -1'));
    expect(() => putInFor(1, 0, PPB_ONE)).toThrow(new RangeError('loss must stay below 100 %: 1000000000 ppb'));
    expect(() => putInFor(Number.MAX_SAFE_INTEGER, 1, 0)).toThrow(/^put in must be a whole number below 2\^53/);
  });

  it('gives out at most what is not lost and does not stay in the vessel', () => {
    // 1 000 000 x 0.95 less 5 000
    expect(outputFor(1_000_000, 5_000, 50_000_000)).toBe(945_000);
    expect(outputFor(1_000_001, 5_000, 50_000_000)).toBe(945_000); // 950 000.95
    expect(outputFor(5_000, 5_000, 0)).toBe(0);
    expect(outputFor(4_999, 5_000, 0)).toBe(0);
    expect(outputFor(5_001, 5_000, 0)).toBe(1);
    expect(() => outputFor(1, -1, 0)).toThrow(new RangeError('residueMg must not be negative: -1'));
  });

  it('puts in the least that leaves the output after residue and loss', () => {
    expect(putInFor(1_000, 0, 0)).toBe(1_000);
    expect(putInFor(950_000, 0, 50_000_000)).toBe(1_000_000);
    expect(putInFor(950_000, 5_000, 50_000_000)).toBe(1_005_264); // 955 000 / 0.95 = 1 005 263.16
    expect(() => putInFor(1, 0, PPB_ONE)).toThrow(RangeError);
    fc.assert(
      fc.property(fc.nat(MAX_MG), fc.nat(1_000_000), fc.nat(900_000_000), (output, residue, loss) => {
        const putIn = BigInt(putInFor(output, residue, loss));
        const kept = (mg: bigint) => mg * BigInt(PPB_ONE - loss) - BigInt(residue) * BigInt(PPB_ONE);
        const wanted = BigInt(output) * BigInt(PPB_ONE);
        expect(kept(putIn) >= wanted).toBe(true);
        expect(putIn === 0n || kept(putIn - 1n) < wanted).toBe(true);
      }),
    );
  });
});
