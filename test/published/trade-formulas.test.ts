import { describe, expect, it } from 'vitest';
import { solveFormula } from '../../src/kernel/formula/formula.js';
import type { Basis, FormulaLine } from '../../src/kernel/formula/formula.js';
import { scaleSheet } from '../../src/kernel/formula/scaling.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';

// Facts of the trade in this file: common practice, no source. The arithmetic is recomputed.

const percent = (n: number) => Math.round(n * 10_000_000);

function formula(...lines: { basis: Basis; amount?: number; base?: boolean; of?: number[] }[]): FormulaLine[] {
  return lines.map(({ basis, amount, base, of }, i) => ({
    position: i + 1,
    basis,
    amount: amount ?? null,
    isBase: base ?? false,
    ratioOf: of ?? [],
  }));
}

function partsOf(lines: FormulaLine[]): number[] {
  const solved = solveFormula(lines);
  if (!solved.ok) throw new Error(solved.errors.map((e) => e.message).join(' '));
  return solved.partsPpb.map((part) => part ?? 0);
}

/** The weights on a scale that reads to 0.01 g. */
const weights = (lines: FormulaLine[], putInMg: number) =>
  scaleSheet({ partsPpb: partsOf(lines), putInMg, stepMg: 10, leastMg: 100 }).weightsMg;

describe('fragrance is counted on the base (common practice, no source)', () => {
  const spray = formula({ basis: 'qs', base: true }, { basis: 'load', amount: percent(5) });

  it('5 % on 10 g of base is 0.5 g', () => {
    expect(weights(spray, 10_500)).toEqual([10_000, 500]);
  });

  it('5 % on 472 g of base is 23.6 g, which is 4.76 % of the finished spray', () => {
    expect(weights(spray, 495_600)).toEqual([472_000, 23_600]);
    expect(partsOf(spray)[1]! / percent(1)).toBeCloseTo(4.76, 2);
  });

  it('5 % as a share of the spray is another amount: 24.78 g in the same 495.6 g', () => {
    const byShare = formula({ basis: 'qs', base: true }, { basis: 'share', amount: percent(5) });
    expect(weights(byShare, 495_600)).toEqual([470_820, 24_780]);
  });

  it('100 parts of wax at 8 % load: 7.4074 % of the candle', () => {
    const candle = formula({ basis: 'qs', base: true }, { basis: 'load', amount: percent(8) });
    expect(partsOf(candle)).toEqual([925_925_926, 74_074_074]);
    // 1000 g by load: base 925.926 g and fragrance 74.074 g; by share 920 g and 80 g, 8.6957 % of the base
    expect(scaleSheet({ partsPpb: partsOf(candle), putInMg: 1_000_000, stepMg: 1, leastMg: 100 }).weightsMg).toEqual([
      925_926, 74_074,
    ]);
    const byShare = partsOf(formula({ basis: 'qs', base: true }, { basis: 'share', amount: percent(8) }));
    expect(byShare).toEqual([920_000_000, 80_000_000]);
    expect((byShare[1]! / byShare[0]!) * 100).toBeCloseTo(8.6957, 4);
  });

  it('share = load / (1 + load), load = share / (1 - share)', () => {
    for (const load of [0.5, 3, 6, 8, 10, 12, 25, 100]) {
      const share =
        partsOf(formula({ basis: 'qs', base: true }, { basis: 'load', amount: percent(load) }))[1]! / PPB_ONE;
      expect(share).toBeCloseTo(load / (100 + load), 8);
      expect(share / (1 - share)).toBeCloseTo(load / 100, 7);
    }
  });
});

describe('solubiliser (common practice, no source)', () => {
  it('equal to the fragrance: 0.5 g and 0.5 g in 10 g of water', () => {
    const mist = formula(
      { basis: 'qs', base: true },
      { basis: 'load', amount: percent(5) },
      { basis: 'ratio', amount: PPB_ONE, of: [2] },
    );
    expect(weights(mist, 11_000)).toEqual([10_000, 500, 500]);
  });

  it('four times the fragrance', () => {
    const mist = formula(
      { basis: 'qs', base: true },
      { basis: 'load', amount: percent(5) },
      { basis: 'ratio', amount: 4 * PPB_ONE, of: [2] },
    );
    expect(weights(mist, 12_500)).toEqual([10_000, 500, 2_000]);
  });
});

describe('a base made from scratch (common practice, no source)', () => {
  it('alcohol, hydrosol, solubiliser and preservative, water to 100 %', () => {
    const base = formula(
      { basis: 'share', amount: percent(20) },
      { basis: 'share', amount: percent(15) },
      { basis: 'share', amount: percent(4) },
      { basis: 'qs' },
      { basis: 'share', amount: percent(0.8) },
    );
    expect(partsOf(base)).toEqual([200_000_000, 150_000_000, 40_000_000, 602_000_000, 8_000_000]);
    expect(weights(base, 500_000)).toEqual([100_000, 75_000, 20_000, 301_000, 4_000]);
  });

  it('with the fragrance on all of it, water among what it counts on', () => {
    const spray = formula(
      { basis: 'share', amount: percent(20), base: true },
      { basis: 'share', amount: percent(15), base: true },
      { basis: 'ratio', amount: PPB_ONE, of: [6] },
      { basis: 'qs', base: true },
      { basis: 'share', amount: percent(0.8), base: true },
      { basis: 'load', amount: percent(5) },
    );
    // base + 0.05 base + 0.05 base = 100 %: base 90.909091 %, fragrance and solubiliser 4.545455 % each
    const solved = partsOf(spray);
    expect(solved[5]).toBe(45_454_545);
    expect(solved[2]! - solved[5]!).toBeLessThanOrEqual(1);
    expect(solved[0]! + solved[1]! + solved[3]! + solved[4]!).toBe(909_090_909);
  });
});
