import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { searchSizes } from '../../src/kernel/plan/size-search.js';
import type { Snapshot, SnapshotFormula } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, counted, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** What is tried of a plan as it is due: item, days, most, mix. `take`: how many of these are taken to serve better. */
function tried(of: Snapshot, take = 0, most = Infinity, taken: string | null = null) {
  const { model, netted } = netOf(of);
  const first = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  const all: string[] = [];
  const found = searchSizes(
    model,
    { attempt: first, sizes: new Map() },
    {
      mayTry: () => all.length < most,
      tryWith: (sizes) => {
        all.push([...sizes].map(([code, one]) => [code, one.windowDays, one.most, one.mix].join(' ')).join('; '));
        return { ...first };
      },
      isTaken: () => all.length <= take || (all.at(-1) === taken && !all.slice(0, -1).includes(taken)),
    },
  );
  return { all, items: [...new Set(all.map((one) => one.split(' ')[0]))], taken: found.sizes };
}

/** Each batch takes all day; of what is due on the first day only one is in time. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [counted('CAP'), bulk('BULK'), ...['A', 'B', 'C'].map((code) => product(code))],
    formulas: [
      formula('BULK', [line(1, 'CAP', 'each', 1)]),
      ...['A', 'B'].map((of) => formula(of, [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 })),
      formula('C', [line(1, 'BULK', 'each', 1)], { minutesBatch: 480 }),
    ],
    lots: [lot('CAPS', 'CAP', 99)],
    ...rest,
  });

describe('other sizes', () => {
  it('are tried of what is late first and what that is made of, then of all that is made', () => {
    const late = (lines: Snapshot['lines']) => tried(shop({ lines })).items;
    expect(late([ordered('a', 'A', 4, 0), ordered('b', 'B', 4, 0)])).toEqual(['B', 'A']);
    expect(late([ordered('a', 'A', 4, 0), ordered('c', 'C', 4, 0)])).toEqual(['C', 'BULK', 'A']);
    // one of the two lines of a batch is late
    expect(late([ordered('a', 'A', 4, 0), ordered('b', 'B', 4, 0), ordered('b2', 'B', 4, 1)])).toEqual(['B', 'A']);
  });

  it('are for one need, for some days and for weeks', () => {
    const lines = [ordered('a', 'A', 4, 0), ordered('b', 'B', 4, 0)];
    const of = shop({ lines });
    of.formulas[1]!.batchMax = 9;
    of.formulas[2]!.batchMax = 8;
    expect(tried(of).all).toEqual(
      ['B', 'A'].flatMap((code) => [0, 3, 7, 14, 28].map((days) => `${code} ${days} ${code === 'A' ? 9 : 8} 0`)),
    );
  });

  it('are tried as long as that is allowed', () => {
    const { all, taken } = tried(shop({ lines: [ordered('a', 'A', 4, 0), ordered('b', 'B', 4, 0)] }), 0, 3);
    expect(all).toHaveLength(3);
    expect(taken.size).toBe(0);
  });

  it('are none where all goes as soon as it can, and nothing ends', () => {
    expect(tried(shop({ lines: [ordered('a', 'A', 4, 0)] })).all).toEqual([]);
  });
});

describe('sizes of what is poured into vessels', () => {
  /** All day for each batch; of the jugs the largest holds nine, and the pot is for something else. */
  const poured = (rest: Partial<SnapshotFormula> = {}): Snapshot =>
    openShop({
      items: [counted('CAP'), product('A'), product('B'), item('WAX')],
      formulas: [
        formula('A', [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 }),
        formula('B', [line(1, 'WAX', 'each', 1)], { minutesBatch: 480, vesselKind: 'jug', ...rest }),
      ],
      vessels: [
        ...[9, 5, 4].map((capacityMg) => ({ code: `J${capacityMg}`, kind: 'jug', capacityMg })),
        { code: 'P', kind: 'pot', capacityMg: 6 },
      ],
      lots: [lot('CAPS', 'CAP', 99), lot('WAX', 'WAX', 99)],
      lines: [ordered('a', 'A', 4, 0), ordered('b', 'B', 4, 0)],
    });
  const windows = [0, 3, 7, 14, 28];
  const upTo = (most: number): string[] => windows.map((days) => `B ${days} ${most} 0`);
  const mixes = (from: number): string[] => [1, 2, 3, 4, 5, 6].slice(from).map((mix) => `B 28 9 ${mix}`);
  const isOfB = (one: string): boolean => one.startsWith('B') && !one.includes(';');
  const ofB = (...of: Parameters<typeof tried>): string[] => tried(...of).all.filter(isOfB);

  it('are those of the smaller vessels too, and other needs together', () => {
    expect(ofB(poured())).toEqual([...upTo(9), ...upTo(5), ...upTo(4), ...mixes(0)]);
  });

  it('are not smaller than they may be', () => {
    expect(ofB(poured({ batchMin: 5 }))).toEqual([...upTo(9), ...upTo(5), ...mixes(0)]);
    expect(ofB(poured({ batchMin: 6 }))).toEqual([...upTo(9), ...mixes(0)]);
  });

  it('are tried anew once one is taken, and not that one again', () => {
    expect(ofB(poured(), 1).slice(0, 6)).toEqual(['B 0 9 0', ...upTo(9).slice(1), 'B 0 5 0']);
    const all = [...upTo(9), ...upTo(5), ...upTo(4), ...mixes(0)];
    const taking = tried(poured(), 0, Infinity, 'B 28 9 1');
    expect(taking.all.filter(isOfB)).toEqual([...all.slice(0, 16), ...all.filter((one) => one !== 'B 28 9 1')]);
    expect([...taking.taken]).toEqual([['B', { windowDays: 28, most: 9, mix: 1 }]]);
  });

  it('are of halves too where only a lot that ends is at stake', () => {
    const ending: Snapshot = {
      ...poured(),
      lots: [lot('CAPS', 'CAP', 99), lot('OLD', 'WAX', 2, 3), lot('WAX', 'WAX', 99)],
      lines: [ordered('a', 'A', 4, 30), ordered('b', 'B', 7, 31)],
    };
    const { all, items } = tried(ending);
    expect(items).toEqual(['B']);
    expect(all).toEqual([...upTo(9), ...upTo(5), ...upTo(4), ...mixes(0)]);
    // of the larger batch of something else nothing is halved
    const six = { ...ending, lines: [ordered('a', 'A', 20, 30), ordered('b', 'B', 6, 31)] };
    six.formulas[1]!.lines.push(line(2, 'CAP', 'each', 1));
    expect(tried(six).all).toEqual([...upTo(9), ...upTo(5), ...upTo(4), ...upTo(3), ...mixes(0)]);
  });
});

