import { describe, expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot, SnapshotFormula, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { faultsOf } from '../support/plan-checker.js';
import { runs } from '../support/scale.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const PIECES_MOST = 1_000_000_000;

const ordered = (key: string, quantity: number, shipBy: string, of = 'SPRAY'): SnapshotLine => ({
  key,
  item: of,
  quantity,
  shipBy,
  notBefore: null,
});

/** A spray of 100 g from a bulk in jugs of 30 kg, and a balm of the same that is kept in stock. */
function sprays(
  filling: Partial<SnapshotFormula>,
  lines: SnapshotLine[],
  base: Partial<SnapshotFormula> = {},
): Snapshot {
  return emptyWorkshop({
    items: [
      item('WATER', { stocked: false }),
      item('BASE', { kind: 'bulk' }),
      item('BULK', { kind: 'bulk' }),
      item('SPRAY', { kind: 'product', measure: 'counted' }),
      item('BALM', { kind: 'product', measure: 'counted', policy: 'to-stock', target: 50 }),
    ],
    formulas: [
      formula('BASE', [line(1, 'WATER', 'part', 1_000_000_000)], base),
      formula('BULK', [line(1, 'BASE', 'part', 1_000_000_000)], { vesselKind: 'jug' }),
      formula('SPRAY', [line(1, 'BULK', 'each', 100_000, 'fill')], filling),
      formula('BALM', [line(1, 'BULK', 'each', 100_000, 'fill')]),
    ],
    vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 30_000_000 }],
    lines,
  });
}

/** Bars that are cast one by one, of nothing that runs out. */
const bars = (lines: SnapshotLine[], target = 0): Snapshot =>
  emptyWorkshop({
    items: [
      item('WATER', { stocked: false }),
      item('BAR', { kind: 'product', measure: 'counted', policy: target > 0 ? 'to-stock' : 'to-order', target }),
    ],
    formulas: [formula('BAR', [line(1, 'WATER', 'each', 100_000)], { batchMax: 1 })],
    lines,
  });

/** 4,000, and 20 for the one item that is made. */
const BARS_MOST = 4_020;

describe('a plan of more batches than it holds', () => {
  it.each([
    ['in batches of 31', { batchMax: 31 }, {}],
    ['one by one', { batchMax: 1 }, {}],
    ['of a base that is made by the kilogram', {}, { batchMax: 1_000_000 }],
  ])('makes of a line of 1,000,000,000 pieces %s what fits, and says so of the rest', (_, filling, base) => {
    const shop = sprays(filling, [ordered('A', PIECES_MOST, '2027-01-15')], base);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    const most = 4_080;
    expect(answer.lines).toMatchObject([{ because: 'plan-full', readyOn: null }]);
    expect(answer.lines[0]!.missing).toBeLessThan(PIECES_MOST);
    expect(answer.batches.length).toBeGreaterThan(most - 4);
    expect(answer.full).toEqual({ batchesMost: most, refills: [{ item: 'BALM', quantity: 50 }] });
    // it can be bought nowhere, and is not said to be short
    expect(answer.shortfalls).toEqual([]);
  });

  it('takes no other line its place for one with a figure too many', () => {
    const others = Array.from({ length: 50 }, (_, i) => ordered(`B${i}`, 3, '2027-01-20'));
    const shop = sprays({ batchMax: 31 }, [ordered('A', PIECES_MOST, '2027-01-12'), ...others]);
    const { lines } = plan(shop);
    expect(lines.filter(({ because }) => because === 'plan-full').map(({ key }) => key)).toEqual(['A']);
    expect(lines.filter(({ missing, lateDays }) => missing === 0 && lateDays === 0)).toHaveLength(50);
  });

  it('holds tens of thousands of lines as far as it goes, by the day they are to ship', () => {
    const lines = Array.from({ length: runs(40_000, 100_000) }, (_, i) =>
      ordered(`A${i}`, 10, `2027-01-${String(10 + (i % 20)).padStart(2, '0')}`),
    );
    const shop = sprays({ batchMax: 31 }, lines);
    const answer = plan(shop);
    const leftOut = answer.lines.filter(({ because }) => because === 'plan-full');
    expect(leftOut.length).toBeGreaterThan(10_000);
    const held = answer.lines.filter(({ because }) => because !== 'plan-full');
    expect(held.every(({ shipBy }) => shipBy <= leftOut[0]!.shipBy)).toBe(true);
    expect(answer.batches.length).toBeGreaterThan(4_080 - 4);
    expect(answer.batches.length).toBeLessThanOrEqual(4_080);
  });

  it('leaves out not one piece more than it must', () => {
    const fits = plan(bars([ordered('A', BARS_MOST, '2027-01-15', 'BAR')]));
    expect(fits).toMatchObject({ lines: [{ missing: 0 }] });
    expect(fits).not.toHaveProperty('full');
    const shop = bars([ordered('A', BARS_MOST + 1, '2027-01-15', 'BAR')]);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer).toMatchObject({ lines: [{ missing: 1, because: 'plan-full' }], full: { refills: [] } });
    expect(answer.batches).toHaveLength(BARS_MOST);
  });

  it('holds the lines that are to ship first, then the next in part, then no stock', () => {
    const late = ordered('A', 3_000, '2027-01-16', 'BAR');
    const shop = bars([late, ordered('B', 3_000, '2027-01-15', 'BAR')], 5);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([
      { key: 'B', missing: 0 },
      { key: 'A', missing: 6_000 - BARS_MOST, because: 'plan-full' },
    ]);
    expect(answer.full!.refills).toEqual([{ item: 'BAR', quantity: 5 }]);
  });

  it('leaves stock out alone where all orders have room', () => {
    const shop = bars([ordered('A', 20, '2027-01-15', 'BAR')], 5_000);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer).toMatchObject({ lines: [{ missing: 0, because: null }] });
    expect(answer.full).toEqual({
      batchesMost: BARS_MOST,
      refills: [{ item: 'BAR', quantity: 5_020 - BARS_MOST }],
    });
  });

  it('gives a line what lies on the shelf, and makes what fits of the rest', () => {
    const shop = bars([ordered('A', 5_000, '2027-01-15', 'BAR')]);
    shop.lots.push({ code: 'L', item: 'BAR', free: 900, onHand: 900, valueE4: 0, expiresOn: null });
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([{ missing: 5_000 - 900 - BARS_MOST, because: 'plan-full' }]);
  });

  it('says of what could never be made that it could not, full as it is', () => {
    const shop = bars([ordered('A', 5_000, '2027-01-15', 'BAR'), ordered('B', 7, '2027-01-20', 'OLD')]);
    shop.items.push(item('OLD', { kind: 'product', measure: 'counted', shelfLifeDays: 5, owedLifeDays: 9 }));
    shop.formulas.push(formula('OLD', [line(1, 'WATER', 'each', 100_000)]));
    expect(plan(shop).lines).toMatchObject([{ because: 'plan-full' }, { because: 'never-fresh', missing: 7 }]);
  });
});
