import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { solveFormula } from '../../src/kernel/formula/formula.js';
import type { Basis, FormulaLine } from '../../src/kernel/formula/formula.js';
import { largestRemainder, scaleSheet } from '../../src/kernel/formula/scaling.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';
import { runs } from '../support/scale.js';

const PERCENT = 10_000_000;

function line(position: number, basis: Basis, amount: number | null, more: Partial<FormulaLine> = {}): FormulaLine {
  return { position, basis, amount, isBase: false, ratioOf: [], ...more };
}
const base = { isBase: true };

function parts(lines: FormulaLine[]): (number | null)[] {
  const solved = solveFormula(lines);
  if (!solved.ok) throw new Error(JSON.stringify(solved.errors));
  return solved.partsPpb;
}

function errors(lines: FormulaLine[]): [string, number[]][] {
  const solved = solveFormula(lines);
  return solved.ok ? [] : solved.errors.map((e) => [e.code, e.positions]);
}

function message(lines: FormulaLine[]): string {
  const solved = solveFormula(lines);
  return solved.ok ? 'solved' : solved.errors.map((e) => e.message).join(' ');
}

describe('solveFormula', () => {
  it('fills up with qs', () => {
    expect(parts([line(1, 'share', 5 * PERCENT), line(2, 'qs', null)])).toEqual([50_000_000, 950_000_000]);
  });

  it('counts a load on a base that is itself qs', () => {
    // b + 0.08 b = 1
    expect(parts([line(1, 'qs', null, base), line(2, 'load', 8 * PERCENT)])).toEqual([925_925_926, 74_074_074]);
  });

  it('counts a load on shares and qs together, and a ratio on the load', () => {
    // preservative 1 %, scent 5 % of (alcohol 60 % + water), solubiliser equal to the scent
    const solved = parts([
      line(1, 'share', 60 * PERCENT, base),
      line(2, 'qs', null, base),
      line(3, 'load', 5 * PERCENT),
      line(4, 'ratio', PPB_ONE, { ratioOf: [3] }),
      line(5, 'share', 1 * PERCENT),
    ]);
    expect(solved).toEqual([600_000_000, 300_000_000, 45_000_000, 45_000_000, 10_000_000]);
  });

  it('solves a solubiliser that is part of the base the scent counts on', () => {
    // f = 5 % (w + s), s = f, w + s + f = 1: base = 1 / 1.05
    const solved = parts([
      line(1, 'qs', null, base),
      line(2, 'ratio', PPB_ONE, { ratioOf: [3], isBase: true }),
      line(3, 'load', 5 * PERCENT),
    ]);
    expect(solved).toEqual([904_761_905, 47_619_048, 47_619_047]);
  });

  it('needs no qs where the ratios close the sum', () => {
    // two waxes 3 : 1, scent 10 % of both
    const solved = parts([
      line(1, 'ratio', 3 * PPB_ONE, { ratioOf: [2], isBase: true }),
      line(2, 'qs', null, base),
      line(3, 'load', 10 * PERCENT),
    ]);
    expect(solved).toEqual([681_818_182, 227_272_727, 90_909_091]);
    expect(parts([line(1, 'share', 70 * PERCENT), line(2, 'share', 30 * PERCENT)])).toEqual([700_000_000, 300_000_000]);
  });

  it('leaves lines outside the 100 % out of it', () => {
    expect(parts([line(1, 'each', 1), line(2, 'fixed', 500)])).toEqual([null, null]);
    expect(parts([line(2, 'each', 1), line(1, 'qs', null)])).toEqual([null, PPB_ONE]);
  });

  it('keeps a zero line at zero and breaks ties by position, whatever the order given', () => {
    const thirds = [3, 1, 2].map((position) => line(position, 'ratio', PPB_ONE, { ratioOf: [4] }));
    expect(parts([...thirds.slice(0, 2), line(4, 'qs', null), line(5, 'share', 0)])).toEqual([
      333_333_333, 333_333_334, 333_333_333, 0,
    ]);
  });

  it('gives every reason with its lines', () => {
    expect(errors([])).toEqual([['no-lines', []]]);
    expect(errors(Array.from({ length: 65 }, (_, i) => line(i + 1, 'each', 1)))).toEqual([['too-many-lines', []]]);
    expect(errors([line(1, 'qs', null), line(1, 'each', 1)])).toEqual([['duplicate-position', [1]]]);
    expect(errors([line(1, 'share', null), line(2, 'qs', 5), line(3, 'share', -1), line(4, 'each', 0.5)])).toEqual([
      ['bad-amount', [1, 2, 3, 4]],
    ]);
    expect(errors([line(1, 'load', 5, base), line(2, 'each', 1, base), line(3, 'qs', null)])).toEqual([
      ['bad-base', [1, 2]],
    ]);
    expect(errors([line(1, 'load', 8 * PERCENT), line(2, 'qs', null)])).toEqual([['load-without-base', [1]]]);
    expect(
      errors([
        line(1, 'ratio', 1, { ratioOf: [9] }),
        line(2, 'ratio', 1, { ratioOf: [3] }),
        line(3, 'each', 1),
        line(4, 'ratio', 1),
        line(5, 'qs', null),
      ]),
    ).toEqual([['ratio-names-unknown-line', [1, 2, 4]]]);
  });

  it('names the loop of ratios', () => {
    const loop = [
      line(7, 'ratio', PPB_ONE, { ratioOf: [1, 3] }),
      line(3, 'ratio', PPB_ONE, { ratioOf: [5] }),
      line(5, 'ratio', PPB_ONE, { ratioOf: [1, 3] }),
      line(1, 'qs', null),
    ];
    expect(errors(loop)).toEqual([['ratio-loop', [3, 5]]]);
    expect(message(loop)).toContain('3 -> 5 -> 3');
    expect(errors([line(1, 'ratio', 5, { ratioOf: [1] }), line(2, 'qs', null)])).toEqual([['ratio-loop', [1]]]);
  });

  it('tells shares past 100, no solution, many solutions and a negative line apart', () => {
    const past = [line(1, 'share', 70 * PERCENT), line(2, 'share', 40 * PERCENT), line(3, 'qs', null)];
    expect(errors(past)).toEqual([['shares-past-100', [1, 2]]]);
    expect(message(past)).toContain('110 %');

    const short = [line(1, 'share', 90 * PERCENT, base), line(2, 'load', 5 * PERCENT)];
    expect(errors(short)).toEqual([['no-solution', [1, 2]]]);
    expect(message(short)).toContain('94.5 %');

    expect(errors([line(1, 'qs', null), line(2, 'share', 5), line(3, 'qs', null)])).toEqual([
      ['many-solutions', [1, 3]],
    ]);
    // nothing says how much base there is, and no line fills up
    expect(errors([line(1, 'ratio', PPB_ONE, { ratioOf: [2] }), line(2, 'load', PPB_ONE)])).toEqual([
      ['load-without-base', [2]],
    ]);

    const over = [line(1, 'share', 98 * PERCENT, base), line(2, 'load', 8 * PERCENT), line(3, 'qs', null)];
    expect(errors(over)).toEqual([['negative-line', [3]]]);
    expect(message(over)).toContain('-5.84 %');
  });

  it('finds two open lines without qs', () => {
    // a = f and f = 100 % of a: any amount, and the share leaves room for it
    expect(
      errors([
        line(1, 'share', 0, base),
        line(2, 'ratio', PPB_ONE, { ratioOf: [3], isBase: true }),
        line(3, 'load', PPB_ONE),
        line(4, 'qs', null),
      ]),
    ).toEqual([['many-solutions', [2, 3, 4]]]);
  });

  it('solves 64 dense lines quickly', () => {
    const lines = [line(1, 'qs', null, base)];
    for (let p = 2; p <= 64; p++)
      lines.push(
        p % 3 === 0
          ? line(p, 'load', 1_234_567 + p, {})
          : line(p, 'ratio', 3_333_331 + p, { ratioOf: lines.map((l) => l.position), isBase: p % 3 === 1 }),
      );
    const begun = performance.now();
    const solved = parts(lines);
    expect(performance.now() - begun).toBeLessThan(5_000); // 0.1 s on an idle core
    expect(solved.reduce<number>((a, p) => a + (p ?? 0), 0)).toBe(PPB_ONE);
  });
});

