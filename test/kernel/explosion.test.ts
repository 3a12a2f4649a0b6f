import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  buildStructure,
  explode,
  lowLevelCodes,
  needRows,
  partRatio,
  StructureError,
} from '../../src/kernel/plan/explosion.js';
import type { Demand, Needs, StructureItem, StructurePart } from '../../src/kernel/plan/explosion.js';
import { largestRemainder } from '../../src/kernel/formula/formula.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';

const part = (code: string, numerator: number, denominator = 1): StructurePart => ({ code, numerator, denominator });
const item = (code: string, ...parts: StructurePart[]): StructureItem => ({ code, parts });
const bought = (...codes: string[]): StructureItem[] => codes.map((code) => item(code));

function rows(needs: Needs): [string, number, number][] {
  return needRows(needs).map(({ code, day, gross }) => [code, day, gross]);
}

function fault(items: StructureItem[]): StructureError {
  try {
    buildStructure(items);
  } catch (error) {
    if (error instanceof StructureError) return error;
    throw error;
  }
  throw new Error('accepted');
}

describe('buildStructure', () => {
  it('puts an item below everything that needs it, however far up', () => {
    const structure = buildStructure([
      ...bought('WATER', 'BOTTLE'),
      item('SPRAY-100', part('BLK', 95_000), part('BOTTLE', 1), part('WATER', 1)),
      item('SET', part('SPRAY-100', 2), part('BOTTLE', 1)),
      item('BLK', part('WATER', 1, 2)),
    ]);
    expect(Object.fromEntries(lowLevelCodes(structure))).toEqual({
      SET: 0,
      'SPRAY-100': 1,
      BLK: 2,
      BOTTLE: 2,
      WATER: 3,
    });
    expect(structure.codes).toEqual(['SET', 'SPRAY-100', 'BLK', 'BOTTLE', 'WATER']);
  });

  it('names the cycle, from its first code, in the order of what is made from what', () => {
    const error = fault([
      item('TOP', part('BLK-B', 1)),
      item('BLK-C', part('BLK-A', 1), part('WATER', 1)),
      item('BLK-A', part('BLK-B', 1)),
      item('BLK-B', part('BLK-C', 1)),
      item('WATER', part('SALT', 1)),
      ...bought('SALT'),
    ]);
    expect([error.code, error.codes]).toEqual(['cycle', ['BLK-A', 'BLK-B', 'BLK-C']]);
    expect(error.message).toBe('made from itself: BLK-A -> BLK-B -> BLK-C -> BLK-A');
    expect(fault([item('A', part('A', 1))]).message).toBe('made from itself: A -> A');
  });

  it('finds the cycle whatever hangs above and below it', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 6 }), fc.nat(4), fc.nat(4), (size, above, below) => {
        const ring = Array.from({ length: size }, (_, i) => `C${i}`);
        const items = [
          ...ring.map((code, i) => item(code, part(ring[(i + 1) % size]!, 1), part('DOWN0', 1))),
          ...Array.from({ length: below + 1 }, (_, i) =>
            item(`DOWN${i}`, ...(i < below ? [part(`DOWN${i + 1}`, 1)] : [])),
          ),
          ...Array.from({ length: above }, (_, i) => item(`A${i}`, part(i === 0 ? 'C0' : `A${i - 1}`, 1))),
        ];
        expect(fault(items).codes).toEqual(ring);
      }),
    );
  });

  it('allows twelve levels of formulas and no more', () => {
    const chain = (levels: number) =>
      Array.from({ length: levels + 1 }, (_, i) =>
        item(`L${String(i).padStart(2, '0')}`, ...(i < levels ? [part(`L${String(i + 1).padStart(2, '0')}`, 2)] : [])),
      );
    const needs = explode(buildStructure(chain(12)), [{ code: 'L00', day: 5, quantity: 3 }]);
    expect(rows(needs).at(-1)).toEqual(['L12', 5, 3 * 2 ** 12]);
    expect([fault(chain(13)).code, fault(chain(13)).codes]).toEqual(['too-deep', ['L13']]);
  });

  it('refuses unknown parts, items listed twice and impossible ratios', () => {
    expect(fault([item('A', part('B', 1))]).codes).toEqual(['A', 'B']);
    expect(fault([item('A', part('B', 1))]).code).toBe('unknown-part');
    expect([fault(bought('A', 'B', 'A')).code, fault(bought('A', 'B', 'A')).codes]).toEqual(['duplicate-item', ['A']]);
    for (const bad of [part('B', -1), part('B', 1, 0), part('B', 0.5), part('B', 2 ** 53), part('B', 1, Number.NaN)])
      expect(fault([item('A', bad), ...bought('B')]).code).toBe('bad-ratio');
  });
});

