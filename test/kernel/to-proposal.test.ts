import { describe, expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { LineCover, Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotItem, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** A spray filled from a bulk that rests five days in a pot, and packed in a box a day later. */
const spray = (rest: Partial<Snapshot>, about: Partial<SnapshotItem> = {}, workshop = {}): Snapshot =>
  openShop(
    {
      items: [product('SPRAY', { shelfLifeDays: 90, ...about }), bulk('BLK'), item('OIL'), counted('BOX')],
      formulas: [
        formula('SPRAY', [line(1, 'BLK', 'each', 1_000, 'fill'), line(2, 'BOX', 'each', 1, 'pack')], {
          restDays: 1,
          version: 3,
          minutesBatch: 20,
        }),
        formula('BLK', [line(1, 'OIL', 'part', 1_000_000_000)], { restDays: 5, vesselKind: 'pot', minutesBatch: 40 }),
      ],
      vessels: [{ code: 'POT', kind: 'pot', capacityMg: 50_000 }],
      ...rest,
    },
    workshop,
  );
const enough = [lot('OIL-1', 'OIL', 90_000), lot('BOX-1', 'BOX', 50)];
const making = (rest: Partial<SnapshotMaking>) => beingMade('SPRAY', 0, 2, { day: day(-3), ...rest });
const batch = (proposal: Proposal, key: string) => proposal.batches.find((row) => row.key === key)!;
const cover = (snapshot: Snapshot, key = 'o'): LineCover => plan(snapshot).lines.find((row) => row.key === key)!;

describe('a batch of a proposal', () => {
  const tenOrdered = () => plan(spray({ lots: enough, lines: [ordered('o', 'SPRAY', 10, 12)] }));

  it('says when it is made, of what, for whom and until when it is good', () => {
    expect(batch(tenOrdered(), 'SPRAY/1')).toEqual({
      key: 'SPRAY/1',
      item: 'SPRAY',
      formulaVersion: 3,
      output: 10,
      belowLeast: null,
      putInMg: 10_000,
      day: day(11),
      readyOn: day(12),
      emptiedOn: day(11),
      vessel: null,
      decant: null,
      minutes: 20,
      restDays: 1,
      expiresOn: day(101),
      inWeek: false,
      latestDay: day(11),
      forOrders: 10,
      heldUpBy: null,
      short: false,
      inputs: [
        {
          position: 1,
          item: 'BLK',
          step: 'fill',
          needOn: day(11),
          quantity: 10_000,
          stocked: true,
          belowScale: false,
          taken: [{ from: 'batch', key: 'BLK/1', quantity: 10_000 }],
          missing: 0,
        },
        {
          position: 2,
          item: 'BOX',
          step: 'pack',
          needOn: day(12),
          quantity: 10,
          stocked: true,
          belowScale: false,
          taken: [{ from: 'lot', key: 'BOX-1', quantity: 10 }],
          missing: 0,
        },
      ],
      madeFor: [{ for: 'line', key: 'o', quantity: 10 }],
    });
    expect(batch(tenOrdered(), 'BLK/1')).toMatchObject({
      day: day(6),
      readyOn: day(11),
      emptiedOn: day(11),
      vessel: 'POT',
      expiresOn: null,
      inWeek: true,
      madeFor: [{ for: 'batch', key: 'SPRAY/1', quantity: 10_000 }],
    });
  });

  it('comes in the order of its day, then key, those without a day last', () => {
    expect(tenOrdered().batches.map((row) => row.key)).toEqual(['BLK/1', 'SPRAY/1']);
    const none = plan(spray({ lots: enough, vessels: [], lines: [ordered('o', 'SPRAY', 1, 12)] }));
    expect(none.batches).toMatchObject([
      { key: 'BLK/1', day: null, readyOn: null, emptiedOn: null, expiresOn: null, inWeek: false, short: true },
      { key: 'SPRAY/1', day: null, heldUpBy: 'source', inputs: [{ needOn: null }, { needOn: null }] },
    ]);
    // without a day its needs count from its latest, and what is packed after the rest from the day after it
    expect(none.needs).toMatchObject([
      { item: 'BOX', byDay: [{ day: day(12), quantity: 1 }] },
      { item: 'OIL', byDay: [{ day: day(6), quantity: 1_000 }] },
    ]);
    const overdue = plan(spray({ lots: enough, vessels: [], lines: [ordered('o', 'SPRAY', 1, -12)] }));
    expect(overdue.needs.map((row) => row.byDay)).toEqual([
      [{ day: day(1), quantity: 1 }],
      [{ day: day(0), quantity: 1_000 }],
    ]);
  });

  it('is in the week from its first day to its last', () => {
    const inWeek = (due: number) =>
      batch(plan(spray({ lots: enough, weekStart: day(7), lines: [ordered('o', 'SPRAY', 1, due)] })), 'SPRAY/1').inWeek;
    expect([inWeek(13), inWeek(14), inWeek(15)]).toEqual([true, true, false]);
    expect(batch(plan(spray({ lots: enough, lines: [ordered('o', 'SPRAY', 1, 6)] })), 'BLK/1')).toMatchObject({
      day: day(0),
      inWeek: true,
    });
  });

  it('takes from what is in the making too, and nothing at all where it is short', () => {
    const lots = [lot('BLK-1', 'BLK', 3_000), lot('BOX-1', 'BOX', 50)];
    const rows = [making({ item: 'BLK', free: 2_000 })];
    const shop = { lots: [...lots, lot('OIL-1', 'OIL', 9_000)], making: rows, lines: [ordered('o', 'SPRAY', 10, 12)] };
    expect(batch(plan(spray(shop)), 'SPRAY/1').inputs[0]!.taken).toEqual([
      { from: 'lot', key: 'BLK-1', quantity: 3_000 },
      { from: 'making', key: 'M', quantity: 2_000 },
      { from: 'batch', key: 'BLK/1', quantity: 5_000 },
    ]);
    const short = plan(spray({ ...shop, lots }));
    expect(batch(short, 'SPRAY/1')).toMatchObject({ short: true, inputs: [{ taken: [], missing: 0 }, { taken: [] }] });
    expect(batch(short, 'BLK/1')).toMatchObject({ short: true, inputs: [{ taken: [], missing: 5_000 }] });
  });

  it('of stock says so', () => {
    const proposal = plan(spray({ lots: enough }, { policy: 'to-stock', target: 4 }));
    expect(batch(proposal, 'SPRAY/1')).toMatchObject({
      forOrders: 0,
      madeFor: [{ for: 'stock', key: 'SPRAY', quantity: 4 }],
    });
  });
});

describe('an order line of a proposal', () => {
  it('is ready when the last of it is: on the shelf, in the making, delivered or made', () => {
    const lines = [ordered('o', 'SPRAY', 4, 30)];
    const onShelf = lot('S-1', 'SPRAY', 1);
    expect(cover(spray({ lines, lots: [lot('S-1', 'SPRAY', 4)] }))).toEqual({
      key: 'o',
      item: 'SPRAY',
      quantity: 4,
      shipBy: day(30),
      notBefore: null,
      taken: [{ from: 'lot', key: 'S-1', quantity: 4 }],
      missing: 0,
      readyOn: day(0),
      lateDays: 0,
      because: null,
    });
    const rows = [making({ free: 3, readyOn: day(9) })];
    expect(cover(spray({ lines, lots: [onShelf], making: rows })).readyOn).toBe(day(9));
    const deliveries = [{ key: 'D', item: 'SPRAY', free: 3, day: day(8), expiresOn: null }];
    expect(cover(spray({ lines, lots: [onShelf], deliveries })).readyOn).toBe(day(8));
    expect(cover(spray({ lines, lots: [onShelf, ...enough] }))).toMatchObject({
      taken: [
        { from: 'lot', key: 'S-1', quantity: 1 },
        { from: 'batch', key: 'SPRAY/1', quantity: 3 },
      ],
      readyOn: day(30),
    });
  });

  it('of what is bought is ready when it is there', () => {
    const lines = [ordered('o', 'BOX', 4, 30)];
    const deliveries = [{ key: 'D', item: 'BOX', free: 3, day: day(8), expiresOn: null }];
    const lots = [lot('B-1', 'BOX', 1)];
    expect(cover(spray({ lines, lots, deliveries }))).toMatchObject({ readyOn: day(8), missing: 0, because: null });
    expect(cover(spray({ lines, lots }))).toMatchObject({ readyOn: null, missing: 3, because: 'short', lateDays: 0 });
  });

  it('is late by so many days, for a reason', () => {
    // five days of rest and one more: the 6th at the earliest
    expect(cover(spray({ lots: enough, lines: [ordered('o', 'SPRAY', 4, 3)] }))).toMatchObject({
      readyOn: day(6),
      lateDays: 3,
      missing: 0,
      because: 'rest',
    });
    expect(cover(spray({ lots: enough, lines: [ordered('o', 'SPRAY', 4, 6)] }))).toMatchObject({
      readyOn: day(6),
      lateDays: 0,
      because: null,
    });
  });

  it('is late because of what its bulk waits for', () => {
    const lines = [ordered('o', 'SPRAY', 4, 8)];
    const deliveries = [{ key: 'D', item: 'OIL', free: 9_000, day: day(4), expiresOn: null }];
    const boxes = [lot('BOX-1', 'BOX', 50)];
    expect(cover(spray({ lines, lots: boxes, deliveries }))).toMatchObject({ readyOn: day(10), because: 'delivery' });
    const taken = [making({ code: 'M', item: 'BLK', vessel: 'POT', day: day(-1), emptiedOn: day(3) })];
    expect(cover(spray({ lines, lots: enough, making: taken }))).toMatchObject({
      readyOn: day(10),
      because: 'no-vessel',
    });
    const busy = Array.from({ length: 5 }, (_, at) => making({ code: `M${at}`, day: day(at), minutes: 480 }));
    expect(cover(spray({ lines, lots: enough, making: busy }))).toMatchObject({
      readyOn: day(11),
      because: 'bench-full',
    });
    const few = { lines, lots: [lot('OIL-1', 'OIL', 9_000)] };
    const late = [{ key: 'D', item: 'BOX', free: 9, day: day(20), expiresOn: null }];
    expect(cover(spray({ ...few, deliveries: late }))).toMatchObject({ readyOn: day(20), because: 'delivery' });
  });

  it('is not covered where its batch is short, or has no day, or nobody makes it', () => {
    const lines = [ordered('o', 'SPRAY', 4, 30)];
    expect(cover(spray({ lines }))).toMatchObject({
      missing: 4,
      readyOn: null,
      lateDays: 0,
      because: 'short',
      taken: [],
    });
    expect(cover(spray({ lines, lots: enough, vessels: [] }))).toMatchObject({ missing: 4, because: 'source' });
    expect(cover(spray({ lines, formulas: [] }))).toMatchObject({ missing: 4, because: 'no-formula' });
  });
});

describe('what is needed of materials', () => {
  it('is summed by item and day, with what covers it, the week apart', () => {
    const lines = [ordered('a', 'SPRAY', 10, 12), ordered('b', 'SPRAY', 2, 30), ordered('c', 'BOX', 3, 2)];
    const lots = [lot('OIL-1', 'OIL', 90_000), lot('BOX-1', 'BOX', 4)];
    const deliveries = [{ key: 'D', item: 'BOX', free: 9, day: day(1), expiresOn: null }];
    const proposal = plan(spray({ lines, lots, deliveries }));
    expect(proposal.needs).toEqual([
      {
        item: 'BOX',
        quantity: 15,
        inWeek: 3,
        fromLots: 4,
        fromDeliveries: 9,
        missing: 2,
        byDay: [
          { day: day(2), quantity: 3 },
          { day: day(12), quantity: 10 },
          { day: day(30), quantity: 2 },
        ],
      },
      {
        item: 'OIL',
        quantity: 12_000,
        inWeek: 10_000,
        fromLots: 12_000,
        fromDeliveries: 0,
        missing: 0,
        byDay: [
          { day: day(6), quantity: 10_000 },
          { day: day(24), quantity: 2_000 },
        ],
      },
    ]);
    expect(proposal.shortfalls.map((row) => [row.item, row.quantity])).toEqual([['BOX', 2]]);
  });

  it('leaves out what comes from the tap', () => {
    const items = [product('SPRAY'), bulk('BLK'), item('OIL', { stocked: false }), counted('BOX')];
    const proposal = plan(spray({ items, lots: enough, lines: [ordered('o', 'SPRAY', 1, 12)] }));
    expect(proposal.needs.map((row) => row.item)).toEqual(['BOX']);
    expect(batch(proposal, 'BLK/1').inputs[0]).toMatchObject({ stocked: false, taken: [], missing: 0 });
  });
});

it('takes what the plan uses off what is at risk', () => {
  const use = [
    { item: 'OIL', per28Days: 0 },
    { item: 'BOX', per28Days: 0 },
    { item: 'SPRAY', per28Days: 0 },
  ];
  const lots = [lot('OIL-1', 'OIL', 11_000, 20), lot('BOX-1', 'BOX', 14, 20), lot('S-1', 'SPRAY', 3, 40)];
  const lines = [ordered('o', 'SPRAY', 10, 12), ordered('b', 'BOX', 2, 1)];
  const left = (shop: Partial<Snapshot>) =>
    plan(spray({ use, lots, lines, ...shop })).atRisk.map((row) => [row.lot, row.freeAfterPlan, row.left]);
  // seven sprays are made of the ten: 7 000 mg and seven boxes; two boxes are sold as they are
  expect(left({})).toEqual([
    ['BOX-1', 5, 5],
    ['OIL-1', 4_000, 4_000],
  ]);
  // without oil nothing is made, and the boxes stay but for those two
  expect(left({ lots: lots.slice(1) })).toEqual([['BOX-1', 12, 12]]);
});

it('shows the minutes of every day of the week', () => {
  const rows = [making({ day: day(2), minutes: 30 }), making({ code: 'N', day: day(6), minutes: 15 })];
  const shop = spray(
    { lots: enough, making: rows, lines: [ordered('o', 'SPRAY', 10, 12)] },
    {},
    { closedDays: [day(5)] },
  );
  const proposal = plan(shop);
  expect([proposal.today, proposal.weekStart, proposal.weekEnd]).toEqual([day(0), day(0), day(6)]);
  expect(proposal.days.map((row) => [row.day, row.minutesOpen, row.minutesUsed])).toEqual([
    [day(0), 480, 0],
    [day(1), 480, 0],
    [day(2), 480, 30],
    [day(3), 480, 0],
    [day(4), 480, 0],
    [day(5), 0, 0],
    [day(6), 480, 55],
  ]);
});

describe('a refill of stock', () => {
  /** Two products of one bottle; A is kept in stock and gets its bottles by an earlier day. */
  const shop = (bottles: number, about: Partial<Snapshot> = {}) =>
    openShop({
      items: [product('A', { policy: 'to-stock', target: 5 }), product('B'), counted('BOTTLE')],
      formulas: [
        formula('A', [line(1, 'BOTTLE', 'each', 1)]),
        formula('B', [line(1, 'A', 'each', 1), line(2, 'BOTTLE', 'each', 1)]),
      ],
      lots: [lot('L', 'BOTTLE', bottles)],
      lines: [ordered('b', 'B', 4, 9)],
      ...about,
    });

  it('is left out where without it more customers are served', () => {
    // four of B take four of A and four bottles; in one batch with the refill of five A would take nine of the bottles
    expect(plan(shop(8)).lines[0]).toMatchObject({ missing: 0 });
    expect(plan(shop(8)).batches.map((row) => [row.key, row.output])).toEqual([
      ['A/1', 4],
      ['B/1', 4],
    ]);
    expect(plan(shop(13)).batches.map((row) => [row.key, row.output])).toEqual([
      ['A/1', 9],
      ['B/1', 4],
    ]);
  });

  it('stays where leaving it out would help nobody', () => {
    expect(plan(shop(7)).lines[0]).toMatchObject({ missing: 4, because: 'short' });
    expect(plan(shop(7)).batches.find((row) => row.item === 'A')).toMatchObject({ output: 9, short: true });
  });
});

it('keeps a vessel busy with what stands in it: until its day, or today where that is past', () => {
  const poured = (emptied: number) => {
    const taken = [making({ item: 'BLK', vessel: 'POT', day: day(-9), emptiedOn: day(emptied) })];
    const other = making({ code: 'N', item: 'BLK', vessel: 'VAT', day: day(-9), emptiedOn: day(30) });
    return batch(
      plan(spray({ lots: enough, making: [...taken, other], lines: [ordered('o', 'SPRAY', 1, 6)] })),
      'BLK/1',
    ).day;
  };
  expect([poured(3), poured(-2), poured(0)]).toEqual([day(4), day(1), day(1)]);
});
