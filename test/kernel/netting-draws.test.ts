import { describe, expect, it } from 'vitest';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';
import type { Netted } from '../../src/kernel/plan/netting.js';
import type { Snapshot, SnapshotFormula, SnapshotItem } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** Two products that are filled from one bulk, a gram each. */
const shop = (
  rest: Partial<Snapshot>,
  pour: Partial<SnapshotFormula> = {},
  about: Partial<SnapshotItem> = {},
): Snapshot =>
  openShop({
    items: [product('A'), product('B'), bulk('BLK', about), item('OIL')],
    formulas: [
      formula('A', [line(1, 'BLK', 'each', 1_000, 'fill')]),
      formula('B', [line(1, 'BLK', 'each', 1_000, 'fill')]),
      formula('BLK', [line(1, 'OIL', 'part', PPB_ONE)], pour),
    ],
    vessels: [{ code: 'POT', kind: 'pot', capacityMg: 50_000 }],
    ...rest,
  });
const batches = ({ jobs }: Netted, of: string) =>
  jobs.filter(({ item: made }) => made.code === of).map(({ output }) => output);
const making = (of: string, free: number) => beingMade(of, free, 1);

describe('what batches draw of one bulk', () => {
  it('goes to the one that is due first, though both are due sooner than it could be made again', () => {
    const lines = [ordered('a', 'A', 10, 20), ordered('b', 'B', 10, 10)];
    const { netted } = netOf(shop({ lines, lots: [lot('L', 'BLK', 10_000)] }, { restDays: 40 }));
    expect(netted.jobs.map(({ key, inputs }) => [key, inputs[0]!.fromShelf])).toEqual([
      ['A/1', 0],
      ['B/1', 10_000],
      ['BLK/1', 10_000],
    ]);
  });

  it('comes for each filling out of one pour, where it is filled straight from its vessel', () => {
    const lines = [ordered('a', 'A', 30, 20), ordered('b', 'B', 30, 20)];
    const poured = netOf(shop({ lines }, { vesselKind: 'pot' })).netted;
    expect(batches(poured, 'BLK')).toEqual([30_000, 30_000]);
    expect(poured.jobs.map(({ sources }) => sources.length)).toEqual([1, 1, 0, 0]);
    // what is taken from a drum may be the end of one batch and the beginning of the next
    const mixed = netOf(shop({ lines }, { batchMax: 50_000 })).netted;
    expect(batches(mixed, 'BLK')).toEqual([50_000, 10_000]);
    expect(mixed.jobs.map(({ sources }) => sources.length)).toEqual([1, 2, 0, 0]);
  });

  it('is made though it keeps for less than it rests: only a customer is owed more', () => {
    const { netted } = netOf(shop({ lines: [ordered('a', 'A', 5, 20)] }, { restDays: 10 }, { shelfLifeDays: 5 }));
    expect(batches(netted, 'BLK')).toEqual([5_000]);
    expect(netted.lines[0]).toMatchObject({ isNeverFresh: false, missing: 0 });
  });

  it('is no more in the making once it is taken, and so is made again for stock', () => {
    const kept = { policy: 'to-stock', target: 4_000 } as const;
    const lines = [ordered('a', 'A', 3, 20)];
    const { netted } = netOf(shop({ lines, making: [making('BLK', 3_000)] }, {}, kept));
    expect(batches(netted, 'BLK')).toEqual([4_000]);
    const enough = netOf(shop({ lines, making: [making('BLK', 7_000)] }, {}, kept)).netted;
    expect(batches(enough, 'BLK')).toEqual([]);
  });
});

describe('what an order line takes', () => {
  const soap = (rest: Partial<Snapshot>) =>
    netOf(
      openShop({
        items: [product('SOAP', { owedLifeDays: 30 }), item('OIL')],
        formulas: [formula('SOAP', [line(1, 'OIL', 'each', 1)], { restDays: 10 })],
        lines: [ordered('o', 'SOAP', 4, 3)],
        ...rest,
      }),
    ).netted.lines[0]!;

  it('is in the making only where it does not lie there', () => {
    expect(soap({ lots: [lot('L', 'SOAP', 4)] })).toMatchObject({ taken: [{ key: 'L' }], fromMaking: [] });
    expect(soap({ making: [{ ...making('SOAP', 4), readyOn: day(8) }] }).fromMaking.map(({ key }) => key)).toEqual([
      'M',
    ]);
  });

  it('has the life that is owed from the day it comes, where that is after its own', () => {
    const comes = (expires: number) => ({
      deliveries: [{ key: 'D', item: 'SOAP', free: 4, day: day(10), expiresOn: day(expires) }],
    });
    expect(soap(comes(39)).taken).toEqual([]);
    expect(soap(comes(40)).taken).toEqual([{ from: 'delivery', key: 'D', quantity: 4 }]);
  });
});

it('takes what is packed of lots that are good after the rest', () => {
  const set = (expires: number) =>
    netOf(
      openShop({
        items: [product('BAR'), product('SET', { kind: 'set' }), item('OIL')],
        formulas: [
          formula('BAR', [line(1, 'OIL', 'each', 1)]),
          formula('SET', [line(1, 'BAR', 'each', 1, 'pack')], { restDays: 3 }),
        ],
        lots: [lot('L', 'BAR', 9, expires)],
        lines: [ordered('o', 'SET', 2, 20)],
      }),
    ).netted.jobs[0]!.inputs[0]!.fromShelf;
  // begun on day 17, packed on day 20
  expect([set(19), set(20)]).toEqual([0, 2]);
});
