import { describe, expect, it } from 'vitest';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { type Cut, net, NOTHING_LEARNED, UNCUT } from '../../src/kernel/plan/netting.js';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import type { Snapshot, SnapshotFormula, SnapshotItem, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { toProposal } from '../../src/kernel/plan/to-proposal.js';
import { beingMade, bulk, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** A spray filled from a bulk that rests five days in a pot, and packed in a box a day later. */
const spray = (
  rest: Partial<Snapshot>,
  pour: Partial<SnapshotFormula> = {},
  about: Partial<SnapshotItem> = {},
): Snapshot =>
  openShop({
    items: [product('SPRAY', about), bulk('BLK'), item('OIL'), counted('BOX')],
    formulas: [
      formula('SPRAY', [line(1, 'BLK', 'each', 1_000, 'fill'), line(2, 'BOX', 'each', 1, 'pack')], { restDays: 1 }),
      formula('BLK', [line(1, 'OIL', 'part', 1_000_000_000)], {
        restDays: 5,
        vesselKind: 'pot',
        minutesBatch: 40,
        ...pour,
      }),
    ],
    vessels: [{ code: 'POT', kind: 'pot', capacityMg: 50_000 }],
    ...rest,
  });
const enough = [lot('OIL-1', 'OIL', 90_000), lot('BOX-1', 'BOX', 50)];
const making = (rest: Partial<SnapshotMaking>) => beingMade('SPRAY', 0, 2, { day: day(-3), ...rest });
const busy = (...on: number[]) => on.map((n) => making({ code: `BUSY-${n}`, day: day(n), minutes: 480 }));

/** As it is placed when each batch is due, written down. */
function told(shop: Snapshot, cut: Cut = UNCUT) {
  const model = buildModel(shop);
  const netted = net(model, new Set(), NOTHING_LEARNED, cut);
  const proposal = toProposal(
    model,
    attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) }),
  );
  return {
    ...proposal,
    line: proposal.lines[0]!,
    batch: (key: string) => proposal.batches.find((one) => one.key === key)!,
  };
}

describe('why a line is late', () => {
  const due = (on: number, quantity = 4) => [ordered('o', 'SPRAY', quantity, on)];

  it('is said of what is in the making or on its way, and not where that is in time', () => {
    // a new batch takes six days, so that these are no later
    const inMaking = [making({ free: 4, readyOn: day(6) })];
    expect(told(spray({ lines: due(3), making: inMaking })).line).toMatchObject({
      readyOn: day(6),
      lateDays: 3,
      because: 'source',
    });
    expect(told(spray({ lines: due(6), making: inMaking })).line).toMatchObject({
      readyOn: day(6),
      lateDays: 0,
      because: null,
    });
    const deliveries = [{ key: 'D', item: 'SPRAY', free: 4, day: day(6), expiresOn: null }];
    expect(told(spray({ lines: due(3), deliveries })).line).toMatchObject({ readyOn: day(6), because: 'delivery' });
    expect(told(spray({ lines: due(6), deliveries })).line).toMatchObject({ readyOn: day(6), because: null });
  });

  it('is that it should have gone before today, whatever it waits for', () => {
    const lots = [lot('S-1', 'SPRAY', 4)];
    expect(told(spray({ lines: due(-2), lots })).line).toMatchObject({
      readyOn: day(0),
      lateDays: 2,
      because: 'overdue',
    });
    expect(told(spray({ lines: due(0), lots })).line).toMatchObject({ readyOn: day(0), lateDays: 0, because: null });
    expect(told(spray({ lines: due(-2), lots: enough })).line).toMatchObject({ readyOn: day(6), because: 'overdue' });
    expect(told(spray({ lines: due(0), lots: enough })).line).toMatchObject({ readyOn: day(6), because: 'rest' });
  });

  it('is its rests where they alone are too long, full as the bench may be, and else the bench', () => {
    expect(told(spray({ lines: due(5), lots: enough, making: busy(0) })).line).toMatchObject({
      lateDays: 2,
      because: 'rest',
    });
    expect(told(spray({ lines: due(6), lots: enough, making: busy(0) })).line).toMatchObject({
      lateDays: 1,
      because: 'bench-full',
    });
  });

  it('is what held up the last of all that its batch is made from', () => {
    // OILY waits for its oil, POTTED for its pot; both then rest five days
    const mixed = (oilOn: number, potUntil: number) =>
      told(
        openShop({
          items: [product('MIX'), bulk('OILY'), bulk('POTTED'), item('OIL'), item('WAX')],
          formulas: [
            formula('MIX', [line(1, 'OILY', 'each', 10), line(2, 'POTTED', 'each', 10)]),
            formula('OILY', [line(1, 'OIL', 'part', 1_000_000_000)], { restDays: 5 }),
            formula('POTTED', [line(1, 'WAX', 'part', 1_000_000_000)], { restDays: 5, vesselKind: 'pot' }),
          ],
          vessels: [{ code: 'POT', kind: 'pot', capacityMg: 50_000 }],
          lots: [lot('WAX-1', 'WAX', 9_000)],
          deliveries: [{ key: 'D', item: 'OIL', free: 9_000, day: day(oilOn), expiresOn: null }],
          making: [making({ item: 'POTTED', vessel: 'POT', emptiedOn: day(potUntil) })],
          lines: [ordered('o', 'MIX', 5, 7)],
        }),
      ).line;
    expect(mixed(6, 3)).toMatchObject({ readyOn: day(11), because: 'delivery' });
    expect(mixed(3, 6)).toMatchObject({ readyOn: day(12), because: 'no-vessel' });
    expect(mixed(0, 3)).toMatchObject({ readyOn: day(9), because: 'no-vessel' });
  });
});

