import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { largestRemainder } from '../../src/kernel/formula/scaling.js';
import { dayOf } from '../../src/kernel/measure/day.js';
import { PPB_ONE, putInFor } from '../../src/kernel/measure/quantity.js';
import type { Snapshot, SnapshotFormulaLine } from '../../src/kernel/plan/snapshot.js';
import { type AmountsByDay, madeByDay, needsByDay } from '../support/needs.js';
import { bulk, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

const needsOf = (snapshot: Snapshot) => {
  const { model, netted } = netOf(snapshot);
  return rows(needsByDay(model, netted));
};
/** [item, days from the Monday, quantity], in the order of items, then days. */
const rows = (amounts: AmountsByDay): [string, number, number][] =>
  [...amounts]
    .flatMap(([code, days]) => [...days].map(([at, n]): [string, number, number] => [code, at - dayOf(day(0)), n]))
    .sort(([a, x], [b, y]) => (a < b ? -1 : a > b ? 1 : x - y));

describe('what is needed through every level', () => {
  const sprays = {
    items: [
      ...['SPRAY-50', 'SPRAY-100', 'SET'].map((code) => product(code)),
      bulk('BLK'),
      ...['BOTTLE-50', 'BOTTLE-100', 'BOX'].map(counted),
      item('SCENT'),
      item('WATER'),
    ],
    formulas: [
      formula('SPRAY-50', [line(1, 'BLK', 'each', 48_000, 'fill'), line(2, 'BOTTLE-50', 'each', 1, 'fill')]),
      formula('SPRAY-100', [line(1, 'BLK', 'each', 95_000, 'fill'), line(2, 'BOTTLE-100', 'each', 1, 'fill')]),
      formula('SET', [
        line(1, 'SPRAY-50', 'each', 2, 'pack'),
        line(2, 'SPRAY-100', 'each', 1, 'pack'),
        line(3, 'BOX', 'each', 1, 'pack'),
      ]),
      formula('BLK', [line(1, 'SCENT', 'part', 50_000_000), line(2, 'WATER', 'part', 950_000_000)], {
        lossPpb: 40_000_000,
        restDays: 14,
      }),
    ],
  };

  it('adds up sets and the bulk their products share, the loss put in on top', () => {
    const needs = needsOf(
      openShop({
        ...sprays,
        lines: [
          ordered('a', 'SET', 10, 30),
          ordered('b', 'SPRAY-100', 4, 30),
          ordered('c', 'SPRAY-50', 1, 40),
          ordered('d', 'SET', 1, 30),
        ],
      }),
    );
    const blk = 22 * 48_000 + 15 * 95_000; // 2 481 000 mg
    const putIn = 2_584_375; // over 0.96
    expect(needs).toEqual([
      ['BLK', 30, blk],
      ['BLK', 40, 48_000],
      ['BOTTLE-100', 30, 15],
      ['BOTTLE-50', 30, 22],
      ['BOTTLE-50', 40, 1],
      ['BOX', 30, 11],
      ['SCENT', 16, 129_219], // 129 218.75, of two halves the first is up
      ['SCENT', 26, 2_500],
      ['SET', 30, 11],
      ['SPRAY-100', 30, 15],
      ['SPRAY-50', 30, 22],
      ['SPRAY-50', 40, 1],
      ['WATER', 16, putIn - 129_219],
      ['WATER', 26, 47_500],
    ]);
  });

  it('covers the earliest needs from stock and does not explode what it covers', () => {
    const { model, netted } = netOf(
      openShop({
        ...sprays,
        lines: [ordered('a', 'SPRAY-50', 3, 30), ordered('b', 'SPRAY-50', 4, 31)],
        lots: [lot('L1', 'SPRAY-50', 5), lot('L2', 'BOTTLE-50', 100)],
      }),
    );
    expect(netted.lines.map((row) => row.taken)).toEqual([
      [{ from: 'lot', key: 'L1', quantity: 3 }],
      [{ from: 'lot', key: 'L1', quantity: 2 }],
    ]);
    expect(rows(madeByDay(netted, 'ready'))).toEqual([
      ['BLK', 31, 96_000],
      ['SPRAY-50', 31, 2],
    ]);
    expect(needsByDay(model, netted).get('BOTTLE-50')).toEqual(new Map([[dayOf(day(31)), 2]]));
  });

  it('stays exact past the floats and refuses a batch past 2^53', () => {
    const fine = (quantity: number, of = 'A') =>
      openShop({
        items: [bulk('A'), item('B'), item('C'), product('P'), counted('D')],
        formulas: [
          formula('A', [line(1, 'B', 'part', 999_999_999), line(2, 'C', 'part', 1)]),
          formula('P', [line(1, 'D', 'each', 2)]),
        ],
        lines: [ordered('a', of, quantity, 9)],
      });
    expect(needsOf(fine(9_000_000_000_001))).toEqual([
      ['A', 9, 9_000_000_000_001],
      ['B', 9, 8_999_999_991_001], // 9 000 000 000 001 less 9 000.000 000 001, of which the part of one goes here
      ['C', 9, 9_000],
    ]);
    expect(needsOf(fine(Number.MAX_SAFE_INTEGER))).toHaveLength(3);
    expect(() => netOf(fine(Number.MAX_SAFE_INTEGER, 'P'))).toThrow(/more D than can be counted/);
  });

  it('refuses lines of unknown items', () => {
    expect(() => netOf(openShop({ lines: [ordered('a', 'NO', 1, 9)] }))).toThrow(
      'order line a is for NO, which is not an item',
    );
    expect(needsOf(openShop(sprays))).toEqual([]);
  });
});

/** Item i is made only from later items, so there is no cycle; a few levels deep, each taking whole weeks. */
const structures = fc
  .array(
    fc.record({
      parts: fc.array(fc.record({ to: fc.nat(), amount: fc.integer({ min: 1, max: 12 }) }), { maxLength: 4 }),
      weeks: fc.nat(3),
    }),
    { minLength: 2, maxLength: 8 },
  )
  .map((raw) =>
    raw.map(({ parts, weeks }, i) => ({
      code: `I${i}`,
      weeks,
      parts:
        i === raw.length - 1 ? [] : parts.map((p) => ({ ...p, code: `I${i + 1 + (p.to % (raw.length - 1 - i))}` })),
    })),
  );
const linesFor = (count: number) =>
  fc.array(
    fc.record({
      item: fc.nat(count - 1),
      week: fc.integer({ min: 40, max: 46 }),
      quantity: fc.integer({ min: 1, max: 50 }),
    }),
    {
      maxLength: 10,
    },
  );

describe('what is needed, in any structure', () => {
  it('agrees with summing item by item over bigint', () => {
    fc.assert(
      fc.property(
        structures.chain((items) => fc.tuple(fc.constant(items), linesFor(items.length))),
        ([items, raw]) => {
          const needs = new Map<string, bigint>();
          const add = (code: string, at: number, n: bigint) =>
            needs.set(`${code} ${at}`, (needs.get(`${code} ${at}`) ?? 0n) + n);
          for (const d of raw) add(`I${d.item}`, 7 * d.week, BigInt(d.quantity));
          for (const one of items)
            for (let week = 0; week <= 46; week++)
              for (const p of one.parts)
                add(p.code, 7 * (week - one.weeks), (needs.get(`${one.code} ${7 * week}`) ?? 0n) * BigInt(p.amount));
          const snapshot = openShop({
            items: items.map(({ code }) => product(code)),
            formulas: items.map(({ code, parts, weeks }) =>
              formula(
                code,
                parts.map((p, at) => line(at + 1, p.code, 'each', p.amount)),
                { restDays: 7 * weeks },
              ),
            ),
            lines: raw.map((d, at) => ordered(`o${at}`, `I${d.item}`, d.quantity, 7 * d.week)),
          });
          const expected = [...needs].filter(([, n]) => n > 0n).map(([key, n]) => `${key} ${n}`);
          expect(
            needsOf(snapshot)
              .map((row) => row.join(' '))
              .toSorted(),
          ).toEqual(expected.toSorted());
          const turned = { ...snapshot, items: snapshot.items.toReversed(), lines: snapshot.lines.toReversed() };
          expect(needsOf(turned)).toEqual(needsOf(snapshot));
        },
      ),
    );
  });

  it('conserves mass: the lines of every bulk weigh what is put in, which is its output and the loss, to a milligram', () => {
    const mix = fc.record({
      weights: fc.array(fc.integer({ min: 1, max: 1_000_000 }), { minLength: 2, maxLength: 8 }),
      lossPpb: fc.nat(200_000_000),
    });
    fc.assert(
      fc.property(mix, mix, fc.integer({ min: 100_000_000, max: 50_000_000_000 }), (outer, inner, output) => {
        // the first line of BLK is itself a bulk
        const lines = (of: typeof outer, prefix: string): SnapshotFormulaLine[] =>
          largestRemainder(of.weights, PPB_ONE).map((ppb, i) => line(i + 1, `${prefix}${i}`, 'part', ppb));
        const formulas = [
          formula('BLK', lines(outer, 'M'), { lossPpb: outer.lossPpb }),
          formula('M0', lines(inner, 'N'), { lossPpb: inner.lossPpb }),
        ];
        const codes = new Set(formulas.flatMap((row) => row.lines.map((part) => part.item)));
        const { netted } = netOf(
          openShop({
            items: [bulk('BLK'), ...[...codes].map((code) => (code === 'M0' ? bulk(code) : item(code)))],
            formulas,
            lines: [ordered('a', 'BLK', output, 5)],
          }),
        );
        let wanted = output;
        for (const job of netted.jobs) {
          expect(job.output).toBe(wanted);
          expect(job.putInMg).toBe(putInFor(wanted, 0, job.formula.lossPpb));
          expect(job.inputs.reduce((sum, input) => sum + input.quantity, 0)).toBe(job.putInMg);
          wanted = job.inputs[0]!.quantity;
        }
        expect(netted.jobs.map((job) => job.key)).toEqual(['BLK/1', 'M0/1']);
      }),
    );
  });
});