/** Formulas that close: one qs base, small shares, loads and ratios on lines before them. */
const formulas = fc
  .array(
    fc.record({
      basis: fc.constantFrom<Basis>('share', 'load', 'ratio', 'each', 'fixed'),
      amount: fc.nat(3 * PERCENT),
      isBase: fc.boolean(),
      of: fc.array(fc.nat(20), { minLength: 1, maxLength: 3 }),
    }),
    { maxLength: 16 },
  )
  .map((raw) => {
    const lines = [line(1, 'qs', null, base)];
    for (const { basis, amount, isBase, of } of raw) {
      const weighed = lines.filter((l) => l.basis !== 'each' && l.basis !== 'fixed').map((l) => l.position);
      lines.push(
        line(lines.length + 1, basis, amount, {
          isBase: isBase && (basis === 'share' || basis === 'ratio'),
          ratioOf: basis === 'ratio' ? of.map((n) => weighed[n % weighed.length]!) : [],
        }),
      );
    }
    return lines;
  });

/** The same equations by floating-point Gaussian elimination with pivoting: an independent second answer. */
function solveFloat(lines: FormulaLine[]): number[] {
  const n = lines.length;
  const rows = lines.map((l, i) => {
    const amount = (l.amount ?? 0) / PPB_ONE;
    const row: number[] = lines.map((other) => {
      if (l.basis === 'qs') return 1;
      if (l.basis === 'load') return other.isBase ? -amount : 0;
      return l.basis === 'ratio' && l.ratioOf.includes(other.position) ? -amount : 0;
    });
    if (l.basis !== 'qs') row[i]! += 1;
    row.push(l.basis === 'qs' ? 1 : l.basis === 'share' ? amount : 0);
    return row;
  });
  for (let c = 0; c < n; c++) {
    const best = rows.slice(c).reduce((top, row, i) => (Math.abs(row[c]!) > Math.abs(rows[top]![c]!) ? c + i : top), c);
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const factor = rows[r]![c]! / rows[c]![c]!;
      for (let k = c; k <= n; k++) rows[r]![k]! -= factor * rows[c]![k]!;
    }
  }
  return rows.map((row, i) => row[n]! / row[i]!);
}

