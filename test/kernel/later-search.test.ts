import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { searchLater } from '../../src/kernel/plan/later-search.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { faultsOf } from '../support/plan-checker.js';
import { bulk, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, item, line } from '../support/workshop.js';

/** A minute for each unit, of eight hours a day. */
const shop = (lines: Snapshot['lines']): Snapshot =>
  openShop({
    items: [counted('CAP'), product('A'), product('B')],
    formulas: ['A', 'B'].map((code) => formula(code, [line(1, 'CAP', 'each', 1)], { secondsUnit: 60 })),
    lots: [lot('CAPS', 'CAP', 9_999)],
    lines,
  });

/** What is tried of a plan as it is due. `taken`: which of these are taken to serve better. */
function tried(of: Snapshot, most = Infinity, taken: string[] = []) {
  const { model, netted } = netOf(of);
  const first = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  const all: string[] = [];
  const found = searchLater(
    { attempt: first, later: new Set() },
    {
      mayTry: () => all.length < most,
      tryWith: (later) => {
        all.push([...later].sort().join());
        return { ...first };
      },
      isTaken: () => taken.includes(all.at(-1)!) && all.indexOf(all.at(-1)!) === all.length - 1,
    },
  );
  return { all, found: [...found.later].sort(), first, attempt: found.attempt };
}
describe('many lines that are late', () => {
  it('beside many that are in time cost no more than so many looks at what would be made', () => {
    let looks = 0;
    const counting = Object.defineProperty(ordered('counting', 'B', 1, 20), 'quantity', {
      get: () => {
        looks++;
        return 1;
      },
    });
    const late = Array.from({ length: 100 }, (_, n) => ordered(`late ${n}`, 'A', 9, -2));
    const soon = Array.from({ length: 300 }, (_, n) => ordered(`soon ${n}`, 'B', 1, 20));
    const { lines } = plan(shop([...late, ...soon, counting]));
    expect(lines.filter(({ lateDays }) => lateDays > 0)).toHaveLength(100);
    // each look reads it once; all pairs were 30,000
    expect(looks).toBeGreaterThan(0);
    expect(looks).toBeLessThan(1_500);
  });

  it('are put beside each other one by one: all pairs of them at once would be more than there is room for', () => {
    const late = Array.from({ length: 400 }, (_, n) => ordered(`late ${n}`, 'A', 9, -2));
    const soon = Array.from({ length: 4_000 }, (_, n) => ordered(`soon ${n}`, 'B', 1, 20));
    expect(tried(shop([...late, ...soon]), 5).all).toHaveLength(5);
  });
});

describe('a line that is late anyway', () => {
  it('does not share the batch of one that can be in time', () => {
    // together they are 500 minutes, of which 20 are left for Tuesday, so that neither is there on Monday
    const of = shop([ordered('late', 'A', 400, -2), ordered('soon', 'A', 100, 0)]);
    const { lines, batches } = plan(of);
    expect(faultsOf(of, plan(of))).toEqual([]);
    expect(lines.map(({ key, readyOn }) => [key, readyOn])).toEqual([
      ['late', day(1)],
      ['soon', day(0)],
    ]);
    expect(batches.map(({ output, day: on }) => [output, on])).toEqual([
      [100, day(0)],
      [400, day(1)],
    ]);
  });

  it('is the one that takes most, where only one can wait', () => {
    // on Monday there is room for two of the three
    const of = shop([ordered('a', 'A', 200, 0), ordered('b', 'A', 300, 0), ordered('c', 'B', 250, 0)]);
    const late = plan(of).lines.filter(({ lateDays }) => lateDays > 0);
    expect(late.map(({ key, lateDays }) => [key, lateDays])).toEqual([['b', 1]]);
  });

  it('goes with the first pour where another that is late waits instead', () => {
    // the jug holds four, and again from Thursday; what is poured rests two days. Of what is there on Wednesday c wants three,
    // and there is one left: for b, since a wants two
    const of = openShop({
      items: [item('WATER', { stocked: false }), bulk('BASE'), product('A'), product('B'), product('C'), product('D')],
      formulas: [
        formula('BASE', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 2 }),
        ...['A', 'B', 'C', 'D'].map((code) => formula(code, [line(1, 'BASE', 'each', 1_000_000)])),
      ],
      vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 4_000_000 }],
      lines: [ordered('a', 'A', 2, -1), ordered('b', 'B', 1, 0), ordered('c', 'C', 3, 2), ordered('d', 'D', 1, 6)],
    });
    const answer = plan(of);
    expect(faultsOf(of, answer)).toEqual([]);
    expect(answer.lines.map(({ key, readyOn, lateDays }) => [key, readyOn, lateDays])).toEqual([
      ['a', day(5), 6],
      ['b', day(2), 2],
      ['c', day(2), 0],
      ['d', day(6), 0],
    ]);
  });
});

describe('which lines are tried last', () => {
  /** Of A there is more than a day, and the rest of it and b are late. */
  const lines = [ordered('a', 'A', 480, 0), ordered('a2', 'A', 100, 0), ordered('b', 'B', 100, 0)];

  it('are all that are late but one, then each one, then one for another; those first that share a batch with a late one', () => {
    // a2 and b have Tuesday
    expect(tried(shop(lines)).all).toEqual(['b', 'a2', 'a2', 'b', 'a', 'a,b', 'a,a2']);
    const apart = [ordered('a', 'A', 480, 0), ordered('b', 'B', 100, 0), ordered('b2', 'B', 9, 5)];
    // b2 shares the batch of b
    expect(tried(shop(apart)).all).toEqual(['', 'b', 'b2', 'a']);
  });

  it('are before others those that are filled from one pour with a late one', () => {
    const of = shop([ordered('a', 'A', 400, -2), ordered('b', 'B', 9, 5), ordered('z', 'Z', 9, 5)]);
    of.items.push(bulk('BASE'), product('Z'));
    of.formulas[0]!.lines = [line(1, 'BASE', 'each', 1)];
    of.formulas.push(formula('BASE', [line(1, 'CAP', 'each', 1)]), formula('Z', [line(1, 'BASE', 'each', 1)]));
    expect(tried(of).all).toEqual(['', 'a', 'z', 'b']);
  });

  it('are tried as long as that is allowed, and beside those that are taken', () => {
    expect(tried(shop(lines), 2)).toMatchObject({ all: ['b', 'a2'], found: [] });
    const taken = tried(shop(lines), Infinity, ['a2']);
    expect(taken.all).toEqual(['b', 'a2', 'b', 'a2', 'a2,b', 'a,a2', 'a,b', 'a,a2']);
    expect(taken.found).toEqual(['a2']);
    expect(taken.attempt).not.toBe(taken.first);
  });
});