describe('partRatio', () => {
  it('is exact with the loss in it', () => {
    expect(partRatio(50_000_000, PPB_ONE, 0)).toEqual({ numerator: 1, denominator: 20 });
    // 5 % of what is put in, 4 % of it lost: 0.05 / 0.96
    expect(partRatio(50_000_000, PPB_ONE, 40_000_000)).toEqual({ numerator: 5, denominator: 96 });
    expect(partRatio(95_000, 1, 13_000_000)).toEqual({ numerator: 95_000_000, denominator: 987 });
    expect(() => partRatio(1, 1, PPB_ONE)).toThrow(RangeError);
    expect(() => partRatio(9_007_199_254_740_881, 1, 1)).toThrow(RangeError);
  });
});

describe('explode', () => {
  const structure = buildStructure([
    item('SPRAY-50', part('BLK', 48_000), part('BOTTLE-50', 1)),
    item('SPRAY-100', part('BLK', 95_000), part('BOTTLE-100', 1)),
    item('SET', part('SPRAY-50', 2), part('SPRAY-100', 1), part('BOX', 1)),
    { ...item('BLK', part('SCENT', 5, 96), part('WATER', 91, 96)), leadDays: 14 },
    ...bought('BOTTLE-50', 'BOTTLE-100', 'BOX', 'SCENT', 'WATER'),
  ]);

  it('adds up sets and the bulk their products share', () => {
    const needs = explode(structure, [
      { code: 'SET', day: 30, quantity: 10 },
      { code: 'SPRAY-100', day: 30, quantity: 4 },
      { code: 'SPRAY-50', day: 40, quantity: 1 },
      { code: 'SET', day: 30, quantity: 1 },
    ]);
    const blk = 22 * 48_000 + 15 * 95_000;
    expect(rows(needs)).toEqual([
      ['SET', 30, 11],
      ['BOX', 30, 11],
      ['SPRAY-100', 30, 15],
      ['SPRAY-50', 30, 22],
      ['SPRAY-50', 40, 1],
      ['BLK', 30, blk],
      ['BLK', 40, 48_000],
      ['BOTTLE-100', 30, 15],
      ['BOTTLE-50', 30, 22],
      ['BOTTLE-50', 40, 1],
      ['SCENT', 16, Math.ceil((blk * 5) / 96)],
      ['SCENT', 26, 2_500],
      ['WATER', 16, Math.ceil((blk * 91) / 96)],
      ['WATER', 26, 45_500],
    ]);
  });

  it('covers the earliest needs from stock and does not explode what it covers', () => {
    const needs = explode(
      structure,
      [
        { code: 'SPRAY-50', day: 30, quantity: 3 },
        { code: 'SPRAY-50', day: 31, quantity: 4 },
      ],
      new Map([
        ['SPRAY-50', 5],
        ['BOTTLE-50', 100],
      ]),
    );
    const net = needRows(needs).map((row) => [row.code, row.day, row.net]);
    expect(net.slice(0, 2)).toEqual([
      ['SPRAY-50', 30, 0],
      ['SPRAY-50', 31, 2],
    ]);
    expect(net.slice(2, 4)).toEqual([
      ['BLK', 31, 96_000],
      ['BOTTLE-50', 31, 0],
    ]);
  });

  it('stays exact past the floats and refuses sums past 2^53', () => {
    const fine = buildStructure([item('A', part('B', 999_999_999, PPB_ONE)), ...bought('B')]);
    const needs = explode(fine, [{ code: 'A', day: 0, quantity: 9_000_000_000_001 }]);
    expect(rows(needs)).toEqual([
      ['A', 0, 9_000_000_000_001],
      ['B', 0, 8_999_999_991_001], // 9 000 000 000 001 less 9 000.000 000 001, rounded up
    ]);
    const big: Demand = { code: 'A', day: 0, quantity: Number.MAX_SAFE_INTEGER };
    expect(() => explode(fine, [big, { ...big, quantity: 1 }])).toThrow(/2\^53/);
    const many = buildStructure([item('A', part('B', 2)), ...bought('B')]);
    expect(() => explode(many, [big])).toThrow(/needs of B pass/);
  });

  it('refuses what is not a demand', () => {
    for (const bad of [
      { code: 'NO', day: 0, quantity: 1 },
      { code: 'SET', day: 0.5, quantity: 1 },
      { code: 'SET', day: 2e7, quantity: 1 },
      { code: 'SET', day: 0, quantity: -1 },
      { code: 'SET', day: 0, quantity: 1.5 },
    ])
      expect(() => explode(structure, [bad])).toThrow(RangeError);
    const apart = [0, 9_000_000].map((day) => ({ code: 'SET', day, quantity: 1 }));
    expect(() => explode(structure, apart)).toThrow(/days apart/);
    expect(rows(explode(structure, []))).toEqual([]);
  });
});