describe('sizes of what is filled from a jug', () => {
  /** Seven of A and two of B out of one pour of ten, and weeks later nine of B out of another; the pot is for something else. */
  const filled = (): Snapshot =>
    openShop({
      items: [item('WATER', { stocked: false }), bulk('BASE'), product('A'), product('B')],
      formulas: [
        formula('BASE', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 2 }),
        ...['A', 'B'].map((code) => formula(code, [line(1, 'BASE', 'each', 1_000_000, 'fill')])),
      ],
      vessels: [
        { code: 'J', kind: 'jug', capacityMg: 10_000_000 },
        { code: 'P', kind: 'pot', capacityMg: 14_000_000 },
      ],
      // the jug is free too late for the first two
      making: [beingMade('BASE', 0, 3, { vessel: 'J' })],
      lines: [ordered('a', 'A', 7, 0), ordered('b', 'B', 2, 0), ordered('b9', 'B', 9, 20)],
    });
  const sizesOf = (of: Snapshot, code: string): number[] => {
    const ofItem = tried(of).all.filter((one) => one.startsWith(`${code} `) && !one.includes(';'));
    return [...new Set(ofItem.map((one) => Number(one.split(' ')[2])))];
  };

  it('are those that fit beside what others draw, or beside all that is drawn, and what is over then', () => {
    // of the nine: three in the first pour, with the two that it has; or one more
    expect(sizesOf(filled(), 'B')).toEqual([10, 8, 6, 3, 1]);
    // of A there is no more than one batch of seven, which leaves no room for less than that
    expect(sizesOf(filled(), 'A')).toEqual([10, 6, 1]);
  });
});
