import { describe, expect, it } from 'vitest';
import type { Job } from '../../src/kernel/plan/job.js';
import { drawOnShelf } from '../../src/kernel/plan/shelf.js';
import { linesOf, shortfalls } from '../../src/kernel/plan/shortfall.js';
import type { Snapshot, SnapshotPack } from '../../src/kernel/plan/snapshot.js';
import { day, lot, netOf, openShop, ordered } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

const WEEKDAYS = [480, 480, 480, 480, 480, 0, 0];

const pack = (key: string, of: string, size: number, priceE4: number, leadDays: number): SnapshotPack => ({
  key,
  item: of,
  size,
  priceE4,
  leastPacks: 1,
  leadDays,
});
/** Two sprays of one bulk of oil, and a set of one of them. */
const sprays: Partial<Snapshot> = {
  items: [
    item('OIL'),
    item('BOX', { measure: 'counted' }),
    item('BLK', { kind: 'bulk' }),
    item('SPRAY', { kind: 'product', measure: 'counted' }),
    item('MIST', { kind: 'product', measure: 'counted' }),
    item('SET', { kind: 'set', measure: 'counted' }),
  ],
  formulas: [
    formula('BLK', [line(1, 'OIL', 'part', 1_000_000_000)], { restDays: 3 }),
    formula('SPRAY', [line(1, 'BLK', 'each', 1_000, 'fill'), line(2, 'BOX', 'each', 1, 'pack')], { restDays: 2 }),
    formula('MIST', [line(1, 'BLK', 'each', 500, 'fill')]),
    formula('SET', [line(1, 'SPRAY', 'each', 1, 'pack')]),
  ],
};
/** Every batch is made on its latest day, except those `without` one. */
function short(shop: Partial<Snapshot>, without: readonly string[] = [], receivingDays = 0) {
  const { model, netted } = netOf(openShop({ ...sprays, ...shop }, { benchMinutes: WEEKDAYS, receivingDays }));
  const when = (job: Job) =>
    without.includes(job.key) ? null : { day: job.latest, ready: job.latest + job.formula.restDays };
  const shelf = drawOnShelf(netted, when);
  return { netted, rows: shortfalls(model, netted.jobs, netted.lines, shelf, when) };
}

describe('what nothing covers', () => {
  it('is summed by item from its first day, with everyone it hurts, in the order of days', () => {
    // Friday the 15th: packed on its day, filled on Wednesday the 13th, poured on Friday the 8th (the weekend between)
    const { rows } = short({
      lines: [ordered('o2', 'SPRAY', 10, 11), ordered('o1', 'SET', 2, 11), ordered('o3', 'MIST', 4, 18)],
      lots: [lot('BOX-1', 'BOX', 3)],
    });
    expect(rows.map(({ item: of, quantity, needOn, hurts }) => [of, quantity, needOn, hurts])).toEqual([
      ['OIL', 14_000, day(4), { lines: ['o1', 'o2', 'o3'], batches: ['BLK/1', 'BLK/2'] }],
      ['BOX', 9, day(11), { lines: ['o1', 'o2'], batches: ['SPRAY/1'] }],
    ]);
  });

  it('hurts the lines themselves where something bought is sold as it is', () => {
    const { rows } = short({
      lines: [ordered('b', 'BOX', 5, 3), ordered('a', 'BOX', 5, 2), ordered('z', 'BOX', 1, -4)],
      lots: [lot('BOX-1', 'BOX', 2)],
    });
    // the line due in the past is served first, and the rest is needed from the day of the next
    expect(rows).toMatchObject([
      { item: 'BOX', quantity: 9, needOn: day(2), hurts: { lines: ['a', 'b'], batches: [] } },
    ]);
  });

  it('is needed today at the earliest', () => {
    const { rows } = short({ lines: [ordered('z', 'BOX', 1, -4)] });
    expect(rows).toMatchObject([{ quantity: 1, needOn: day(0) }]);
  });

  it('counts a made item without formula, and no batch without a day', () => {
    const items = [...sprays.items!, item('GEL', { kind: 'bulk' })];
    const formulas = [...sprays.formulas!.slice(0, 3), formula('SET', [line(1, 'GEL', 'each', 7, 'pack')])];
    const lines = [ordered('s', 'SET', 2, 11), ordered('m', 'MIST', 4, 11)];
    expect(short({ items, formulas, lines }).rows).toMatchObject([
      { item: 'OIL', quantity: 2_000 },
      {
        item: 'GEL',
        quantity: 14,
        hurts: { lines: ['s'], batches: ['SET/1'] },
        packs: [],
        orderBy: null,
        tooLate: true,
      },
    ]);
    expect(short({ items, formulas, lines }, ['BLK/1']).rows.map((row) => row.item)).toEqual(['GEL']);
  });

  it('says nothing where all is covered', () => {
    const lines = [ordered('o', 'MIST', 4, 11)];
    expect(short({ lines, lots: [lot('OIL-1', 'OIL', 2_000)] }).rows).toEqual([]);
  });
});

describe('what to buy for it', () => {
  const lines = [ordered('o', 'MIST', 4, 11)]; // 2 000 mg of oil on day 8
  const offered = (...packs: SnapshotPack[]) => short({ lines, packs }).rows[0]!;

  it('is the cheapest packs, ordered their lead time before', () => {
    const row = offered(pack('b', 'OIL', 1_500, 70, 3), pack('a', 'OIL', 600, 25, 5), pack('x', 'BOX', 9_999, 1, 0));
    // 600 x 4 for 100 beside 1 500 + 600 for 95
    expect(row).toMatchObject({
      packs: [
        { key: 'a', count: 1 },
        { key: 'b', count: 1 },
      ],
      packsTotal: 2_100,
      costE4: 95,
      gapE4: 0,
      needOn: day(8),
      orderBy: day(3),
      tooLate: false,
    });
  });

  it('counts only the lead time of packs that are bought, and the days of receiving', () => {
    const packs = [pack('near', 'OIL', 2_000, 10, 2), pack('far', 'OIL', 2_000, 99, 40)];
    expect(offered(...packs)).toMatchObject({ orderBy: day(6), tooLate: false });
    expect(short({ lines, packs }, [], 2).rows[0]).toMatchObject({ orderBy: day(4) });
  });

  it('is too late only after the last day to order', () => {
    expect(offered(pack('a', 'OIL', 2_000, 10, 8))).toMatchObject({ orderBy: day(0), tooLate: false });
    expect(offered(pack('a', 'OIL', 2_000, 10, 9))).toMatchObject({ orderBy: day(-1), tooLate: true });
  });

  it('is nothing where nobody sells it', () => {
    expect(offered()).toMatchObject({ packs: [], packsTotal: 0, costE4: 0, gapE4: 0, orderBy: null, tooLate: true });
  });
});

it('names every line that waits for a batch once, through whatever is made from it', () => {
  const { netted } = short({
    lines: [ordered('a', 'SPRAY', 1, 11), ordered('b', 'SET', 1, 11), ordered('c', 'MIST', 1, 11)],
  });
  const bulk = netted.jobs.find((job) => job.item.code === 'BLK')!;
  expect(linesOf(bulk).map((row) => row.row.key)).toEqual(expect.arrayContaining(['a', 'b', 'c']));
  expect(linesOf(bulk)).toHaveLength(3);
});