/** Item i is made only from later items, so there is no cycle; a few levels deep. */
const structures = fc
  .array(
    fc.record({
      parts: fc.array(
        fc.record({ to: fc.nat(), numerator: fc.nat(2_000), denominator: fc.integer({ min: 1, max: 1_000 }) }),
        { maxLength: 4 },
      ),
      leadDays: fc.nat(5),
    }),
    { minLength: 2, maxLength: 12 },
  )
  .map((raw) =>
    raw.map(({ parts, leadDays }, i) => ({
      code: `I${i}`,
      leadDays,
      parts:
        i === raw.length - 1 ? [] : parts.map((p) => ({ ...p, code: `I${i + 1 + (p.to % (raw.length - 1 - i))}` })),
    })),
  );
const demandsFor = (count: number) =>
  fc.array(fc.record({ item: fc.nat(count - 1), day: fc.nat(6), quantity: fc.nat(50) }), { maxLength: 10 });

describe('explode, any structure', () => {
  it('agrees with summing item by item over bigint', () => {
    fc.assert(
      fc.property(
        structures.chain((items) => fc.tuple(fc.constant(items), demandsFor(items.length))),
        ([items, raw]) => {
          const demands = raw.map((d) => ({ code: `I${d.item}`, day: d.day, quantity: d.quantity }));
          const gross = new Map<string, bigint>();
          const add = (code: string, day: number, n: bigint) =>
            gross.set(`${code} ${day}`, (gross.get(`${code} ${day}`) ?? 0n) + n);
          for (const d of demands) add(d.code, d.day, BigInt(d.quantity));
          for (const one of items)
            for (let day = -70; day <= 6; day++) {
              const q = gross.get(`${one.code} ${day}`) ?? 0n;
              for (const p of one.parts) {
                const den = BigInt(p.denominator);
                add(p.code, day - one.leadDays, (q * BigInt(p.numerator) + den - 1n) / den);
              }
            }
          const expected = [...gross].filter(([, n]) => n > 0n).map(([key, n]) => `${key} ${n}`);
          const actual = rows(explode(buildStructure(items), demands)).map((row) => row.join(' '));
          expect(actual.toSorted()).toEqual(expected.toSorted());
          expect(rows(explode(buildStructure(items.toReversed()), demands.toReversed()))).toEqual(
            rows(explode(buildStructure(items), demands)),
          );
        },
      ),
    );
  });

  it('conserves mass: the materials of a bulk weigh what is put in, to within one mg a line and level', () => {
    const bulk = fc.record({
      weights: fc.array(fc.integer({ min: 1, max: 1_000_000 }), { minLength: 2, maxLength: 8 }),
      lossPpb: fc.nat(200_000_000),
      output: fc.integer({ min: 1, max: 50_000_000_000 }),
    });
    fc.assert(
      fc.property(bulk, bulk, (outer, inner) => {
        // the first line of BLK is itself a bulk
        const lines = (b: typeof outer, prefix: string) =>
          largestRemainder(b.weights, PPB_ONE).map((ppb, i) => ({
            code: `${prefix}${i}`,
            ...partRatio(ppb, PPB_ONE, b.lossPpb),
          }));
        const outerLines = lines(outer, 'M');
        const innerLines = lines(inner, 'N');
        const structure = buildStructure([
          { code: 'BLK', parts: outerLines },
          { code: 'M0', parts: innerLines },
          ...bought(...outerLines.slice(1).map((l) => l.code), ...innerLines.map((l) => l.code)),
        ]);
        const need = new Map(
          rows(explode(structure, [{ code: 'BLK', day: 0, quantity: outer.output }])).map(([code, , n]) => [code, n]),
        );
        const sum = (of: { code: string }[]) => of.reduce((total, l) => total + (need.get(l.code) ?? 0), 0);
        const putIn = (output: number, lossPpb: number) => output / (1 - lossPpb / PPB_ONE);
        for (const [of, output, lossPpb] of [
          [outerLines, outer.output, outer.lossPpb],
          [innerLines, need.get('M0')!, inner.lossPpb],
        ] as const) {
          const excess = sum([...of]) - putIn(output, lossPpb);
          expect(excess).toBeGreaterThan(-0.001); // the float comparison's own error
          expect(excess).toBeLessThan(of.length + 0.001);
        }
      }),
    );
  });
});