describe('the day a line is ready', () => {
  it('is that of what it takes, and of nothing else that is called the same or comes besides', () => {
    const deliveries = ['X', 'Y'].map((key, n) => ({ key, item: 'BOX', free: 4, day: day(5 + n), expiresOn: null }));
    const boxes = (quantity: number) =>
      told(spray({ lots: [lot('X', 'BOX', 4, 90)], deliveries, lines: [ordered('o', 'BOX', quantity, 30)] })).line
        .readyOn;
    expect([boxes(4), boxes(5), boxes(9)]).toEqual([day(0), day(6), day(6)]);
  });
});

describe('a plan that does not hold all', () => {
  const stocked = { policy: 'to-stock', target: 3 } as const;
  const lines = [ordered('a', 'SPRAY', 4, 20), ordered('b', 'SPRAY', 5, 30)];

  it('says so of lines and of stock, and nothing where it holds all', () => {
    const shop = spray({ lots: enough, lines }, {}, stocked);
    expect(told(shop)).not.toHaveProperty('full');
    const part = told(shop, { whole: 1, part: 2 });
    expect(part.full).toEqual({ batchesMost: 4_040, refills: [{ item: 'SPRAY', quantity: 3 }] });
    expect(part.lines).toMatchObject([
      { key: 'a', missing: 0, because: null },
      { key: 'b', missing: 3, readyOn: null, because: 'plan-full' },
    ]);
    const stock = told(shop, { whole: 2, part: 1 });
    expect(stock.full).toMatchObject({ refills: [{ item: 'SPRAY', quantity: 2 }] });
    expect(stock.lines).toMatchObject([{ because: null }, { because: null }]);
    // where no stock is asked for, the lines alone say so
    expect(told(spray({ lots: enough, lines }), { whole: 1, part: 2 }).full).toEqual({
      batchesMost: 4_040,
      refills: [],
    });
  });

  it('says so before what the part that is made lacks', () => {
    expect(told(spray({ lines }), { whole: 1, part: 2 }).lines).toMatchObject([
      { missing: 4, because: 'short' },
      { missing: 5, because: 'plan-full' },
    ]);
  });

  it('lists stock by item', () => {
    const shop = openShop({
      items: [product('A', stocked), product('B', stocked), item('OIL')],
      formulas: [formula('A', [line(1, 'B', 'each', 1)]), formula('B', [line(1, 'OIL', 'each', 1)])],
    });
    expect(told(shop, { whole: 0, part: 0 }).full!.refills.map(({ item: of }) => of)).toEqual(['A', 'B']);
  });
});

describe('a batch', () => {
  it('of just the least of its formula is not below it', () => {
    const output = (batchMin: number) => {
      const { batch } = told(
        spray({ lots: enough, lines: [ordered('o', 'SPRAY', 10, 20)] }, { batchMin, batchMax: 10_000 }),
      );
      return [batch('BLK/1').output, batch('BLK/1').belowLeast];
    };
    expect(output(10_000)).toEqual([10_000, null]);
    expect(output(10_001)).toEqual([10_000, 'formula']);
  });

  it('that lacks something is held up by nothing else', () => {
    const deliveries = [{ key: 'D', item: 'OIL', free: 9_000, day: day(9), expiresOn: null }];
    const late = told(spray({ deliveries, lots: [lot('BOX-1', 'BOX', 50)], lines: [ordered('o', 'SPRAY', 4, 8)] }));
    expect([late.batch('BLK/1').heldUpBy, late.batch('SPRAY/1').heldUpBy]).toEqual(['delivery', 'source']);
    const short = told(spray({ deliveries, lines: [ordered('o', 'SPRAY', 4, 8)] }));
    expect(short.batch('SPRAY/1')).toMatchObject({ short: true, heldUpBy: null, day: day(14) });
  });
});

describe('what is left over in a pot', () => {
  /** The first filling takes half of the pour, and the next draws on it twenty days later. */
  const lines = [ordered('a', 'SPRAY', 20, 40), ordered('b', 'SPRAY', 20, 60)];
  const half = { batchMin: 40_000 };
  const waxes = (...due: number[]): Partial<Snapshot> => ({
    items: [product('SPRAY'), bulk('BLK'), item('OIL'), counted('BOX'), ...due.map((_, n) => bulk(`WAX-${n}`))],
    formulas: [
      ...spray({}, half).formulas,
      ...due.map((_, n) => formula(`WAX-${n}`, [line(1, 'OIL', 'part', 1_000_000_000)], { vesselKind: 'pot' })),
    ],
    lines: [...lines, ...due.map((on, n) => ordered(`w${n}`, `WAX-${n}`, 1_000, on))],
  });
  const decant = (rest: Partial<Snapshot>) => told(spray({ lots: enough, lines, ...rest }, half)).batch('BLK/1').decant;

  it('is decanted on the day of the first filling, for nobody or for the first that needs the pot until the next', () => {
    expect(decant({})).toEqual({ on: day(39), for: null });
    expect(decant(waxes(55, 50))).toEqual({ on: day(39), for: 'WAX-1/1' });
    expect(decant(waxes(50, 55))).toEqual({ on: day(39), for: 'WAX-0/1' });
    // what is poured there before, or after the next filling, does not need it
    expect(decant(waxes(30, 60))).toEqual({ on: day(39), for: null });
    expect(decant(waxes(59))).toEqual({ on: day(39), for: 'WAX-0/1' });
  });

  it('is not where all of it is filled on that day', () => {
    expect(decant({ lines: [ordered('a', 'SPRAY', 40, 40)] })).toBeNull();
  });
});