describe('solveFormula, any formula that closes', () => {
  it('sums to one, satisfies every equation and agrees with a floating-point solver', () => {
    fc.assert(
      fc.property(formulas, (lines) => {
        const weighed = lines.filter((l) => l.basis !== 'each' && l.basis !== 'fixed');
        const solved = parts(lines);
        const x = new Map(lines.map((l, i) => [l.position, solved[i]!]));
        expect(weighed.reduce((sum, l) => sum + x.get(l.position)!, 0)).toBe(PPB_ONE);
        const float = solveFloat(weighed);
        for (const [i, l] of weighed.entries()) {
          const part = x.get(l.position)!;
          expect(Math.abs(part - float[i]! * PPB_ONE)).toBeLessThan(1.01);
          const named =
            l.basis === 'load'
              ? weighed.filter((o) => o.isBase)
              : weighed.filter((o) => l.ratioOf.includes(o.position));
          const counted = named.reduce((sum, o) => sum + BigInt(x.get(o.position)!), 0n);
          const wanted = l.basis === 'share' ? BigInt(l.amount!) * BigInt(PPB_ONE) : BigInt(l.amount ?? 0) * counted;
          // each part is off by less than 1 ppb, so each equation by less than 1 + amount x lines
          const off = BigInt(part) * BigInt(PPB_ONE) - wanted;
          const allowed = BigInt(PPB_ONE) + BigInt(l.amount ?? 0) * BigInt(named.length);
          expect(l.basis === 'qs' || (off <= allowed && -off <= allowed)).toBe(true);
        }
      }),
    );
  });

  it('does not depend on the order of the lines', () => {
    fc.assert(
      fc.property(formulas, fc.infiniteStream(fc.nat()), (lines, order) => {
        const shuffled = lines.map((l) => ({ l, key: order.next().value as number })).sort((a, b) => a.key - b.key);
        const mixed = parts(shuffled.map(({ l }) => l));
        const at = new Map(shuffled.map(({ l }, i) => [l.position, mixed[i]]));
        expect(lines.map((l) => at.get(l.position))).toEqual(parts(lines));
      }),
    );
  });
});

