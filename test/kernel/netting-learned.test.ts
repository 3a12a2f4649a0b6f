import { describe, expect, it } from 'vitest';
import { type Learned, net, NOTHING_LEARNED } from '../../src/kernel/plan/netting.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { Snapshot, SnapshotFormula, SnapshotItem } from '../../src/kernel/plan/snapshot.js';
import { bulk, counted, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** A tin takes a lid; by what an earlier round of the plan has shown. */
function tins(
  rest: Partial<Snapshot>,
  about: { item?: Partial<SnapshotItem>; formula?: Partial<SnapshotFormula>; learned?: Partial<Learned> } = {},
) {
  const model = buildModel(
    openShop({
      items: [counted('LID'), product('TIN', about.item)],
      formulas: [formula('TIN', [line(1, 'LID', 'each', 1)], about.formula)],
      ...rest,
    }),
  );
  const netted = net(model, new Set(), { ...NOTHING_LEARNED, ...about.learned });
  const batches = netted.jobs.map((job) =>
    job.pegs.map((peg) => `${peg.line?.row.key ?? 'stock'} ${peg.quantity}`).join(', '),
  );
  return { model, netted, batches };
}

describe('what is made for an order', () => {
  const owed = (restDays: number) =>
    tins(
      { lines: [ordered('a', 'TIN', 3, 20), ordered('b', 'LID', 1, 2)] },
      { item: { shelfLifeDays: 5, owedLifeDays: 3 }, formula: { restDays } },
    ).netted;

  it('is nothing where it rests until it is too old for what the customer is owed', () => {
    expect(owed(2).lines.map(({ isNeverFresh, missing }) => [isNeverFresh, missing])).toEqual([
      [false, 0],
      [false, 0],
    ]);
    expect(owed(2).jobs).toHaveLength(1);
    const never = owed(3);
    expect(never.lines.map(({ row, isNeverFresh, missing }) => [row.key, isNeverFresh, missing])).toEqual([
      ['b', false, 0],
      ['a', true, 3],
    ]);
    expect(never.jobs).toEqual([]);
  });
});

describe('batches that were sized otherwise', () => {
  const lines = ['a', 'b', 'c', 'd', 'e'].map((key, at) => ordered(key, 'TIN', 1, 10 + at));
  const about = { item: { policy: 'to-stock', target: 1 } as const, formula: { batchMax: 1 } };
  const sized = (mix: number) =>
    tins({ lines }, { ...about, learned: { sizes: new Map([['TIN', { windowDays: 7, most: 1, mix }]]) } }).batches;

  it('come in the order in which they are due, and stock last', () => {
    expect(sized(0)).toEqual(['a 1', 'b 1', 'c 1', 'd 1', 'e 1', 'stock 1']);
    expect(tins({ lines }, about).batches).toEqual(sized(0));
  });

  it('are put together in another order where that was chosen, each order once and stock last all the same', () => {
    const mixes = [1, 2, 3, 4, 5, 6, 7, 8].map(sized);
    for (const mixed of mixes) {
      expect(mixed.slice(0, 5).sort()).toEqual(['a 1', 'b 1', 'c 1', 'd 1', 'e 1']);
      expect(mixed[5]).toBe('stock 1');
    }
    expect(new Set(mixes.map((mixed) => mixed.join())).size).toBeGreaterThan(4);
    // every order may come first, and every one last
    const more = Array.from({ length: 60 }, (_, seed) => sized(seed + 1));
    for (const at of [0, 4]) expect(new Set(more.map((mixed) => mixed[at])).size).toBe(5);
    expect(sized(3)).toEqual(mixes[2]);
  });
});

describe('who takes of what is there', () => {
  const lots = [lot('L', 'TIN', 2)];
  const lines = [ordered('a', 'TIN', 2, 3), ordered('b', 'TIN', 2, 5)];
  const taken = (learned: Partial<Learned>, rest: Partial<Snapshot> = {}, about: Partial<SnapshotItem> = {}) =>
    tins({ lots, lines, ...rest }, { learned, item: about }).netted.lines.map(({ row, taken: of }) => [
      row.key,
      of.reduce((sum, { quantity }) => sum + quantity, 0),
    ]);

  it('is who is due first, unless another was found to be served better by it', () => {
    expect(taken({})).toEqual([
      ['a', 2],
      ['b', 0],
    ]);
    expect(taken({ first: new Set(['b']) })).toEqual([
      ['a', 0],
      ['b', 2],
    ]);
    expect(taken({ first: new Set(['a', 'b']) })).toEqual([
      ['a', 2],
      ['b', 0],
    ]);
  });

  it('is an order before a target, though that is for this week', () => {
    const far = { lines: [ordered('a', 'TIN', 2, 30)] };
    expect(taken({}, far, { policy: 'to-stock', target: 2 })).toEqual([['a', 2]]);
  });

  it('passes on to what is made for it', () => {
    const of = (first: string[]) => {
      const model = buildModel(
        openShop({
          items: [counted('LID'), bulk('WAX'), ...['A', 'B'].map((code) => product(code))],
          formulas: [
            formula('WAX', [line(1, 'LID', 'each', 1)]),
            ...['A', 'B'].map((code) => formula(code, [line(1, 'WAX', 'each', 1)])),
          ],
          lots: [lot('W', 'WAX', 2)],
          lines: [ordered('a', 'A', 2, 3), ordered('b', 'B', 2, 5)],
        }),
      );
      const { jobs } = net(model, new Set(), { ...NOTHING_LEARNED, first: new Set(first) });
      return jobs.map(({ item, isFirst, inputs }) => [item.code, isFirst, inputs[0]!.fromShelf]);
    };
    expect(of([])).toEqual([
      ['A', false, 2],
      ['B', false, 0],
      ['WAX', false, 2],
    ]);
    expect(of(['b'])).toEqual([
      ['A', false, 0],
      ['B', true, 2],
      ['WAX', false, 2],
    ]);
  });
});
