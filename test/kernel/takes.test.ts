import { describe, expect, it } from 'vitest';
import { arrivals, Takes } from '../../src/kernel/plan/arrival.js';
import { dayOf } from '../../src/kernel/measure/day.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { comes, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const today = dayOf(day(0));

/** A takes a bottle, B a bottle and a cap, C a cap; two of each are ordered unless it is said. */
function takes(rest: Partial<Snapshot>) {
  const { model, netted } = netOf(
    openShop({
      items: [...['BOTTLE', 'CAP'].map(counted), ...['A', 'B', 'C'].map((code) => product(code))],
      formulas: [
        formula('A', [line(1, 'BOTTLE', 'each', 1)]),
        formula('B', [line(1, 'BOTTLE', 'each', 1), line(2, 'CAP', 'each', 1)]),
        formula('C', [line(1, 'CAP', 'each', 1)]),
      ],
      lines: ['A', 'B', 'C'].map((of) => ordered(of, of, 2, 9)),
      ...rest,
    }),
  );
  const found = new Takes(model, netted);
  return {
    who: found.jobs.map((place) => netted.jobs[place]!.item.code),
    /** Days until each has all it takes, taking it in this order. */
    after: (...codes: string[]) => {
      const places = codes.map((code) => netted.jobs.findIndex(({ item }) => item.code === code));
      const there = found.inOrder(places);
      return Object.fromEntries(codes.map((code, i) => [code, there.get(places[i]!)!.earliest - today]));
    },
  };
}
const caps = lot('C', 'CAP', 99);
const late = comes('D', 'BOTTLE', 9, 5);

describe('who takes first of what is there for some of them', () => {
  it('has it now, and the other waits for the delivery', () => {
    const { who, after } = takes({ lots: [caps, lot('L', 'BOTTLE', 2)], deliveries: [late] });
    expect(who).toEqual(['A', 'B']);
    expect(after('A', 'B')).toEqual({ A: 0, B: 5 });
    expect(after('B', 'A')).toEqual({ A: 5, B: 0 });
    // asked again it begins anew
    expect(after('A', 'B')).toEqual({ A: 0, B: 5 });
    expect(after('B')).toEqual({ B: 0 });
  });

  it('waits as well for all else it takes', () => {
    const { after } = takes({ lots: [lot('L', 'BOTTLE', 2)], deliveries: [late, comes('E', 'CAP', 9, 7)] });
    expect(after('B', 'A')).toEqual({ A: 5, B: 7 });
    expect(after('A', 'B')).toEqual({ A: 0, B: 7 });
  });

  it('is asked only where something is there, more comes, and that is not enough for all', () => {
    const who = (bottles: number, deliveries: Snapshot['deliveries']) =>
      takes({ lots: [caps, ...(bottles > 0 ? [lot('L', 'BOTTLE', bottles)] : [])], deliveries }).who;
    expect(who(3, [late])).toEqual(['A', 'B']);
    expect(who(4, [late])).toEqual([]);
    expect(who(0, [late])).toEqual([]);
    expect(who(2, [])).toEqual([]);
    // what comes today is there
    expect(who(1, [comes('T', 'BOTTLE', 2, 0)])).toEqual([]);
    expect(who(1, [comes('T', 'BOTTLE', 2, 0), late])).toEqual(['A', 'B']);
    expect(who(1, [comes('T', 'BOTTLE', 3, 0), late])).toEqual([]);
  });

  it('is asked of two things at once', () => {
    const { who, after } = takes({
      lots: [lot('L', 'BOTTLE', 2), lot('C', 'CAP', 2)],
      deliveries: [late, comes('E', 'CAP', 9, 7)],
    });
    expect(who).toEqual(['A', 'B', 'C']);
    expect(after('B', 'A', 'C')).toEqual({ A: 5, B: 0, C: 7 });
    expect(after('A', 'C', 'B')).toEqual({ A: 0, B: 7, C: 0 });
  });
});

it('takes of what comes on one day what expires first, where that is good enough', () => {
  const first = (lines: Snapshot['lines'], deliveries: Snapshot['deliveries']) => {
    const { model, netted } = netOf(
      openShop({
        items: [counted('BOTTLE'), product('A')],
        formulas: [formula('A', [line(1, 'BOTTLE', 'each', 1)])],
        lines,
        deliveries,
      }),
    );
    return [...arrivals(model, netted).values()].map(({ earliest }) => earliest - today);
  };
  const lines = [ordered('a', 'A', 2, 9), ordered('b', 'A', 2, 30)];
  // the first takes what is over before the second is made, whichever is named first
  const short = comes('S', 'BOTTLE', 2, 3, 20);
  const long = comes('L', 'BOTTLE', 2, 3, 90);
  expect(first(lines, [short, long])).toEqual([3, 3]);
  expect(first(lines, [long, short])).toEqual([3, 3]);
  expect(
    first(lines, [
      { ...long, key: 'A' },
      { ...short, key: 'Z' },
    ]),
  ).toEqual([3, 3]);
});
