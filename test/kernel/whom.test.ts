import { describe, expect, it } from 'vitest';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net, NOTHING_LEARNED, UNCUT } from '../../src/kernel/plan/netting.js';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { linesToLeave } from '../../src/kernel/plan/whom.js';
import { counted, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** A spray takes a bottle, a stick a cap, a mist one of each, and a set two sprays. */
const shop = (bottles: number, caps: number, lines: SnapshotLine[]): Snapshot =>
  openShop({
    items: [...['BOTTLE', 'CAP'].map(counted), ...['SPRAY', 'STICK', 'MIST', 'SET'].map((code) => product(code))],
    formulas: [
      formula('SPRAY', [line(1, 'BOTTLE', 'each', 1)]),
      formula('STICK', [line(1, 'CAP', 'each', 1)]),
      formula('MIST', [line(1, 'BOTTLE', 'each', 1), line(2, 'CAP', 'each', 1)]),
      formula('SET', [line(1, 'SPRAY', 'each', 2, 'pack')]),
    ],
    lots: [lot('B', 'BOTTLE', bottles), lot('C', 'CAP', caps)],
    lines,
  });
const order = (key: string, of: string, quantity: number, due = 9, rest: Partial<SnapshotLine> = {}): SnapshotLine => ({
  ...ordered(key, of, quantity, due),
  ...rest,
});

/** Who goes without, of what is placed as it is due. */
function left(of: Snapshot, cut = UNCUT): string[] {
  const model = buildModel(of);
  const netted = net(model, new Set(), NOTHING_LEARNED, cut);
  return [...linesToLeave(attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) }))].sort();
}

describe('who goes without', () => {
  it('is nobody where there is enough, or just enough', () => {
    expect(left(shop(10, 0, [order('a', 'SPRAY', 4), order('b', 'SPRAY', 6)]))).toEqual([]);
    expect(left(shop(0, 0, []))).toEqual([]);
  });

  it('is who takes so much that two others could be served, whoever is due first', () => {
    expect(left(shop(10, 0, [order('large', 'SPRAY', 6, 2), order('b', 'SPRAY', 5), order('c', 'SPRAY', 5)]))).toEqual([
      'large',
    ]);
    expect(left(shop(9, 0, [order('large', 'SPRAY', 6, 2), order('b', 'SPRAY', 5), order('c', 'SPRAY', 4)]))).toEqual([
      'large',
    ]);
    expect(left(shop(8, 0, [order('large', 'SPRAY', 6, 2), order('b', 'SPRAY', 5), order('c', 'SPRAY', 4)]))).toEqual([
      'b',
      'large',
    ]);
  });

  it('is the one who is due later, and of equals the last by name', () => {
    expect(left(shop(5, 0, [order('a', 'SPRAY', 5, 9), order('b', 'SPRAY', 5, 8)]))).toEqual(['a']);
    expect(left(shop(5, 0, [order('b', 'SPRAY', 5), order('a', 'SPRAY', 5)]))).toEqual(['b']);
  });

  it('takes of two things that are scarce', () => {
    // the mists leave four of each: too few for either of the others
    const lines = [order('mists', 'MIST', 6, 2), order('b', 'SPRAY', 5), order('c', 'STICK', 5)];
    expect(left(shop(10, 10, lines))).toEqual(['mists']);
    // with bottles for both it is between the mists and the sticks, and these take fewer caps
    expect(left(shop(99, 10, lines))).toEqual(['mists']);
    expect(left(shop(99, 11, lines))).toEqual([]);
    // who takes nothing that is scarce is served beside them
    expect(left(shop(10, 99, lines))).toEqual(['mists']);
  });

  it('takes what is scarce through all that is made of it', () => {
    // four sets are eight bottles
    expect(left(shop(10, 0, [order('sets', 'SET', 4, 2), order('a', 'SPRAY', 5), order('b', 'SPRAY', 5)]))).toEqual([
      'sets',
    ]);
    expect(left(shop(10, 0, [order('sets', 'SET', 2, 2), order('a', 'SPRAY', 6), order('b', 'SPRAY', 5)]))).toEqual([
      'a',
    ]);
  });

  it('takes what is sold as it is', () => {
    expect(left(shop(6, 0, [order('many', 'BOTTLE', 5, 2), order('a', 'BOTTLE', 3), order('b', 'SPRAY', 3)]))).toEqual([
      'many',
    ]);
  });

  it('weighs less than those who are served instead, or is not urgent', () => {
    const lines = (rest: Partial<SnapshotLine>) => [
      order('large', 'SPRAY', 6, 9, rest),
      order('b', 'SPRAY', 5, 9, { weight: 5 }),
      order('c', 'SPRAY', 5, 9, { weight: 5 }),
    ];
    // for what it takes it weighs more than either, and less than both
    expect(left(shop(10, 0, lines({ weight: 7 })))).toEqual(['large']);
    expect(left(shop(10, 0, lines({ weight: 11 })))).toEqual(['b', 'c']);
    expect(left(shop(10, 0, lines({ urgent: true })))).toEqual(['b', 'c']);
    expect(
      left(
        shop(10, 0, [
          order('a', 'SPRAY', 6, 9, { urgent: true }),
          order('b', 'SPRAY', 6, 2, { urgent: true, weight: 2 }),
        ]),
      ),
    ).toEqual(['a']);
  });

  it('is not who lacks something else, or is not in the plan at all', () => {
    const lines = [order('a', 'SPRAY', 6, 9), order('b', 'SPRAY', 6, 12), order('gone', 'GONE', 3)];
    const of = shop(6, 0, lines);
    of.items.push(product('GONE'));
    expect(left(of)).toEqual(['b']);
    expect(left(shop(6, 0, lines.slice(0, 2)), { whole: 1, part: 2 })).toEqual([]);
  });
});
