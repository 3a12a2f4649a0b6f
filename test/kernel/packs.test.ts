import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { choosePacks } from '../../src/kernel/buy/packs.js';
import type { Pack, PackChoice } from '../../src/kernel/buy/packs.js';
import { runs } from '../support/scale.js';

const pack = (key: string, size: number, priceE4: number, leastPacks = 1): Pack => ({ key, size, priceE4, leastPacks });
const chosen = (choice: PackChoice | null) => Object.fromEntries(choice?.packs.map((p) => [p.key, p.count]) ?? []);

describe('choosePacks', () => {
  it('mixes sizes where the large pack alone would waste', () => {
    const choice = choosePacks(1_100, [pack('1 kg', 1_000, 90_000), pack('100 g', 100, 12_000)]);
    expect(choice).toEqual({
      packs: [
        { key: '1 kg', count: 1 },
        { key: '100 g', count: 1 },
      ],
      total: 1_100,
      costE4: 102_000,
      gapE4: 0,
    });
  });

  it('names packs in the order of their keys, whatever they cost', () => {
    const choice = choosePacks(1_100, [pack('Z', 1_000, 90_000), pack('A', 100, 12_000)])!;
    expect(choice.packs).toEqual([
      { key: 'A', count: 1 },
      { key: 'Z', count: 1 },
    ]);
  });

  it('takes one large pack where it is cheaper than what was asked for', () => {
    expect(chosen(choosePacks(800, [pack('L', 1_000, 90_000), pack('S', 100, 12_000)]))).toEqual({ L: 1 });
  });

  it('buys a pack at its least number or not at all', () => {
    const least = [pack('BULK', 500, 20_000, 4), pack('S', 100, 9_000)];
    expect(chosen(choosePacks(600, least))).toEqual({ S: 6 });
    expect(chosen(choosePacks(900, least))).toEqual({ BULK: 4 });
    expect(chosen(choosePacks(2_100, least))).toEqual({ BULK: 4, S: 1 });
    expect(chosen(choosePacks(1, [pack('BULK', 500, 20_000, 4)]))).toEqual({ BULK: 4 });
  });

  it('breaks ties by what is left over, then packs, then key', () => {
    expect(chosen(choosePacks(100, [pack('A', 150, 10), pack('B', 120, 10)]))).toEqual({ B: 1 });
    expect(chosen(choosePacks(100, [pack('A', 50, 5), pack('B', 100, 10)]))).toEqual({ B: 1 });
    expect(chosen(choosePacks(100, [pack('B', 100, 10), pack('A', 100, 10)]))).toEqual({ A: 1 });
  });

  it('takes fewer packs of as much that costs the same, though it is found later', () => {
    // 70 and twice 25 are 120 as well
    const same = [70, 60, 40, 25].map((size) => pack(String(size), size, size));
    expect(choosePacks(120, same)).toMatchObject({ packs: [{ key: '60', count: 2 }], total: 120, costE4: 120 });
    // of as many packs those with the larger among them, before three of 40
    expect(chosen(choosePacks(120, [same[0]!, same[2]!, same[3]!]))).toEqual({ 25: 2, 70: 1 });
    expect(chosen(choosePacks(95, same))).toEqual({ 25: 1, 70: 1 });
  });

  it('knows packs that cost nothing', () => {
    expect(choosePacks(250, [pack('GIFT', 100, 0), pack('PAID', 1_000, 5)])).toMatchObject({ costE4: 0, total: 300 });
  });

  it('has no answer without packs or past all numbers, and refuses nonsense', () => {
    expect(choosePacks(5, [])).toBeNull();
    expect(choosePacks(9_000_000_000_000, [pack('A', 1, 9_000_000_000)])).toBeNull();
    expect(choosePacks(2 ** 53 - 1, [pack('A', 2 ** 52, 1)])).toBeNull();
    for (const need of [0, -1, 0.5, Number.NaN, 2 ** 53])
      expect(() => choosePacks(need, [])).toThrow(new RangeError(`not a need: ${need}`));
    for (const bad of [pack('A', 0, 1), pack('A', 1, -1), pack('A', 1, 1, 0), pack('A', 0.5, 1), pack('A', 1, 1, 1.5)])
      expect(() => choosePacks(1, [bad])).toThrow(new RangeError('not a pack: A'));
  });

  it('says how far it may be off when the search ends early', () => {
    // 40 packs of one price per gram, all even, for an odd need: the least left over is soon found and hard to prove
    const even = Array.from({ length: 40 }, (_, i) => {
      const size = 2 * (50_021 + 1_009 * i + ((i * 37) % 11));
      return pack(`P${String(i).padStart(2, '0')}`, size, size);
    });
    const choice = choosePacks(10_000_019, even)!;
    expect(choice.total).toBeGreaterThanOrEqual(10_000_019);
    expect(choice.costE4).toBe(choice.total);
    expect(choice.gapE4).toBe(choice.total - 10_000_019);
    expect(choice.gapE4).toBeGreaterThan(0);
    expect(choice.gapE4).toBeLessThan(1_000);
  });
});

const packLists = fc
  .array(
    fc.record({
      size: fc.integer({ min: 1, max: 12 }),
      priceE4: fc.nat(12),
      leastPacks: fc.integer({ min: 1, max: 4 }),
    }),
    { minLength: 1, maxLength: 4 },
  )
  .map((list) => list.map((p, i) => ({ ...p, key: `P${i}` })));

