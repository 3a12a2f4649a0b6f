import { describe, expect, it } from 'vitest';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net, NOTHING_LEARNED, UNCUT } from '../../src/kernel/plan/netting.js';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { type Term, termsFrom } from '../../src/kernel/plan/terms.js';
import { linesToLeave } from '../../src/kernel/plan/whom.js';
import { counted, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

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
function left(of: Snapshot, cut = UNCUT, terms?: Term[]): string[] {
  const model = buildModel(of);
  const netted = net(model, new Set(), NOTHING_LEARNED, cut);
  const attempt = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  return [...linesToLeave(attempt, termsFrom(terms))].sort();
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

  it('takes nothing of what there is none of', () => {
    const lines = [order('none', 'MIST', 1), order('large', 'SPRAY', 12, 2), order('b', 'SPRAY', 5)];
    const of = shop(10, 1, lines);
    of.lots = of.lots.filter(({ code }) => code === 'B');
    expect(left(of)).toEqual(['large', 'none']);
  });

  it('counts nothing of what there is enough of', () => {
    // the mist takes a bottle for each cap as well; were that to count, the sticks would go before it
    const lines = [order('mist', 'MIST', 5, 8), order('sticks', 'STICK', 5, 9), order('bottle', 'BOTTLE', 1)];
    expect(left(shop(99, 5, lines))).toEqual(['sticks']);
    // what is not kept in stock is always there for what is made of it
    const of = shop(99, 0, [order('spray', 'SPRAY', 5), order('water', 'WATER', 1)]);
    of.items.push(item('WATER', { stocked: false }));
    of.formulas[0]!.lines.push(line(2, 'WATER', 'each', 1));
    expect(left(of)).toEqual(['water']);
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
    expect(left(shop(6, 0, [order('many', 'BOTTLE', 5, 2), order('a', 'BOTTLE', 3), order('b', 'BOTTLE', 3)]))).toEqual(
      ['many'],
    );
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
    const urgent = shop(10, 0, lines({ urgent: true }));
    expect(left(urgent)).toEqual(['b', 'c']);
    expect(left(urgent, UNCUT, ['washing'])).toEqual(['large']);
    expect(left(urgent, UNCUT, ['late'])).toEqual(['large']);
    expect(left(urgent, UNCUT, ['days', 'urgent', 'uncovered'])).toEqual(['b', 'c']);
    expect(
      left(
        shop(10, 0, [
          order('a', 'SPRAY', 6, 9, { urgent: true }),
          order('b', 'SPRAY', 6, 2, { urgent: true, weight: 2 }),
        ]),
      ),
    ).toEqual(['a']);
  });

  /** What one line weighs, and how many bottles and caps it takes. */
  type Row = [weight: number, bottles: number, caps: number];

  /** The most that lines can weigh which take no more bottles and caps than there are, by trying all of them. */
  function mostServed(bottles: number, caps: number, rows: readonly Row[]): number {
    const [first, ...others] = rows;
    if (!first) return 0;
    const without = mostServed(bottles, caps, others);
    const [weight, ofBottles, ofCaps] = first;
    if (ofBottles > bottles || ofCaps > caps) return without;
    return Math.max(without, weight + mostServed(bottles - ofBottles, caps - ofCaps, others));
  }

  /** Each line asks for one piece of its own, made of so many bottles and caps. */
  function pieces(bottles: number, caps: number, rows: readonly Row[]): Snapshot {
    const of = shop(
      bottles,
      caps,
      rows.map(([weight], n) => order(`${n}`, `PIECE${n}`, 1, 9, { weight })),
    );
    for (const [n, [, ofBottles, ofCaps]] of rows.entries()) {
      of.items.push(product(`PIECE${n}`));
      const lines = [line(1, 'BOTTLE', 'each', ofBottles), line(2, 'CAP', 'each', ofCaps)];
      of.formulas.push(
        formula(
          `PIECE${n}`,
          lines.filter(({ amount }) => amount > 0),
        ),
      );
    }
    return of;
  }

  it.each<[bottles: number, caps: number, rows: Row[], without: string[]]>([
    // caps for ten of fifteen are left over where the second of both goes without, so that they cost too much at first
    [
      10,
      15,
      [
        [1, 6, 6],
        [2, 0, 3],
        [3, 9, 9],
        [1, 0, 1],
        [1, 0, 5],
      ],
      ['0', '4'],
    ],
    // what takes one of both is cheap, and leaves too little for the bottles or the second caps
    [
      3,
      6,
      [
        [1, 0, 3],
        [3, 3, 0],
        [2, 1, 1],
        [3, 0, 3],
      ],
      ['2'],
    ],
    // what costs more of the one takes less of the other, of which there is less
    [
      5,
      2,
      [
        [4, 2, 2],
        [1, 0, 1],
        [1, 5, 0],
      ],
      ['1', '2'],
    ],
    [
      4,
      1,
      [
        [1, 1, 1],
        [1, 1, 1],
        [2, 4, 0],
        [1, 7, 0],
      ],
      ['0', '1', '3'],
    ],
    // of the bottles just as many are left over as are wanted on average: they still cost more next time
    [
      2,
      6,
      [
        [1, 0, 6],
        [3, 2, 3],
        [2, 1, 2],
      ],
      ['0', '2'],
    ],
    // only after one exchange another one serves more
    [
      7,
      9,
      [
        [4, 7, 0],
        [4, 0, 3],
        [5, 0, 8],
        [3, 3, 2],
      ],
      ['1', '3'],
    ],
  ])('weighs as little as can be: of %i bottles and %i caps', (bottles, caps, rows, without) => {
    const served = rows.filter((_, n) => !without.includes(`${n}`));
    expect(served.reduce((sum, [weight]) => sum + weight, 0)).toBe(mostServed(bottles, caps, rows));
    expect(left(pieces(bottles, caps, rows))).toEqual(without);
  });

  it('is who is exchanged for others among 200 lines, and not among more', () => {
    /** Two that weigh more than the one which is cheaper for what it takes; and others. */
    const lines = (others: number, of: string) => [
      order('cheap', 'SPRAY', 6, 9, { weight: 13 }),
      order('b', 'SPRAY', 5, 9, { weight: 10 }),
      order('c', 'SPRAY', 5, 9, { weight: 10 }),
      ...Array.from({ length: others }, (_, n) => order(`o${n}`, of, 11, 9)),
    ];
    const some = (keys: string[]) => keys.filter((key) => !key.startsWith('o'));
    expect(some(left(shop(10, 0, lines(197, 'SPRAY'))))).toEqual(['cheap']);
    expect(some(left(shop(10, 0, lines(198, 'SPRAY'))))).toEqual(['b', 'c']);
    // those that take nothing scarce are not counted
    expect(some(left(shop(10, 9_999, lines(198, 'STICK'))))).toEqual(['cheap']);
  });

  it('is not who lacks something else, or is not in the plan at all', () => {
    const lines = [order('a', 'SPRAY', 6, 9), order('b', 'SPRAY', 6, 12), order('gone', 'GONE', 3)];
    const of = shop(6, 0, lines);
    of.items.push(product('GONE'));
    expect(left(of)).toEqual(['b']);
    expect(left(shop(6, 0, lines.slice(0, 2)), { whole: 1, part: 2 })).toEqual([]);
  });
});
