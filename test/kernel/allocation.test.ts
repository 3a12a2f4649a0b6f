import { describe, expect, it } from 'vitest';
import { allocate, byExpiryOrder, type Demand, type Supply } from '../../src/kernel/plan/allocation.js';

const KEEPS = Number.POSITIVE_INFINITY;
/** A lot that lies on the shelf. */
const lot = (key: string, quantity: number, until: number, rest: Partial<Supply> = {}): Supply => ({
  key,
  quantity,
  from: 0,
  until,
  arrived: true,
  ...rest,
});
const delivery = (key: string, quantity: number, from: number, until = KEEPS): Supply =>
  lot(key, quantity, until, { from, arrived: false });
/** An order's need on a day, of something that is good on that day. */
const need = (quantity: number, day: number, rest: Partial<Demand> = {}): Demand => ({
  quantity,
  day,
  until: day,
  tier: 0,
  ...rest,
});

/** By need: "A 3, B 2". */
const given = (supplies: Supply[], demands: Demand[]): string[] => {
  const takes = allocate(supplies, demands);
  return demands.map((_, at) =>
    takes
      .filter(({ demand }) => demand === at)
      .map(({ supply, quantity }) => `${supplies[supply]!.key} ${quantity}`)
      .join(', '),
  );
};

describe('what a need is given', () => {
  it('is what expires first, then the next, until it has enough', () => {
    expect(given([lot('A', 3, 20), lot('B', 3, 10), lot('C', 9, KEEPS)], [need(8, 5)])).toEqual(['B 3, A 3, C 2']);
    expect(given([lot('A', 3, 20), lot('B', 3, 10)], [need(2, 5)])).toEqual(['B 2']);
    expect(given([lot('A', 3, 20)], [need(5, 5)])).toEqual(['A 3']);
    expect(given([], [need(5, 5)])).toEqual(['']);
  });

  it('is there on its day, and good for as long as it must be', () => {
    const shelf = [lot('A', 9, 9), delivery('D', 9, 6, 30)];
    expect(given(shelf, [need(1, 5, { until: 9 })])).toEqual(['A 1']);
    expect(given(shelf, [need(1, 5, { until: 10 })])).toEqual(['']);
    expect(given(shelf, [need(1, 6, { until: 10 })])).toEqual(['D 1']);
    expect(given(shelf, [need(1, 6, { until: 30 })])).toEqual(['D 1']);
    expect(given(shelf, [need(1, 6, { until: 31 })])).toEqual(['']);
  });

  it('keeps as long after it has come as is owed', () => {
    const owed = (until: number) => given([delivery('D', 9, 10, until)], [need(1, 12, { until: 12, keepsDays: 5 })]);
    expect([owed(15), owed(14)]).toEqual([['D 1'], ['']]);
  });

  it('is what is left by all of the tiers before, and by those of earlier days', () => {
    const rows = [need(2, 1, { tier: 2 }), need(2, 1, { tier: 1 }), need(2, 9), need(2, 3), need(2, 3)];
    expect(given([lot('A', 7, KEEPS)], rows)).toEqual(['', 'A 1', 'A 2', 'A 2', 'A 2']);
    expect(given([lot('A', 3, KEEPS)], rows)).toEqual(['', '', '', 'A 2', 'A 1']);
  });

  it('is of what will come the last that is in time, so that what comes sooner is left for others', () => {
    const coming = [delivery('D', 4, 3), delivery('E', 4, 6), delivery('F', 4, 9)];
    expect(given(coming, [need(4, 7), need(4, 4)])).toEqual(['E 4', 'D 4']);
    // what lies there goes first, if it expires no later
    expect(given([delivery('D', 4, 3), lot('A', 4, KEEPS)], [need(4, 7)])).toEqual(['A 4']);
    expect(given([delivery('D', 4, 3, 30), lot('A', 4, KEEPS)], [need(4, 7)])).toEqual(['D 4']);
  });

  it('is of equals the first', () => {
    expect(given([lot('A', 1, 9), lot('B', 1, 9), lot('C', 1, 8)], [need(2, 1)])).toEqual(['C 1, A 1']);
  });
});

describe('one lot rather than two', () => {
  it('is taken where both outlast every need by a season', () => {
    expect(given([lot('A', 3, 95), lot('B', 9, 200)], [need(5, 5)])).toEqual(['B 5']);
    expect(given([lot('A', 3, 95), lot('B', 9, 95)], [need(5, 5)])).toEqual(['B 5']);
    // enough of it as it is
    expect(given([lot('A', 5, 95), lot('B', 9, 200)], [need(5, 5)])).toEqual(['A 5']);
  });

  it('is not taken where the first would expire sooner, or a later need is nearer to that', () => {
    expect(given([lot('A', 3, 94), lot('B', 9, 200)], [need(5, 5)])).toEqual(['A 3, B 2']);
    expect(given([lot('A', 3, 95), lot('B', 9, 200)], [need(5, 5), need(1, 6)])).toEqual(['A 3, B 2', 'B 1']);
    // how long it must be good counts, not its day
    expect(given([lot('A', 3, 95), lot('B', 9, 200)], [need(5, 5, { until: 6 })])).toEqual(['A 3, B 2']);
  });

  it('is never what has not come, and large enough alone', () => {
    expect(given([lot('A', 3, 200), delivery('D', 9, 2, 300)], [need(5, 5)])).toEqual(['A 3, D 2']);
    expect(given([lot('A', 3, 200), lot('L', 9, 300, { from: 6 })], [need(5, 5)])).toEqual(['A 3']);
    expect(given([lot('A', 3, 200), lot('L', 9, 300, { from: 5 })], [need(5, 5)])).toEqual(['L 5']);
    expect(given([lot('A', 3, 200), lot('B', 4, 300)], [need(5, 5)])).toEqual(['A 3, B 2']);
    expect(given([lot('A', 3, 200), lot('B', 5, 300)], [need(5, 5)])).toEqual(['B 5']);
  });
});

it('puts first what expires first, then what is there, then what came first or will come last', () => {
  const rows = [
    delivery('sooner', 1, 5),
    delivery('later', 1, 8),
    lot('kept', 1, KEEPS, { from: 2 }),
    lot('older', 1, KEEPS, { from: 1 }),
    delivery('expires', 1, 5, 40),
    lot('soon', 1, 20),
  ];
  expect(rows.sort(byExpiryOrder).map(({ key }) => key)).toEqual([
    'soon',
    'expires',
    'older',
    'kept',
    'later',
    'sooner',
  ]);
});