const shares = fc
  .array(fc.oneof(fc.nat(1_000_000), fc.nat(5), fc.constant(0)), { minLength: 1, maxLength: 20 })
  .filter((weights) => weights.some((w) => w > 0));

describe('largestRemainder', () => {
  it('sums exactly, stays within one step, leaves zero at zero', () => {
    fc.assert(
      fc.property(shares, fc.nat(1_000_000), fc.integer({ min: 1, max: 500 }), (weights, steps, step) => {
        const total = steps * step;
        const shared = largestRemainder(weights, total, step);
        const sum = weights.reduce((a, w) => a + w, 0);
        expect(shared.reduce((a, n) => a + n, 0)).toBe(total);
        for (const [i, n] of shared.entries()) {
          expect(n % step).toBe(0);
          expect(Math.abs(n - (total * weights[i]!) / sum)).toBeLessThan(step);
          expect(weights[i] !== 0 || n === 0).toBe(true);
        }
      }),
    );
  });

  it('refuses what cannot be shared', () => {
    expect(() => largestRemainder([1], 5, 2)).toThrow(RangeError);
    expect(() => largestRemainder([1, -1], 5)).toThrow(RangeError);
    expect(() => largestRemainder([0, 0], 5)).toThrow(RangeError);
    expect(() => largestRemainder([1], 5, 0)).toThrow(RangeError);
    expect(largestRemainder([0, 0], 0)).toEqual([0, 0]);
    expect(largestRemainder([], 0)).toEqual([]);
  });
});

const SCALE = { stepMg: 100, leastMg: 500 };

