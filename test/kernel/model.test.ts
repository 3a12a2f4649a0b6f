import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { minutesTaken } from '../../src/kernel/plan/minutes-taken.js';
import { buildModel, openOnOrBefore, smallestBatch } from '../../src/kernel/plan/model.js';
import { sheetFor } from '../../src/kernel/plan/sheet.js';
import type { Snapshot, SnapshotFormula, SnapshotFormulaLine, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const MONDAY = '2027-01-04';
const bulk = (code: string) => item(code, { kind: 'bulk' });
const product = (code: string) => item(code, { kind: 'product', measure: 'counted' });

/** The largest batch of the first formula's item. */
function largest(formulas: SnapshotFormula[], rest: Partial<Snapshot> = {}): number {
  const codes = new Set(formulas.flatMap((one) => [one.item, ...one.lines.map((part) => part.item)]));
  const made = new Set(formulas.map((one) => one.item));
  const items = [...codes].map((code) =>
    /^(PRD|JAR)/.test(code) ? product(code) : made.has(code) ? bulk(code) : item(code),
  );
  return buildModel(emptyWorkshop({ items, formulas, ...rest })).items.get(formulas[0]!.item)!.largestBatch;
}

describe('the largest batch', () => {
  const pots = (...capacities: number[]) => ({
    vessels: [
      ...capacities.map((capacityMg, at) => ({ code: `POT-${at}`, kind: 'pot', capacityMg })),
      { code: 'VAT', kind: 'vat', capacityMg: 900_000_000 },
    ],
  });
  const poured = (rest: Partial<SnapshotFormula> = {}) =>
    formula('BLK', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'pot', ...rest });

  it('is what the largest vessel of its kind holds, less loss and residue', () => {
    expect(largest([poured()], pots(5_000_000, 10_000_000))).toBe(10_000_000);
    // 10 000 000 x 0.93 - 20 000, where a float says 9 279 999.999 999 999
    expect(largest([poured({ lossPpb: 70_000_000, residueMg: 20_000 })], pots(10_000_000))).toBe(9_280_000);
  });

  it('is put in whole scale steps, the last of which may not fit', () => {
    expect(largest([poured()], pots(10_000_099))).toBe(10_000_000);
    expect(largest([poured({ lossPpb: 500_000_000 })], pots(10_000_099))).toBe(5_000_000);
  });

  it('is in the formula’s multiple, or one of it where none fits', () => {
    expect(largest([poured({ batchMultiple: 300_000 })], pots(1_000_000))).toBe(900_000);
    expect(largest([poured({ batchMultiple: 3_000_000 })], pots(1_000_000))).toBe(3_000_000);
  });

  it('is no more than the formula allows, and unbounded where nothing bounds it', () => {
    expect(largest([poured({ batchMax: 700_000 })], pots(1_000_000))).toBe(700_000);
    expect(largest([poured({ batchMax: 2_000_000 })], pots(1_000_000))).toBe(1_000_000);
    expect(largest([poured({ vesselKind: null })], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
  });

  it('is so many pieces as a mould holds of what is weighed into them', () => {
    const candle = (...more: SnapshotFormulaLine[]) =>
      formula('PRD', [line(1, 'OIL', 'each', 150_000), line(2, 'JAR', 'each', 1), ...more], { vesselKind: 'pot' });
    // 30 x 150 g; a tenth more of each than comes out of it; a wick of 5 g in each; 300 g that go in once
    expect(largest([candle()], pots(4_500_000))).toBe(30);
    expect(largest([candle()], pots(4_499_999))).toBe(29);
    expect(largest([{ ...candle(), lossPpb: 100_000_000 }], pots(4_500_000))).toBe(27);
    expect(largest([candle(line(3, 'WATER', 'each', 5_000))], pots(4_500_000))).toBe(29);
    expect(largest([candle(line(3, 'WATER', 'fixed', 300_000))], pots(4_500_000))).toBe(28);
    expect(largest([candle(line(3, 'WATER', 'fixed', 5_000_000))], pots(4_500_000))).toBe(Number.POSITIVE_INFINITY);
    expect(largest([{ ...candle(), batchMultiple: 7 }], pots(4_500_000))).toBe(28);
    const boxed = formula('PRD', [line(1, 'JAR', 'each', 1)], { vesselKind: 'pot' });
    expect(largest([boxed], pots(4_500_000))).toBe(Number.POSITIVE_INFINITY);
  });

  it('is not bounded by vessels that hold nothing of it: one batch says so as well as a million', () => {
    expect(largest([poured()], { vessels: [] })).toBe(Number.POSITIVE_INFINITY);
    expect(largest([poured({ batchMax: 5_000 })], { vessels: [] })).toBe(5_000);
    expect(largest([poured({ residueMg: 1_000_000 })], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
    expect(largest([poured({ residueMg: 999_999 })], pots(1_000_000))).toBe(1);
    const filled = formula('PRD', [line(1, 'BLK', 'each', 1_000_001, 'fill')]);
    expect(largest([filled, poured()], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
    expect(largest([filled, poured()], { vessels: [] })).toBe(Number.POSITIVE_INFINITY);
    const mix = formula('MIX', [line(1, 'BLK', 'part', 500_000_000), line(2, 'OIL', 'part', 500_000_000)]);
    expect(largest([mix, poured()], { vessels: [] })).toBe(Number.POSITIVE_INFINITY);
  });

  it('takes no more of a bulk than one vessel of it holds', () => {
    const filled = (amount: number, rest: Partial<SnapshotFormula> = {}) =>
      formula('PRD', [line(1, 'BLK', 'each', amount, 'fill')], rest);
    expect(largest([filled(100_000), poured()], pots(1_000_000))).toBe(10);
    expect(largest([filled(100_001), poured()], pots(1_000_000))).toBe(9);
    // (1 000 000 x 0.98 - 1 000) / 97 900 = 10
    expect(largest([filled(97_900, { lossPpb: 20_000_000, residueMg: 1_000 }), poured()], pots(1_000_000))).toBe(10);
    expect(largest([filled(97_901, { lossPpb: 20_000_000, residueMg: 1_000 }), poured()], pots(1_000_000))).toBe(9);
    // what the bulk's own multiple leaves of the vessel is not to be had
    expect(largest([filled(100_000), poured({ batchMultiple: 300_000 })], pots(1_000_000))).toBe(9);
    expect(largest([filled(0), poured()], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
    expect(largest([filled(100_000), poured({ vesselKind: null })], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
  });

  it('takes pieces of a moulded product by count, without loss', () => {
    const set = formula('PRD-SET', [line(1, 'PRD-BAR', 'each', 2, 'pack')], { lossPpb: 500_000_000 });
    const bars = formula('PRD-BAR', [line(1, 'BLK', 'each', 100_000)], { vesselKind: 'pot', batchMax: 9 });
    expect(largest([set, bars, poured({ vesselKind: null })], pots(1_000_000))).toBe(4);
  });

  it('mixes no more than one vessel of each part holds', () => {
    const mix = (ppb: number, rest: Partial<SnapshotFormula> = {}) =>
      formula('MIX', [line(1, 'BLK', 'part', ppb), line(2, 'OIL', 'part', 1_000_000_000 - ppb)], rest);
    expect(largest([mix(500_000_000), poured()], pots(1_000_000))).toBe(2_000_000);
    expect(largest([mix(500_000_000, { lossPpb: 100_000_000 }), poured()], pots(1_000_000))).toBe(1_800_000);
    // a third: of 3 000 000 it is 1 000 000
    expect(largest([mix(333_333_333), poured()], pots(1_000_000))).toBe(3_000_000);
    // a part so small that the vessel bounds nothing: 10^6 x 10^9 mg, and 9 x 10^9 x 10^9, past 2^53
    expect(largest([mix(0), poured()], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
    expect(largest([mix(1), poured()], pots(1_000_000))).toBe(1_000_000_000_000_000);
    expect(largest([mix(1), poured()], pots(10_000_000_000))).toBe(9_007_199_254_740_900);
    const fixed = formula('MIX', [line(1, 'OIL', 'part', 1_000_000_000), line(2, 'BLK', 'fixed', 5_000_000)]);
    expect(largest([fixed, poured()], pots(1_000_000))).toBe(Number.POSITIVE_INFINITY);
  });

  it('fits where one step more would not, whatever loss, residue and scale', () => {
    fc.assert(
      fc.property(
        fc.record({
          capacityMg: fc.integer({ min: 1_000_000, max: 2_000_000_000 }),
          lossPpb: fc.nat(400_000_000),
          residueMg: fc.nat(90_000),
          scaleStepMg: fc.constantFrom(1, 100, 1_000),
          ppb: fc.integer({ min: 50_000_000, max: 1_000_000_000 }),
        }),
        ({ capacityMg, lossPpb, residueMg, scaleStepMg, ppb }) => {
          const { workshop } = emptyWorkshop();
          const scale = { ...workshop, scaleStepMg };
          const base = poured({ lossPpb, residueMg });
          const parts = [line(1, 'BLK', 'part', ppb), line(2, 'OIL', 'part', 1_000_000_000 - ppb)];
          const mix = formula('MIX', parts, { lossPpb, residueMg });
          const shop = { ...pots(capacityMg), workshop: scale };
          const putIn = (of: SnapshotFormula, output: number) => sheetFor(of, output, item, scale);
          const most = largest([base], shop);
          expect(putIn(base, most).putInMg).toBeLessThanOrEqual(capacityMg);
          expect(putIn(base, most + 1).putInMg).toBeGreaterThan(capacityMg);
          const mixed = largest([mix, base], shop);
          expect(putIn(mix, mixed).amounts[0]).toBeLessThanOrEqual(most);
        },
      ),
    );
  });
});

describe('what bounds a batch', () => {
  const boundBy = (rest: Partial<SnapshotFormula>, capacities: number[], filled = 0) => {
    const formulas = [
      formula('BLK', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'pot', ...rest }),
      formula('PRD', [line(1, 'BLK', 'each', filled, 'fill')]),
    ];
    const vessels = capacities.map((capacityMg, at) => ({ code: `POT-${at}`, kind: 'pot', capacityMg }));
    const { items } = buildModel(
      emptyWorkshop({ items: [bulk('BLK'), product('PRD'), item('WATER')], formulas, vessels }),
    );
    return ['BLK', 'PRD'].map((code) => items.get(code)!.boundBy);
  };

  it('is told: nothing, its formula, its vessels, or the batch it is filled from', () => {
    expect(boundBy({}, [])).toEqual([null, null]);
    expect(boundBy({}, [1_000], 10)).toEqual(['vessel', 'source']);
    expect(boundBy({ batchMax: 999 }, [1_000])).toEqual(['formula', null]);
    // where both allow the same it is the formula
    expect(boundBy({ batchMax: 1_000 }, [1_000])).toEqual(['formula', null]);
    expect(boundBy({ batchMax: 1_001 }, [1_000])).toEqual(['vessel', null]);
  });

  it('is the longest day at the bench', () => {
    const { items } = buildModel(
      emptyWorkshop({
        items: [product('PRD'), item('WATER')],
        formulas: [formula('PRD', [line(1, 'WATER', 'each', 1)], { minutesBatch: 30, secondsUnit: 90 })],
      }),
    );
    // 450 of 480 minutes, a minute and a half each
    expect(items.get('PRD')).toMatchObject({ boundBy: 'bench', largestBatch: 300 });
  });
});

describe('how much a plan holds', () => {
  const made = (count: number) =>
    emptyWorkshop({
      items: [...Array.from({ length: count }, (_, n) => product(`PRD-${n}`)), item('WATER')],
      formulas: [formula('PRD-0', [line(1, 'WATER', 'each', 1)], { batchMax: 1 })],
    });

  it('is 4,000 batches, and twenty for each item that is made', () => {
    expect([1, 3].map((count) => buildModel(made(count)).batchesMost)).toEqual([4_020, 4_060]);
  });

  it('is by the day of each line, those that no plan holds last', () => {
    const lines = [
      { key: 'too large', quantity: 4_021, shipBy: '2027-01-08' },
      { key: 'b', quantity: 1, shipBy: '2027-01-12' },
      { key: 'just', quantity: 4_020, shipBy: '2027-01-11' },
      { key: 'a', quantity: 1, shipBy: '2027-01-12' },
    ].map((row) => ({ ...row, item: 'PRD-0', notBefore: null }));
    const model = buildModel({ ...made(1), lines });
    expect(model.lines.map(({ row, place }) => [row.key, place])).toEqual([
      ['too large', 3],
      ['just', 0],
      ['a', 1],
      ['b', 2],
    ]);
  });
});

describe('the smallest batch', () => {
  const smallest = (rest: Partial<SnapshotFormula>) =>
    smallestBatch(
      buildModel(
        emptyWorkshop({
          items: [bulk('BLK'), item('WATER')],
          formulas: [formula('BLK', [line(1, 'WATER', 'part', 1_000_000_000)], rest)],
        }),
      ).items.get('BLK')!,
    );

  it('is the least in whole multiples, but never more than the largest', () => {
    expect(smallest({ batchMin: 250, batchMultiple: 100 })).toBe(300);
    expect(smallest({ batchMin: 250, batchMultiple: 100, batchMax: 200 })).toBe(200);
  });
});

describe('levels and lead days', () => {
  it('follow the longest path of rests, and made items come from the top down, then by code', () => {
    const model = buildModel(
      emptyWorkshop({
        items: [item('OIL'), bulk('BASE'), bulk('BLK'), product('PRD-B'), product('PRD-A'), bulk('IDLE')],
        formulas: [
          formula('PRD-B', [line(1, 'BLK', 'each', 1)], { restDays: 2 }),
          formula('PRD-A', [line(1, 'BASE', 'each', 1), line(2, 'OIL', 'each', 1)], { restDays: 1 }),
          formula('BLK', [line(1, 'BASE', 'part', 1), line(2, 'OIL', 'part', 1)], { restDays: 10 }),
          formula('BASE', [line(1, 'OIL', 'part', 1)], { restDays: 5 }),
        ],
      }),
    );
    expect(model.made.map(({ code, level, leadDays }) => [code, level, leadDays])).toEqual([
      ['IDLE', 0, 0],
      ['PRD-A', 0, 6],
      ['PRD-B', 0, 17],
      ['BLK', 1, 15],
      ['BASE', 2, 5],
    ]);
    expect([...model.items.keys()]).toEqual(['BASE', 'BLK', 'IDLE', 'OIL', 'PRD-A', 'PRD-B']);
    expect(model.items.get('OIL')).toMatchObject({ level: 3, formula: null, largestBatch: Number.POSITIVE_INFINITY });
  });

  it('are refused where formulas go round, or name what is no item', () => {
    const round = [formula('A', [line(1, 'B', 'part', 1)]), formula('B', [line(1, 'A', 'part', 1)])];
    expect(() => buildModel(emptyWorkshop({ items: [bulk('A'), bulk('B')], formulas: round }))).toThrow('A -> B -> A');
    expect(() => buildModel(emptyWorkshop({ items: [bulk('A')], formulas: [round[0]!] }))).toThrow('unknown B');
  });
});

describe('days', () => {
  it('start today, or with the week where that is later, and the week has seven', () => {
    expect(buildModel(emptyWorkshop({ today: '2027-01-06' }))).toMatchObject({
      today: dayOf('2027-01-06'),
      start: dayOf('2027-01-06'),
      weekStart: dayOf(MONDAY),
      weekEnd: dayOf('2027-01-10'),
    });
    expect(buildModel(emptyWorkshop({ weekStart: '2027-01-11' })).start).toBe(dayOf('2027-01-11'));
  });

  it('are open by weekday unless closed, and looked back for within a month', () => {
    const shop = emptyWorkshop();
    const model = buildModel({ ...shop, workshop: { ...shop.workshop, closedDays: ['2027-01-07'] } });
    expect(
      ['2027-01-04', '2027-01-07', '2027-01-08', '2027-01-09'].map((day) => model.openMinutes(dayOf(day))),
    ).toEqual([480, 0, 480, 0]);
    expect(openOnOrBefore(model, dayOf('2027-01-10'))).toBe(dayOf('2027-01-08'));
    expect(openOnOrBefore(model, dayOf('2027-01-07'))).toBe(dayOf('2027-01-06'));
    expect(openOnOrBefore(model, dayOf('2027-01-06'))).toBe(dayOf('2027-01-06'));
    // the first day of a year is 31 days before the first of February
    const closed = Array.from({ length: 31 }, (_, i) => `2027-01-${String(i + 1).padStart(2, '0')}`);
    const shut = (days: string[]) => buildModel({ ...shop, workshop: { ...shop.workshop, closedDays: days } });
    expect(openOnOrBefore(shut(closed), dayOf('2027-01-31'))).toBe(dayOf('2027-01-31'));
    expect(openOnOrBefore(shut(closed.slice(1)), dayOf('2027-01-31'))).toBe(dayOf('2027-01-01'));
  });

  it('have the minutes of batches in the making taken', () => {
    const making = (day: string, minutes: number): SnapshotMaking => ({
      code: `B${minutes}`,
      item: 'BLK',
      free: 0,
      day,
      readyOn: day,
      emptiedOn: day,
      vessel: null,
      minutes,
      expiresOn: null,
    });
    const model = buildModel(
      emptyWorkshop({ making: [making('2027-01-05', 30), making('2027-01-06', 7), making('2027-01-05', 15)] }),
    );
    expect(minutesTaken(model)).toEqual(
      new Map([
        [dayOf('2027-01-05'), 45],
        [dayOf('2027-01-06'), 7],
      ]),
    );
  });
});