/** Every combination there is: cost, left over, packs of the best. */
function byTrying(need: number, packs: readonly Pack[]): [number, number, number] {
  let best: [number, number, number] = [Infinity, 0, 0];
  const walk = (index: number, open: number, cost: number, count: number): void => {
    if (open <= 0) {
      const found: [number, number, number] = [cost, 0 - open, count];
      const at = found.findIndex((n, i) => n !== best[i]);
      if (at >= 0 && found[at]! < best[at]!) best = found;
    }
    const p = packs[index];
    if (!p) return;
    walk(index + 1, open, cost, count);
    for (let n = p.leastPacks; n <= Math.max(p.leastPacks, Math.ceil(need / p.size)); n++)
      walk(index + 1, open - n * p.size, cost + n * p.priceE4, count + n);
  };
  walk(0, need, 0, 0);
  return best;
}

/** Packs as `key size price leastPacks`, and of which how many are bought: no two of these fail by the same fault. */
it.each([
  [8, 'A 1 2 1; B 3 6 1; C 9 5 2', 'C2'],
  [26, 'A 3 5 1; B 6 4 1; C 2 2 1', 'B4 C1'],
  [16, 'A 3 1 2; B 1 2 1; C 7 7 1', 'A6'],
  [10, 'A 7 6 2; B 7 9 3; C 7 7 1', 'A2'],
  [14, 'A 1 1 1; B 1 9 1; C 2 2 1', 'C7'],
  [1, 'A 1 2 1; B 7 14 1', 'A1'],
  [9, 'A 8 16 1; B 4 4 1; C 1 1 1', 'B2 C1'],
  [26, 'A 7 7 1; B 8 6 1; C 9 8 3', 'C3'],
  [16, 'A 5 10 2; B 3 6 1; C 3 6 1', 'A2 B2'],
  [9, 'A 3 3 3; B 1 8 1; C 8 8 1', 'A3'],
  [15, 'A 1 5 1; B 6 12 2; C 2 4 2', 'B2 C2'],
  [14, 'A 1 1 3; B 2 9 1; C 2 9 3', 'A14'],
  [21, 'A 4 4 3; B 5 7 2; C 4 4 2', 'A6'],
  [25, 'A 5 10 1; B 7 14 1; C 2 4 1', 'B3 C2'],
  [27, 'A 5 5 1; B 1 1 1; C 4 4 1', 'A3 C3'],
  [26, 'A 5 5 1; B 1 3 1; C 6 8 1; D 4 5 1', 'A4 C1'],
])('buys for %i, of %s: %s', (need, rows, bought) => {
  const packs = rows.split('; ').map((row) => {
    const [key, ...numbers] = row.split(' ');
    const [size, priceE4, leastPacks] = numbers.map(Number);
    return pack(key!, size!, priceE4!, leastPacks);
  });
  const choice = choosePacks(need, packs)!;
  const count = choice.packs.reduce((sum, one) => sum + one.count, 0);
  expect(choice.packs.map((one) => one.key + one.count).join(' ')).toBe(bought);
  expect([choice.costE4, choice.total - need, count]).toEqual(byTrying(need, packs));
});

describe('choosePacks, any packs', () => {
  it('finds what trying everything finds: cost, then left over, then number of packs', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 40 }), packLists, (need, packs) => {
        const choice = choosePacks(need, packs)!;
        const count = choice.packs.reduce((n, p) => n + p.count, 0);
        expect([choice.costE4, choice.total - need, count]).toEqual(byTrying(need, packs));
      }),
      { numRuns: runs(500, 20_000) },
    );
  });

  it('returns packs that hold the total, cost the cost and respect the least number, in any order of the list', () => {
    const real = fc
      .array(
        fc.record({
          size: fc.integer({ min: 1, max: 25_000_000 }),
          priceE4: fc.nat(5_000_000),
          leastPacks: fc.integer({ min: 1, max: 12 }),
        }),
        { minLength: 1, maxLength: 8 },
      )
      .map((list) => list.map((p, i) => ({ ...p, key: `P${i}` })));
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 2_000_000_000 }), real, (need, packs) => {
        const choice = choosePacks(need, packs);
        // no cheaper choice than past 2^53: even all of it at the lowest price a unit, or the fewest of the cheapest pack
        if (choice === null) {
          const leastE4 = packs.map(
            (p) => BigInt(p.priceE4) * BigInt(Math.max(p.leastPacks, Math.ceil(need / p.size))),
          );
          expect(leastE4.every((costE4) => costE4 > BigInt(Number.MAX_SAFE_INTEGER))).toBe(true);
          return;
        }
        const of = (key: string) => packs.find((p) => p.key === key)!;
        expect(choice.packs.reduce((sum, p) => sum + p.count * of(p.key).size, 0)).toBe(choice.total);
        expect(choice.packs.reduce((sum, p) => sum + p.count * of(p.key).priceE4, 0)).toBe(choice.costE4);
        expect(choice.total).toBeGreaterThanOrEqual(need);
        expect(choice.packs.every((p) => p.count >= of(p.key).leastPacks)).toBe(true);
        expect(choice.gapE4).toBe(0);
        expect(choosePacks(need, packs.toReversed())).toEqual(choice);
      }),
    );
  });
});