describe('scaleSheet', () => {
  it('rounds to the scale and sums to the batch', () => {
    const sheet = scaleSheet({ partsPpb: [925_925_926, 74_074_074], putInMg: 1_000_000, ...SCALE });
    expect(sheet).toEqual({ weightsMg: [925_900, 74_100], stepMg: 100, flags: [] });
  });

  it('never rounds a line to nothing, and says that it is too light', () => {
    const sheet = scaleSheet({ partsPpb: [999_980_000, 20_000], putInMg: 1_000_000, ...SCALE });
    expect(sheet.weightsMg).toEqual([999_900, 100]); // 20 mg exactly
    expect(sheet.flags).toEqual([
      {
        line: 1,
        code: 'below-smallest',
        advice: ['finer-scale', 'predilution', 'larger-batch'],
        largerBatchMg: 25_000_000,
      },
    ]);
  });

  it('never rounds a line past its limit', () => {
    const free = scaleSheet({ partsPpb: [949_400_000, 50_600_000], putInMg: 100_000, ...SCALE });
    expect(free.weightsMg).toEqual([94_900, 5_100]);
    const limited = scaleSheet({
      partsPpb: [949_400_000, 50_600_000],
      maxPpb: [null, 50_700_000],
      putInMg: 100_000,
      ...SCALE,
    });
    expect(limited).toEqual({ weightsMg: [95_000, 5_000], stepMg: 100, flags: [] });
  });

  it('takes a finer step where the scale would round to nothing or past the limit', () => {
    const limited = scaleSheet({
      partsPpb: [999_980_000, 20_000],
      maxPpb: [null, 50_000],
      putInMg: 1_000_000,
      ...SCALE,
    });
    expect(limited.weightsMg).toEqual([999_980, 20]);
    expect(limited.stepMg).toBe(10);
    expect(limited.flags.map((f) => [f.line, f.code])).toEqual([[1, 'finer-scale-needed']]);
    // two traces and a line that is almost 99.8 steps: one step each does not fit
    const traces = scaleSheet({ partsPpb: [998_000_000, 1_000_000, 1_000_000], putInMg: 10_000, ...SCALE });
    expect(traces.weightsMg).toEqual([9_980, 10, 10]);
    expect(traces.flags.map((f) => f.line)).toEqual([1, 2]);
  });

  it('says when not even milligrams can hold a line', () => {
    const sheet = scaleSheet({ partsPpb: [999_999_999, 1], maxPpb: [null, 1], putInMg: 1_000, ...SCALE });
    expect(sheet.weightsMg).toEqual([1_000, 0]);
    expect(sheet.flags.map((f) => [f.line, f.code])).toEqual([[1, 'not-weighable']]);
  });

  it('wants a batch in whole steps and parts that sum to one', () => {
    expect(() => scaleSheet({ partsPpb: [PPB_ONE], putInMg: 150, ...SCALE })).toThrow(RangeError);
    expect(() => scaleSheet({ partsPpb: [PPB_ONE - 1], putInMg: 100, ...SCALE })).toThrow(RangeError);
    expect(scaleSheet({ partsPpb: [PPB_ONE, 0], putInMg: 0, ...SCALE })).toEqual({
      weightsMg: [0, 0],
      stepMg: 100,
      flags: [],
    });
  });

  it('holds its promises for any batch', () => {
    fc.assert(
      fc.property(
        shares,
        fc.integer({ min: 1, max: 100_000_000 }),
        fc.constantFrom(1, 10, 50, 100, 1_000),
        fc.infiniteStream(fc.option(fc.nat(30_000_000), { nil: null })),
        (weights, steps, stepMg, headroom) => {
          const partsPpb = largestRemainder(weights, PPB_ONE);
          const maxPpb = partsPpb.map((p) => {
            const room = headroom.next().value as number | null;
            return room === null ? null : p + room;
          });
          const putInMg = steps * stepMg;
          const sheet = scaleSheet({ partsPpb, putInMg, stepMg, leastMg: stepMg * 5, maxPpb });
          expect(sheet.weightsMg.reduce((a, n) => a + n, 0)).toBe(putInMg);
          const hopeless = new Set(sheet.flags.filter((f) => f.code === 'not-weighable').map((f) => f.line));
          for (const [i, mg] of sheet.weightsMg.entries()) {
            const exact = BigInt(partsPpb[i]!) * BigInt(putInMg);
            const off = BigInt(mg) * BigInt(PPB_ONE) - exact;
            const step = BigInt(sheet.stepMg) * BigInt(PPB_ONE);
            expect(mg % sheet.stepMg).toBe(0);
            expect(off < step && -off < step).toBe(true);
            expect(mg > 0 || partsPpb[i] === 0 || hopeless.has(i)).toBe(true);
            const max = maxPpb[i] ?? null;
            expect(
              max === null || hopeless.has(i) || BigInt(mg) * BigInt(PPB_ONE) <= BigInt(max) * BigInt(putInMg),
            ).toBe(true);
            const flagged = sheet.flags.some((f) => f.line === i);
            expect(flagged || mg === 0 || mg >= stepMg * 5).toBe(true);
          }
        },
      ),
      { numRuns: runs(300, 20_000) },
    );
  });
});
