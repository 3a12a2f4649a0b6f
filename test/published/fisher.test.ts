import { describe, expect, it } from 'vitest';
import { fisherTail } from '../../src/kernel/trace/fisher.js';

/** By counting whole numbers of ways, for small cases. */
function exactly({ population, marked, drawn, hits }: Parameters<typeof fisherTail>[0]): number {
  const choose = (n: number, k: number): bigint => {
    let ways = 1n;
    for (let i = 0; i < k; i++) ways = (ways * BigInt(n - i)) / BigInt(i + 1);
    return k < 0 || k > n ? 0n : ways;
  };
  let ways = 0n;
  for (let k = hits; k <= Math.min(marked, drawn); k++)
    ways += choose(marked, k) * choose(population - marked, drawn - k);
  return Number((ways * 10n ** 18n) / choose(population, drawn)) / 1e18;
}

describe("Fisher's exact test, one-sided", () => {
  // R. A. Fisher, The Design of Experiments, 1935, chapter II: eight cups, four with the milk first. All four named
  // rightly has one chance in 70; three or more has 17 in 70 (from memory, and by counting)
  it('gives the chances of the lady tasting tea', () => {
    expect(fisherTail({ population: 8, marked: 4, drawn: 4, hits: 4 })).toBeCloseTo(1 / 70, 12);
    expect(fisherTail({ population: 8, marked: 4, drawn: 4, hits: 3 })).toBeCloseTo(17 / 70, 12);
  });

  // Fisher's twins of convicted criminals (J. Royal Statistical Society 98, 1935, p. 48): of 30, 12 of one birth were
  // compared; 10 of 13 monozygotic against 2 of 17. The tail is 619/1330665 = 0.000465 (value as in the manual of the
  // statistics language R, fisher.test, "Convictions": p-value = 0.0004652; from memory, and by counting)
  it('gives the chance of the convicted twins', () => {
    expect(fisherTail({ population: 30, marked: 12, drawn: 13, hits: 10 })).toBeCloseTo(619 / 1_330_665, 12);
  });

  it('agrees with counting the ways, for every small case', () => {
    for (let population = 1; population <= 14; population++)
      for (let marked = 0; marked <= population; marked++)
        for (let drawn = 0; drawn <= population; drawn++)
          for (let hits = 0; hits <= Math.min(marked, drawn); hits++) {
            const of = { population, marked, drawn, hits };
            expect([of, Math.abs(fisherTail(of) - exactly(of)) < 1e-10]).toEqual([of, true]);
          }
  });

  it('holds for thousands, and is certain where chance has no choice', () => {
    const many = fisherTail({ population: 5_000, marked: 12, drawn: 3, hits: 3 });
    expect(many).toBeCloseTo((12 * 11 * 10) / (5_000 * 4_999 * 4_998), 15);
    expect(fisherTail({ population: 10, marked: 9, drawn: 5, hits: 4 })).toBe(1);
  });
});
