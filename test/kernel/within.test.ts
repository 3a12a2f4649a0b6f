import { describe, expect, it } from 'vitest';
import { buildModel } from '../../src/kernel/plan/model.js';
import { type Cut, net, type Netted, NOTHING_LEARNED, UNCUT } from '../../src/kernel/plan/netting.js';
import type { SnapshotFormula, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { forPartsOfLines, netWithin } from '../../src/kernel/plan/within.js';
import { openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** Bars that are cast one by one, in a plan that holds so many batches. */
function bars(batchesMost: number, lines: SnapshotLine[], target = 0, rest: Partial<SnapshotFormula> = {}) {
  const shop = openShop({
    items: [product('BAR', target > 0 ? { policy: 'to-stock', target } : {}), item('WATER', { stocked: false })],
    formulas: [formula('BAR', [line(1, 'WATER', 'each', 100)], { batchMax: 1, ...rest })],
    lines,
  });
  return { ...buildModel(shop), batchesMost };
}
const within = (model: ReturnType<typeof bars>, before: Cut = UNCUT) => {
  const { netted, cut } = netWithin(model, new Set(), NOTHING_LEARNED, before);
  return { cut, batches: netted.jobs.length, leftOut: netted.lines.map(({ leftOut }) => leftOut), netted };
};
const three = (key: string, due: number) => ordered(key, 'BAR', 3, due);

describe('how much a plan of few batches holds', () => {
  it('is all of it where there is room', () => {
    expect(within(bars(6, [three('a', 20), three('b', 40)]))).toMatchObject({
      cut: UNCUT,
      batches: 6,
      leftOut: [0, 0],
    });
    expect(within(bars(9, [three('a', 20)], 6))).toMatchObject({ cut: UNCUT, batches: 9 });
    expect(within(bars(0, []))).toMatchObject({ cut: UNCUT, batches: 0 });
  });

  it('is lines by their day, the last of them in part', () => {
    expect(within(bars(5, [three('a', 20), three('b', 40), three('c', 60)]))).toMatchObject({
      cut: { whole: 1, part: 2 },
      batches: 5,
      leftOut: [0, 1, 3],
    });
    expect(within(bars(6, [three('a', 20), three('b', 40), three('c', 60)]))).toMatchObject({
      cut: { whole: 2, part: 0 },
      batches: 6,
      leftOut: [0, 0, 3],
    });
    expect(within(bars(2, [three('a', 20)]))).toMatchObject({ cut: { whole: 0, part: 2 }, batches: 2, leftOut: [1] });
    expect(within(bars(0, [three('a', 20)]))).toMatchObject({ cut: { whole: 0, part: 0 }, batches: 0, leftOut: [3] });
  });

  it('is stock after all lines, in part too', () => {
    const { netted, ...answer } = within(bars(5, [three('a', 20)], 4));
    expect(answer).toEqual({ cut: { whole: 1, part: 2 }, batches: 5, leftOut: [0] });
    expect(netted.refillsLeftOut).toEqual([{ item: 'BAR', quantity: 2 }]);
    expect(within(bars(3, [three('a', 20)], 4)).netted.refillsLeftOut).toEqual([{ item: 'BAR', quantity: 4 }]);
    expect(within(bars(2, [three('a', 20)], 4))).toMatchObject({ leftOut: [1] });
  });

  it('is stock of one item after the other', () => {
    const stocked = { policy: 'to-stock', target: 2 } as const;
    const shop = openShop({
      items: [product('BAR', stocked), product('CAKE', stocked), item('WATER', { stocked: false })],
      formulas: ['BAR', 'CAKE'].map((code) => formula(code, [line(1, 'WATER', 'each', 100)], { batchMax: 1 })),
    });
    const { netted, cut } = netWithin({ ...buildModel(shop), batchesMost: 3 }, new Set(), NOTHING_LEARNED, UNCUT);
    expect(cut).toEqual({ whole: 1, part: 1 });
    expect(netted.refillsLeftOut).toEqual([{ item: 'CAKE', quantity: 1 }]);
  });

  it('is found again whatever was cut before: as much, too little, or too much', () => {
    const model = bars(5, [three('a', 20), three('b', 40), three('c', 60)]);
    for (const before of [
      { whole: 1, part: 2 },
      { whole: 1, part: 0 },
      { whole: 0, part: 3 },
      { whole: 0, part: 0 },
      { whole: 1, part: 3 },
      { whole: 3, part: 0 },
    ])
      expect([before, within(model, before)]).toMatchObject([before, { cut: { whole: 1, part: 2 }, batches: 5 }]);
    // where there is room for all after all, nothing stays cut
    expect(within(bars(9, [three('a', 20), three('b', 40), three('c', 60)]), { whole: 1, part: 0 }).leftOut).toEqual([
      0, 0, 0,
    ]);
  });
});

describe('batches that are only for a part of a line', () => {
  const parts = (netted: Netted) => [...forPartsOfLines(netted)].map(({ key }) => key);

  it('are those of the last line the plan holds, and none where it holds all', () => {
    expect(parts(within(bars(5, [three('a', 20), three('b', 40)])).netted)).toEqual(['BAR/4', 'BAR/5']);
    expect(parts(within(bars(6, [three('a', 20), three('b', 40)])).netted)).toEqual([]);
  });

  it('are none that another line draws on as well, and none of stock', () => {
    // two at a time: the second is for the last of one line and the first of the other
    const shared = within(bars(2, [three('a', 20), three('b', 21)], 0, { batchMax: 2 }));
    expect(shared).toMatchObject({ leftOut: [0, 2], batches: 2 });
    expect(parts(shared.netted)).toEqual([]);
    const stocked = within(bars(1, [three('a', 20)], 9));
    expect(parts(stocked.netted)).toEqual(['BAR/1']);
    // five at a time: of the second batch four are for the line, and one is left over
    const netted = net(
      bars(9, [ordered('a', 'BAR', 12, 20)], 0, { batchMin: 5, batchMax: 5 }),
      new Set(),
      NOTHING_LEARNED,
      {
        whole: 0,
        part: 9,
      },
    );
    expect(netted.jobs.map(({ output, pegs }) => [output, pegs.length])).toEqual([
      [5, 1],
      [5, 2],
    ]);
    expect(parts(netted)).toEqual(['BAR/1', 'BAR/2']);
  });

  it('are also those it is made from', () => {
    const shop = openShop({
      items: [product('BAR'), product('CAKE'), item('DOUGH', { kind: 'bulk' }), item('WATER', { stocked: false })],
      formulas: [
        formula('BAR', [line(1, 'DOUGH', 'each', 100)], { batchMax: 1 }),
        formula('CAKE', [line(1, 'DOUGH', 'each', 100)]),
        formula('DOUGH', [line(1, 'WATER', 'part', 1_000_000_000)], { batchMax: 100 }),
      ],
      lines: [ordered('a', 'CAKE', 1, 20), three('b', 40)],
    });
    const { netted } = netWithin({ ...buildModel(shop), batchesMost: 6 }, new Set(), NOTHING_LEARNED, UNCUT);
    // the cake and its dough, and two bars each with its own
    expect(netted.jobs.map(({ key }) => key)).toEqual(['BAR/1', 'BAR/2', 'CAKE/1', 'DOUGH/1', 'DOUGH/2', 'DOUGH/3']);
    expect(parts(netted)).toEqual(['BAR/1', 'BAR/2', 'DOUGH/2', 'DOUGH/3']);
  });
});
