import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgeNetContents, planFor, shortAllowed } from '../../src/kernel/bench/net-contents.js';
import type { NetRule } from '../../src/kernel/bench/net-contents.js';

const g = (grams: number): number => Math.round(grams * 1000);
const judge = (rule: NetRule, label: number, contents: readonly number[], lotSize: number, basis = 'weight' as const) =>
  judgeNetContents({ rule, basis, label: g(label), contents: contents.map(g), lotSize });
const times = (n: number, grams: number): number[] => Array<number>(n).fill(grams);

/** Quantile of Student's t by bisection over its integrated density: the check of recalled factors must not share them. */
function studentQuantile(p: number, degrees: number): number {
  const density = (x: number) => (1 + (x * x) / degrees) ** (-(degrees + 1) / 2);
  // Simpson on x = tan(a), so that the heavy tail of few degrees is finite
  const integral = (to: number) => {
    const steps = 20_000;
    const end = Math.atan(to);
    const h = end / steps;
    const f = (a: number) => density(Math.tan(a)) / Math.cos(a) ** 2;
    let sum = f(0) + (to === Infinity ? 0 : f(end));
    for (let n = 1; n < steps; n++) sum += f(n * h) * (n % 2 === 1 ? 4 : 2);
    return (sum * h) / 3;
  };
  const half = integral(1e9);
  let [low, high] = [0, 1000];
  for (let n = 0; n < 60; n++) {
    const middle = (low + high) / 2;
    if (0.5 + integral(middle) / (2 * half) < p) low = middle;
    else high = middle;
  }
  return low;
}

describe('Directive 76/211/EEC', () => {
  // annex I, point 2.4 (official consolidated text), and its rule that percent errors are rounded up to a tenth
  it.each([
    [5, 0.5],
    [30, 2.7],
    [50, 4.5],
    [75, 4.5],
    [100, 4.5],
    [101, 4.6],
    [120, 5.4],
    [150, 6.8],
    [200, 9],
    [250, 9],
    [400, 12],
    [500, 15],
    [750, 15],
    [1000, 15],
    [1500, 22.5],
    [10_000, 150],
  ])('tolerates an error of a label of %d g or ml of %d', (label, error) => {
    expect(shortAllowed('eu-76-211', 'weight', g(label))).toBe(g(error));
    expect(shortAllowed('eu-76-211', 'volume', g(label))).toBe(g(error));
  });

  it('has no error for what it does not cover', () => {
    expect(shortAllowed('eu-76-211', 'weight', g(4.9))).toBeNull();
    expect(shortAllowed('eu-76-211', 'weight', g(10_001))).toBeNull();
  });

  it('is continuous where its bands meet, but for the rounding up', () => {
    for (const edge of [50, 100, 200, 300, 500, 1000])
      expect(
        Math.abs(shortAllowed('eu-76-211', 'weight', g(edge) + 1)! - shortAllowed('eu-76-211', 'weight', g(edge))!),
      ).toBeLessThanOrEqual(100);
  });

  // annex II, 2.2.1 (official text): double sampling without destroying; 2.1.3: below 100 all of them
  it.each([
    [99, 99, 2],
    [100, 30, 1],
    [500, 30, 1],
    [501, 50, 2],
    [3200, 50, 2],
    [3201, 80, 3],
  ])('takes of a lot of %d units %d, of which %d may be beyond the error', (lot, asked, most) => {
    expect(planFor('eu-76-211', lot)).toMatchObject({ asked, beyondMost: most });
  });

  // annex II, 2.2.1 (official text): what both samples hold together, how many of them pass, and how many of the first do not
  it.each([
    [99, undefined],
    [100, { asked: 60, beyondMost: 4, refusedFrom: 3 }],
    [501, { asked: 100, beyondMost: 6, refusedFrom: 5 }],
    [3201, { asked: 160, beyondMost: 8, refusedFrom: 7 }],
  ])('takes of a lot of %d units a second sample as %j says', (lot, second) => {
    expect(planFor('eu-76-211', lot).second).toEqual(second);
  });

  it('asks for a second sample between acceptance and refusal, and adds both', () => {
    const defective = (n: number, of: number) => judge('eu-76-211', 100, [...times(of - n, 101), ...times(n, 95)], 400);
    expect(defective(1, 30)).toMatchObject({ verdict: 'meets', beyond: 1 });
    expect(defective(2, 30)).toMatchObject({
      verdict: 'too-few',
      reasons: [expect.stringContaining('weigh 60 in all')],
    });
    expect(defective(3, 30).verdict).toBe('fails');
    expect(defective(4, 60)).toMatchObject({ verdict: 'meets', asked: 60 });
    expect(defective(5, 60).verdict).toBe('fails');
  });

  it('accepts no unit short by more than twice the error (annex I, 1)', () => {
    const answer = judge('eu-76-211', 100, [...times(29, 102), 90.9], 200);
    expect(answer.units.at(-1)!.mark).toBe('far-beyond');
    expect(answer.verdict).toBe('fails');
    expect(judge('eu-76-211', 100, [...times(29, 102), 91], 200)).toMatchObject({ verdict: 'meets', beyond: 1 });
  });

  it('tests the mean with the factors of annex II, 2.3: t for 99.5 % over the root of n', () => {
    for (const [lot, n] of [
      [300, 30],
      [1000, 50],
    ] as const)
      expect(planFor('eu-76-211', lot).factor).toBeCloseTo(studentQuantile(0.995, n - 1) / Math.sqrt(n), 3);
  });

  it('passes a mean of 99.40 g and fails one of 99.39 g at a label of 100 g, 30 units, deviation 1.2 g', () => {
    // derived: limit 100 - 0.503 x 1.2 = 99.3964
    const spread = 1.2 * Math.sqrt(29 / 30);
    const at = (mean: number) =>
      judge('eu-76-211', 100, [...times(15, mean - spread), ...times(15, mean + spread)], 300);
    expect(at(99.4)).toMatchObject({ deviation: 1200, meanLeast: 99_397, verdict: 'meets' });
    expect(at(99.39).verdict).toBe('fails');
  });

  it('of a small lot weighed whole estimates nothing: the mean must reach the label', () => {
    expect(judge('eu-76-211', 100, [...times(11, 100), 99.9], 12).verdict).toBe('fails');
    expect(judge('eu-76-211', 100, [...times(11, 100), 99.9], 13).verdict).toBe('too-few');
    expect(judge('eu-76-211', 100, [...times(11, 100.1), 99.9], 12).verdict).toBe('meets');
  });
});

