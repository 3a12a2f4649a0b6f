import { array, assert, integer, property } from 'fast-check';
import { describe, expect, it } from 'vitest';
import { labourOf, lossOf, valueOfPart } from '../../src/kernel/bench/closing.js';
import { rescaled, sharesOf } from '../../src/kernel/formula/rescaling.js';
import { goodRange, offBy, toleranceOf } from '../../src/kernel/bench/good-range.js';
import { scaleWeight } from '../../src/pages/bench/scale-text.js';
import { goodText } from '../../src/ui/good-range.js';
import { drawFor } from '../../src/ui/page-workshop.js';

const line = (meantMg: number, weighedMg: number, rest: { targetMg?: number; isClosed?: boolean } = {}) => ({
  meantMg,
  weighedMg,
  targetMg: meantMg,
  isClosed: false,
  ...rest,
});

describe('lossOf', () => {
  const closing = {
    putInMg: 1_000_000,
    madeMg: 0,
    leftMg: 0,
    lossPpb: 10_000_000,
    residueMg: 15_000,
    tolerancePpb: 20_000_000,
  };

  it('expects what the formula loses of what was used, and what stays in the vessel', () => {
    // 1 % of 1 kg and 15 g; 2 % either way pass without a reason
    const loss = { expectedLossMg: 25_000, toleranceMg: 20_000 };
    expect(lossOf({ ...closing, madeMg: 975_000 })).toEqual({ ...loss, lossMg: 25_000, isExpected: true });
    expect(lossOf({ ...closing, madeMg: 995_000 })).toMatchObject({ lossMg: 5_000, isExpected: true });
    expect(lossOf({ ...closing, madeMg: 995_001 })).toMatchObject({ isExpected: false });
    expect(lossOf({ ...closing, madeMg: 954_999 })).toMatchObject({ isExpected: false });
    expect(lossOf({ ...closing, madeMg: 475_000, leftMg: 500_000 })).toMatchObject({
      lossMg: 25_000,
      expectedLossMg: 20_000,
    });
    expect(lossOf({ ...closing, putInMg: 0 })).toMatchObject({ lossMg: 0, expectedLossMg: 0, isExpected: true });
  });

  it('never loses a milligram', () => {
    const mg = integer({ min: 0, max: 9_000_000_000 });
    assert(
      property(mg, mg, mg, (putInMg, madeMg, leftMg) => {
        const { lossMg } = lossOf({ ...closing, putInMg, madeMg, leftMg });
        expect(madeMg + leftMg + lossMg).toBe(putInMg);
      }),
    );
  });
});

describe('labourOf and valueOfPart', () => {
  it('round down, and the whole takes the whole', () => {
    expect(labourOf(50, 300_000)).toBe(250_000);
    expect(labourOf(7, 100)).toBe(11);
    expect(labourOf(7, null)).toBe(0);
    expect(valueOfPart(1000, 1, 3)).toBe(333);
    expect(valueOfPart(1000, 3, 3)).toBe(1000);
    // what weighs nothing has its worth all the same
    expect(valueOfPart(1000, 0, 0)).toBe(1000);
    expect(valueOfPart(9_000_000_000_000, 8_999_999, 9_000_000)).toBe(8_999_999_000_000);
  });
});

describe('rescaled', () => {
  it('brings what is not weighed into proportion with what is, at the step of the scale', () => {
    expect(rescaled([line(900_000, 990_000), line(50_000, 0), line(50_000, 0)], 100)).toEqual([null, 55_000, 55_000]);
    // 10 % too little, and that is all
    expect(rescaled([line(900_000, 810_000, { isClosed: true }), line(100_000, 0)], 100)).toEqual([null, 90_000]);
    // half of it is in, and the rest of it is still to come
    expect(rescaled([line(900_000, 450_000), line(100_000, 0)], 100)).toEqual([null, 100_000]);
    expect(rescaled([line(900_000, 0), line(100_000, 0)], 100)).toBeUndefined();
    expect(rescaled([line(900_000, 900_000)], 100)).toBeUndefined();
    expect(rescaled([line(900_000, 0, { isClosed: true }), line(100_000, 0)], 100)).toBeUndefined();
  });

  it('never rounds a line to nothing', () => {
    expect(rescaled([line(1_000_000, 500_000, { isClosed: true }), line(90, 0), line(9, 0)], 100)).toEqual([
      null,
      45,
      5,
    ]);
  });

  it('keeps every line within a step of its exact part, and their sum of the exact sum', () => {
    const meant = integer({ min: 100_000, max: 5_000_000 });
    assert(
      property(
        meant,
        integer({ min: 50_000, max: 9_000_000 }),
        array(meant, { minLength: 1, maxLength: 9 }),
        (first, weighed, rest) => {
          const lines = [line(first, weighed, { isClosed: true }), ...rest.map((mg) => line(mg, 0))];
          const targets = rescaled(lines, 100)!
            .slice(1)
            .map((target) => target!);
          const exact = rest.map((mg) => (mg * weighed) / first);
          for (const [at, target] of targets.entries()) {
            expect(target % 100).toBe(0);
            expect(Math.abs(target - exact[at]!)).toBeLessThan(201);
          }
          const sum = (values: number[]) => values.reduce((total, value) => total + value, 0);
          expect(Math.abs(sum(targets) - sum(exact))).toBeLessThanOrEqual(51);
        },
      ),
    );
  });
});

describe('sharesOf', () => {
  it('sums to a whole, before and after', () => {
    expect(sharesOf([line(900, 990), line(100, 0)])).toEqual([
      { meantPpb: 900_000_000, sharePpb: 908_256_881 },
      { meantPpb: 100_000_000, sharePpb: 91_743_119 },
    ]);
    expect(sharesOf([line(0, 0)])).toEqual([{ meantPpb: 0, sharePpb: 0 }]);
  });
});

