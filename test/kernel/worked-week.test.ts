import { describe, expect, it } from 'vitest';
import { solveFormula } from '../../src/kernel/formula/formula.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { SnapshotFormulaLine } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

/** Base that fills up, and a fragrance as a load on it, as makers count it. */
function loaded(base: string, fragrance: string, loadPpb: number): SnapshotFormulaLine[] {
  const solved = solveFormula([
    { position: 1, basis: 'qs', amount: null, isBase: true, ratioOf: [] },
    { position: 2, basis: 'load', amount: loadPpb, isBase: false, ratioOf: [] },
  ]);
  if (!solved.ok) throw new Error('the formula has a solution');
  return [line(1, base, 'part', solved.partsPpb[0]!), line(2, fragrance, 'part', solved.partsPpb[1]!)];
}

/*
 * A week followed by hand, for two products. Every figure below can be had with pencil and paper; common practice for
 * the trade's habits, no source.
 */
describe('a week followed by hand', () => {
  const shop = emptyWorkshop({
    today: '2027-01-04',
    weekStart: '2027-01-11',
    items: [
      item('ALCOHOL-BASE'),
      item('FRAG-CEDAR'),
      item('SPRAY-BULK', { kind: 'bulk' }),
      item('SPRAY-100', { kind: 'product', measure: 'counted' }),
      item('BOTTLE-100', { measure: 'counted' }),
      item('WAX'),
      item('FRAG-FIG'),
      item('CANDLE-BULK', { kind: 'bulk' }),
      item('CANDLE-220', { kind: 'product', measure: 'counted' }),
      item('JAR-220', { measure: 'counted' }),
    ],
    formulas: [
      formula('SPRAY-BULK', loaded('ALCOHOL-BASE', 'FRAG-CEDAR', 50_000_000), {
        vesselKind: 'jug',
        batchMin: 500_000,
        batchMultiple: 100_000,
        lossPpb: 10_000_000,
        restDays: 7,
        minutesBatch: 40,
      }),
      formula('SPRAY-100', [line(1, 'SPRAY-BULK', 'each', 90_000, 'fill'), line(2, 'BOTTLE-100', 'each', 1, 'fill')]),
      formula('CANDLE-BULK', loaded('WAX', 'FRAG-FIG', 80_000_000), {
        vesselKind: 'melter',
        batchMin: 500_000,
        batchMultiple: 1000,
        residueMg: 20_000,
        minutesBatch: 60,
      }),
      formula('CANDLE-220', [line(1, 'CANDLE-BULK', 'each', 220_000, 'fill'), line(2, 'JAR-220', 'each', 1, 'fill')], {
        restDays: 14,
      }),
    ],
    vessels: [
      { code: 'JUG-5', kind: 'jug', capacityMg: 5_000_000 },
      { code: 'MELTER-8', kind: 'melter', capacityMg: 8_000_000 },
    ],
    lots: [
      { code: 'ALC-1', item: 'ALCOHOL-BASE', free: 5_000_000, onHand: 5_000_000, valueE4: 600_000, expiresOn: null },
      { code: 'CEDAR-OLD', item: 'FRAG-CEDAR', free: 30_000, onHand: 30_000, valueE4: 45_000, expiresOn: '2027-01-20' },
      {
        code: 'CEDAR-NEW',
        item: 'FRAG-CEDAR',
        free: 100_000,
        onHand: 100_000,
        valueE4: 160_000,
        expiresOn: '2027-06-30',
      },
      { code: 'BOT-1', item: 'BOTTLE-100', free: 48, onHand: 48, valueE4: 480_000, expiresOn: null },
      { code: 'WAX-1', item: 'WAX', free: 9_000_000, onHand: 9_000_000, valueE4: 720_000, expiresOn: null },
      { code: 'FIG-1', item: 'FRAG-FIG', free: 150_000, onHand: 150_000, valueE4: 300_000, expiresOn: '2027-09-01' },
      { code: 'JAR-1', item: 'JAR-220', free: 24, onHand: 24, valueE4: 360_000, expiresOn: null },
    ],
    packs: [
      { key: 'S1/FIG-118', item: 'FRAG-FIG', size: 118_000, priceE4: 210_000, leastPacks: 1, leadDays: 10 },
      { key: 'S1/FIG-454', item: 'FRAG-FIG', size: 454_000, priceE4: 600_000, leastPacks: 1, leadDays: 10 },
    ],
    lines: [
      { key: 'shop/1001/SPRAY-100#1', item: 'SPRAY-100', quantity: 10, shipBy: '2027-01-22', notBefore: null },
      { key: 'shop/1002/CANDLE-220#1', item: 'CANDLE-220', quantity: 12, shipBy: '2027-02-02', notBefore: null },
    ],
  });
  shop.workshop.receivingDays = 1;
  const proposal = () => plan(shop);
  const batch = (key: string) => proposal().batches.find((b) => b.key === key)!;

  it('fills the spray the day before the slack day and pours it a week earlier', () => {
    // ship by Friday 22 January, one day of slack: filled on Thursday 21; seven days to mature: poured on Thursday 14
    expect(batch('SPRAY-100/1')).toMatchObject({ day: '2027-01-21', output: 10, forOrders: 10, inWeek: false });
    expect(batch('SPRAY-BULK/1')).toMatchObject({
      day: '2027-01-14',
      readyOn: '2027-01-21',
      emptiedOn: '2027-01-21',
      vessel: 'JUG-5',
      inWeek: true,
    });
  });

  it('weighs the spray: 10 x 90 g, 1 % lost, 5 % on the base', () => {
    // 900 g / 0.99 = 909.0909 g, up to the scale's 0.1 g: 909.1 g.
    // fragrance 5/105 of it is 43.2905 g, base 865.8095 g; in steps of 0.1 g the larger remainder goes to the fragrance
    const { output, putInMg, inputs } = batch('SPRAY-BULK/1');
    expect({ output, putInMg }).toEqual({ output: 900_000, putInMg: 909_100 });
    expect(inputs.map((input) => [input.item, input.quantity])).toEqual([
      ['ALCOHOL-BASE', 865_800],
      ['FRAG-CEDAR', 43_300],
    ]);
  });

  it('uses up the fragrance lot that expires six days later, then the newer one', () => {
    expect(batch('SPRAY-BULK/1').inputs[1]!.taken).toEqual([
      { from: 'lot', key: 'CEDAR-OLD', quantity: 30_000 },
      { from: 'lot', key: 'CEDAR-NEW', quantity: 13_300 },
    ]);
  });

  it('says how much fig is short, for whom, what to buy and by when', () => {
    // 12 x 220 g + 20 g left in the melter = 2660 g; 8/108 of it is 197.04 g of fig, of which 150 g are there.
    // cured 14 days by Monday 1 February: poured on Monday 18 January; ten days of lead and one of receiving before it
    expect(batch('CANDLE-BULK/1')).toMatchObject({ day: '2027-01-18', putInMg: 2_660_000, short: true });
    expect(proposal().shortfalls).toEqual([
      {
        item: 'FRAG-FIG',
        quantity: 47_000,
        needOn: '2027-01-18',
        hurts: { lines: ['shop/1002/CANDLE-220#1'], batches: ['CANDLE-BULK/1'] },
        packs: [{ key: 'S1/FIG-118', count: 1 }],
        packsTotal: 118_000,
        costE4: 210_000,
        gapE4: 0,
        orderBy: '2027-01-07',
        tooLate: false,
      },
    ]);
  });

  it('covers the spray order and leaves the candle order open', () => {
    expect(proposal().lines).toMatchObject([
      { key: 'shop/1001/SPRAY-100#1', missing: 0, readyOn: '2027-01-21', lateDays: 0, because: null },
      { key: 'shop/1002/CANDLE-220#1', missing: 12, readyOn: null, because: 'short' },
    ]);
  });

  it('calls an order late when it can no longer rest in time', () => {
    const late = plan({ ...shop, lines: [{ ...shop.lines[0]!, shipBy: '2027-01-15', notBefore: null }] });
    // the first day of that week is Monday 11: ready on the 18th, three days late
    expect(late.lines[0]).toMatchObject({ readyOn: '2027-01-18', lateDays: 3, because: 'rest' });
  });
});