describe('NIST Handbook 133', () => {
  // a published package example (label 454 g): mean 454.5, and 453.917 with the last at 450
  const PACKS = [452, 453, 453, 454, 454, 454, 455, 455, 455, 456, 456, 457];

  it('passes the published packs by their average, all of the lot weighed', () => {
    expect(judge('nist-133', 454, PACKS, 12)).toMatchObject({ mean: 454_500, verdict: 'meets', beyond: 0 });
  });

  it('fails them with the last at 450 g, and of a larger lot looks at the error limit of the sample first', () => {
    const packs = [...PACKS.slice(0, -1), 450];
    expect(judge('nist-133', 454, packs, 12)).toMatchObject({ mean: 453_917, meanLeast: 454_000, verdict: 'fails' });
    // squares of the differences sum to 32.9167: deviation 1.7299, times 0.635 is 1.0985
    expect(judge('nist-133', 454, packs, 100)).toMatchObject({
      deviation: 1_730,
      meanLeast: 452_902,
      verdict: 'meets',
    });
    const even = judge('nist-133', 454, times(12, 453.917), 100);
    expect(even).toMatchObject({ deviation: 0, verdict: 'fails' });
  });

  // table 2-5 (from memory; two cells are quoted elsewhere: 113 g -> 7 g, 3 oz -> 0.25 oz)
  it.each([
    [30, 3],
    [36, 3.6],
    [54, 3.6],
    [54.001, 5.4],
    [81, 5.4],
    [113, 7.2],
    [117, 7.2],
    [120, 9],
    [154, 9],
    [208, 10.8],
    [220, 12.7],
    [317, 14.5],
    [381, 16.3],
    [426, 18.1],
  ])('lets one unit of a label of %d g be %d g short', (label, short) => {
    expect(shortAllowed('nist-133', 'weight', g(label))).toBe(g(short));
  });

  it('agrees with 3 ounces, 0.25 ounce short', () => {
    expect(shortAllowed('nist-133', 'weight', Math.round(3 * 28_349.523125))! / 28_349.523125).toBeCloseTo(0.25, 1);
  });

  it('has steps of 0.004 lb up to 1.7 lb, as the table is made in pounds', () => {
    const labels = [40, 60, 100, 120, 160, 220, 270, 320, 400, 450, 500, 600, 650, 700];
    labels.forEach((label, at) => {
      const pounds = shortAllowed('nist-133', 'weight', g(label))! / 453_592.37;
      expect(pounds, `${label} g`).toBeCloseTo(0.008 + 0.004 * at, 3);
    });
  });

  it('says of a volume that nobody has said how much one may be short, unless somebody did', () => {
    const asked = { rule: 'nist-133', basis: 'volume', label: 100_000, lotSize: 12 } as const;
    const contents = [...Array<number>(11).fill(101_000), 99_000];
    const open = judgeNetContents({ ...asked, contents });
    expect(open).toMatchObject({ allowedShort: null, verdict: 'too-few' });
    expect(open.units.at(-1)!.mark).toBe('unjudged');
    expect(judgeNetContents({ ...asked, contents, allowedShort: 4_000 }).verdict).toBe('meets');
    expect(judgeNetContents({ ...asked, contents, allowedShort: 900 }).verdict).toBe('fails');
  });

  // table 2-1, category A (from memory): sizes of lot and sample
  it.each([
    [1, 1, 0],
    [11, 11, 0],
    [12, 12, 0],
    [250, 12, 0],
    [251, 24, 0],
    [3200, 24, 0],
    [3201, 48, 1],
  ])('takes of a lot of %d units %d, of which %d may be beyond', (lot, asked, most) => {
    expect(planFor('nist-133', lot)).toMatchObject({ asked, beyondMost: most });
  });

  it('corrects by t for 97.5 % over the root of n', () => {
    for (const lot of [2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 300, 4000]) {
      const { asked, factor } = planFor('nist-133', lot);
      expect(factor, `${asked}`).toBeCloseTo(studentQuantile(0.975, asked - 1) / Math.sqrt(asked), 2);
    }
  });

  it('fails with one unit beyond, however full the others are', () => {
    const answer = judge('nist-133', 120, [...times(11, 125), 110.9], 24);
    expect(answer).toMatchObject({ beyond: 1, beyondMost: 0, verdict: 'fails' });
    expect(answer.reasons).toEqual(['1 unit is short by more than one may be; the plan accepts 0.']);
  });
});