describe('scaleWeight', () => {
  const inGrams = { unit: 'g', timeZone: 'America/Chicago' } as const;
  it.each([
    ['  123.4 g\r', '123.4 g'],
    ['ST,GS,+  123.4 g\r\n', '123.4 g'],
    ['+0012.50', '0012.50 g'],
    ['1.2 kg', '1.2 kg'],
    ['16 oz', '16 oz'],
    ['a pinch', 'a pinch'],
    ['-3.2 g', '-3.2 g'],
    ['1,234.5 g', '1,234.5 g'],
    ['.5', '.5 g'],
  ])('reads %j as %j', (typed, read) => {
    expect(scaleWeight(typed, '/quantity', inGrams)).toBe(read);
  });

  it.each([
    ['1.69', '1.69 kg'],
    ['1690 g', '1690 g'],
    ['1,69 kg', '1.69 kg'],
    ['1,69', '1.69 kg'],
    ['1690', '1690 kg'],
    ['ST,GS,+  1690 g', '1690 g'],
  ])('reads %j beside kg as %j', (typed, read) => {
    expect(scaleWeight(typed, '/quantity', { ...inGrams, unit: 'kg' })).toBe(read);
  });

  it.each([
    ['1,690 kg', 'Europe/Berlin', '1.690 kg'],
    ['1,690 kg', 'America/Sao_Paulo', '1.690 kg'],
    // three digits behind a comma may be thousands here, so the amount is refused as it stands
    ['1,690 kg', 'America/Chicago', '1,690 kg'],
    ['1,690 kg', 'Europe/Zurich', '1,690 kg'],
    ['1,690 kg', 'UTC', '1,690 kg'],
    ['0,250 kg', 'America/Chicago', '0.250 kg'],
    ['1.690 kg', 'Europe/Berlin', '1.690 kg'],
  ])('reads %j in %s as %j', (typed, timeZone, read) => {
    expect(scaleWeight(typed, '/quantity', { unit: 'g', timeZone })).toBe(read);
  });

  it.each(['US,GS,+  123.4 g', 'OL,', '123.4 g ?'])('refuses %j, which was not at rest', (typed) => {
    expect(() => scaleWeight(typed, '/quantity', inGrams)).toThrow(/not come to rest/);
  });
});

describe('goodRange', () => {
  // 5.092 either way of 509.275 g is 504.183 to 514.367 g
  it.each([
    [509_275, 5_092, 100, 504_200, 514_300],
    [92_900, 929, 100, 92_000, 93_800],
    [1_690_000, 16_900, 100, 1_673_100, 1_706_900],
    [100, 100, 100, 0, 200],
    [50, 100, 100, 0, 100],
    [12, 0, 100, 12, 12],
  ])('of %i give or take %i on a scale of %i is %i to %i', (target, tolerance, step, least, most) => {
    expect(goodRange(target, tolerance, step)).toEqual({ least, most });
  });

  it('always holds the target, nothing outside the tolerance, and ends where the scale can show it', () => {
    assert(
      property(
        integer({ min: 1, max: 9e9 }),
        integer({ min: 1, max: 5000 }),
        integer({ min: 0, max: 1e8 }),
        (target, scaleStepMg, weighTolerancePpb) => {
          const tolerance = toleranceOf(target, 'weighed', { scaleStepMg, weighTolerancePpb });
          const { least, most } = goodRange(target, tolerance, scaleStepMg);
          expect([least % scaleStepMg, most % scaleStepMg]).toEqual([0, 0]);
          expect(least).toBeGreaterThanOrEqual(Math.max(0, target - tolerance));
          expect(most).toBeLessThanOrEqual(target + tolerance);
          expect([offBy(target, target, { least, most }), least < target, most >= target]).toEqual([0, true, true]);
        },
      ),
    );
  });

  it('says what is off by its distance from the target', () => {
    const good = goodRange(92_900, 929, 100);
    expect([92_000, 93_800, 93_801, 110_000, 91_999].map((mg) => offBy(mg, 92_900, good))).toEqual([
      0, 0, 901, 17_100, -901,
    ]);
  });
});

describe('goodText', () => {
  it.each([
    [504_200, 514_300, 509_275, 100, '504.2 to 514.3 g is good'],
    [92_000, 93_800, 92_900, 100, '92.0 to 93.8 g is good'],
    [1_673_100, 1_706_900, 1_690_000, 100, '1.6731 to 1.7069 kg is good'],
    [1_673_000, 1_706_000, 1_690_000, 1000, '1.673 to 1.706 kg is good'],
    [495_000, 505_000, 500_000, 5000, '495 to 505 g is good'],
    [0, 200, 100, 100, 'up to 0.2 g is good'],
  ])('of %i to %i for %i on a scale of %i is %j', (least, most, target, step, words) => {
    expect(goodText({ least, most }, target, 'weighed', step)).toBe(words);
  });

  it('stands ounces beside it, rounded inwards, where the workshop reads those', () => {
    const workshop = {
      name: '',
      timeZone: 'UTC',
      currency: 'USD',
      units: 'us' as const,
      scaleStep: 100,
      isDemo: false,
    };
    // 92 000 / 28 349.523125 = 3.24520 and 93 800 / 28 349.523125 = 3.30870
    const text = drawFor(workshop, () => goodText({ least: 92_000, most: 93_800 }, 92_900, 'weighed', 100));
    expect(text).toBe('92.0 to 93.8 g (3.246 to 3.308 oz) is good');
  });

  it('names what a count is to be', () => {
    expect(goodText({ least: 12, most: 12 }, 12, 'counted', 100)).toBe('the sheet says 12 pieces');
  });
});
