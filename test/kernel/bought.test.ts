import { describe, expect, it } from 'vitest';
import { addShort, keepsOrdersBack, withBought } from '../../src/kernel/plan/bought.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { Shortfall } from '../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { bulk, counted, day, openShop } from '../support/open-shop.js';
import { item } from '../support/workshop.js';

const short = (of: string, quantity: number, on: number, rest: Partial<Shortfall> = {}): Shortfall => ({
  item: of,
  quantity,
  needOn: day(on),
  hurts: { lines: ['o'], batches: ['P/1'] },
  packs: [],
  packsTotal: 0,
  costE4: 0,
  gapE4: 0,
  orderBy: null,
  tooLate: true,
  ...rest,
});
const modelOf = (rest: Partial<Snapshot> = {}, receivingDays = 0) =>
  buildModel(openShop({ items: [counted('CAP'), item('OIL'), bulk('BLK')], ...rest }, { receivingDays }));

describe('what keeps orders back', () => {
  it('is bought, and orders wait for it', () => {
    const model = modelOf();
    const nobody = { lines: [], batches: ['P/1'] };
    expect(keepsOrdersBack(model, short('CAP', 1, 5))).toBe(true);
    expect(keepsOrdersBack(model, short('CAP', 1, 5, { hurts: nobody }))).toBe(false);
    expect(keepsOrdersBack(model, short('BLK', 1, 5))).toBe(false);
  });
});

describe('the workshop once that has been bought', () => {
  it('has it delivered so that it can be used on the day it is needed, and nothing that is made', () => {
    const delivered = { key: 'D', item: 'CAP', free: 3, day: day(2), expiresOn: null };
    const model = modelOf({ deliveries: [delivered] }, 2);
    const { deliveries, ...rest } = withBought(model, [short('CAP', 7, 9), short('BLK', 5, 9), short('OIL', 8, 1)]);
    expect(deliveries).toEqual([
      delivered,
      { key: 'to be ordered CAP', item: 'CAP', free: 7, day: day(7), expiresOn: null },
      // it cannot come before today
      { key: 'to be ordered OIL', item: 'OIL', free: 8, day: day(0), expiresOn: null },
    ]);
    expect({ ...rest, deliveries: model.snapshot.deliveries }).toEqual(model.snapshot);
  });
});

describe('what is short in all', () => {
  const packs = [{ key: 'C10', item: 'CAP', size: 10, priceE4: 100, leastPacks: 1, leadDays: 3 }];

  it('is what was short before and what lacks besides, from the sooner day, priced together', () => {
    const first = [short('CAP', 7, 9, { hurts: { lines: ['b'], batches: ['P/1'] } })];
    const more = [short('CAP', 6, 5, { hurts: { lines: ['a', 'b'], batches: ['Q/1'] } })];
    expect(addShort(modelOf({ packs }), first, more)).toEqual([
      {
        item: 'CAP',
        quantity: 13,
        needOn: day(5),
        hurts: { lines: ['a', 'b'], batches: ['P/1'] },
        packs: [{ key: 'C10', count: 2 }],
        packsTotal: 20,
        costE4: 200,
        gapE4: 0,
        orderBy: day(2),
        tooLate: false,
      },
    ]);
    expect(addShort(modelOf(), first, [short('CAP', 1, 12)])[0]).toMatchObject({ quantity: 8, needOn: day(9) });
  });

  it('is also what lacked nothing before, in the order of days, then items', () => {
    const first = [short('OIL', 3, 9)];
    const more = [short('CAP', 2, 9), short('BLK', 1, 4)];
    const all = addShort(modelOf(), first, more);
    expect(all.map(({ item: of, quantity, needOn }) => [of, quantity, needOn])).toEqual([
      ['BLK', 1, day(4)],
      ['CAP', 2, day(9)],
      ['OIL', 3, day(9)],
    ]);
    expect(all[0]!.hurts).toEqual({ lines: ['o'], batches: [] });
    expect(all[2]).toBe(first[0]);
  });
});