describe('a unit', () => {
  it('is marked by how far it is short of the label, and far beyond only by the directive', () => {
    // a label of 100 g may be 4.5 g short
    const marks = judge('eu-76-211', 100, [100, 99.999, 95.5, 95.499, 91, 90.999, 0], 100).units;
    expect(marks).toEqual([
      { content: 100_000, short: 0, mark: 'full' },
      { content: 99_999, short: 1, mark: 'short' },
      { content: 95_500, short: 4_500, mark: 'short' },
      { content: 95_499, short: 4_501, mark: 'beyond' },
      { content: 91_000, short: 9_000, mark: 'beyond' },
      { content: 90_999, short: 9_001, mark: 'far-beyond' },
      { content: 0, short: 100_000, mark: 'far-beyond' },
    ]);
    expect(judge('nist-133', 100, [50], 100).units).toEqual([{ content: 50_000, short: 50_000, mark: 'beyond' }]);
  });

  it('counts as beyond where it is far beyond as well', () => {
    expect(judge('eu-76-211', 100, [...times(28, 103), 95, 90], 300)).toMatchObject({ beyond: 2 });
  });

  it('strays from nothing alone, and from one other by the root of half the square between them', () => {
    expect(judge('nist-133', 100, [99], 100)).toMatchObject({ deviation: 0, mean: 99_000 });
    expect(judge('nist-133', 100, [99, 101], 100)).toMatchObject({ deviation: 1_414, mean: 100_000 });
  });

  it('may be so much short as a table says, and where none does, nobody knows', () => {
    expect(shortAllowed('nist-133', 'weight', g(970))).toBe(31_700);
    expect(shortAllowed('nist-133', 'weight', g(970) + 1)).toBeNull();
    expect(shortAllowed('nist-133', 'volume', g(100))).toBeNull();
  });
});

describe('the reasons of a judgement', () => {
  const reasons = (...asked: Parameters<typeof judge>) => judge(...asked).reasons;

  it('name the average and what it must reach, and nothing where it does', () => {
    expect(reasons('nist-133', 100, [...times(11, 100), 99.88], 12)).toEqual([
      'The average, 99.99 g, is less than the 100.00 g it must reach.',
    ]);
    expect(reasons('nist-133', 100, times(12, 100), 12)).toEqual([]);
    const volume = { rule: 'eu-76-211', basis: 'volume', label: 100_000, lotSize: 2 } as const;
    expect(judgeNetContents({ ...volume, contents: [99_000, 100_500] })).toMatchObject({
      mean: 99_750,
      basis: 'volume',
      weighed: 2,
      reasons: ['The average, 99.75 ml, is less than the 100.00 ml it must reach.'],
    });
  });

  it('count the units that are too short', () => {
    // a label of 100 g may be 4.5 g short
    expect(reasons('eu-76-211', 100, [...times(28, 103), 90.9, 90.8], 300)).toEqual([
      '2 units are short by more than twice what one may be short.',
    ]);
    expect(reasons('eu-76-211', 100, [...times(27, 103), 95, 95, 95], 300)).toEqual([
      '3 units are short by more than one may be; the plan accepts 1.',
    ]);
    expect(reasons('eu-76-211', 100, [...times(28, 103), 95, 95], 300)).toEqual([
      '2 units are short by more than one may be: weigh 60 in all.',
    ]);
    // exactly as short as may be
    expect(reasons('eu-76-211', 100, [...times(28, 103), 95.5, 95.5], 300)).toEqual([]);
  });

  it('say how many are still to be weighed, and of fewer nothing about the average', () => {
    expect(reasons('nist-133', 100, times(11, 101), 100)).toEqual(['11 weighed; of 100 the plan takes 12.']);
    expect(reasons('nist-133', 100, times(11, 99), 100)).toEqual(['11 weighed; of 100 the plan takes 12.']);
    expect(reasons('eu-76-211', 100, times(59, 101), 300)).toEqual([]);
  });

  it('say that nobody has said how short one may be, once for all such units', () => {
    const asked = { rule: 'nist-133', basis: 'volume', label: 100_000, lotSize: 3 } as const;
    const open = (...contents: number[]) => judgeNetContents({ ...asked, contents }).reasons;
    const lookUp = 'short, and how much one may be short is not said: look it up for this label.';
    expect(open(102_000, 102_000, 99_000)).toEqual([`1 unit is ${lookUp}`]);
    expect(open(104_000, 99_000, 99_000)).toEqual([`2 units are ${lookUp}`]);
  });
});

describe('any judgement', () => {
  it('never gets worse when every unit holds more, and refuses nonsense', () => {
    const rank = { fails: 0, 'too-few': 1, meets: 2 };
    fc.assert(
      fc.property(
        fc.constantFrom<NetRule>('nist-133', 'eu-76-211'),
        fc.integer({ min: 5_000, max: 900_000 }),
        fc.array(fc.integer({ min: -200, max: 100 }), { minLength: 1, maxLength: 60 }),
        fc.integer({ min: 0, max: 500 }),
        fc.integer({ min: 1, max: 50_000 }),
        (rule, label, parts, more, added) => {
          const contents = parts.map((part) => Math.max(0, label + Math.round((label * part) / 1000)));
          const lotSize = contents.length + more;
          const before = judgeNetContents({ rule, basis: 'weight', label, contents, lotSize });
          const fuller = contents.map((content) => content + added);
          const after = judgeNetContents({ rule, basis: 'weight', label, contents: fuller, lotSize });
          expect(rank[after.verdict]).toBeGreaterThanOrEqual(rank[before.verdict]);
          expect(before.verdict === 'meets').toBe(before.reasons.length === 0);
        },
      ),
    );
    for (const wrong of [
      { label: 0 },
      { contents: [] },
      { lotSize: 1 },
      { contents: [-1, 2] },
      { contents: [1.5, 2] },
      { label: NaN },
    ])
      expect(() =>
        judgeNetContents({ rule: 'nist-133', basis: 'weight', label: 100, contents: [100, 100], lotSize: 2, ...wrong }),
      ).toThrow(new RangeError('net contents are judged on whole amounts of some of the units of a lot'));
  });
});
