import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { batchAt, byDue, dueDay, type Job, newJob, openLines } from '../../src/kernel/plan/job.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { counted, day, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const dayAt = (n: number) => dayOf(day(n));
const tin = formula('TIN', [line(1, 'LID', 'each', 1), line(2, 'CAP', 'each', 0)], { minutesBatch: 7 });
const modelOf = (lines: SnapshotLine[] = [], weekStart = 0) =>
  buildModel(
    openShop({
      items: [counted('LID'), counted('CAP'), product('TIN', { owedLifeDays: 10 })],
      formulas: [tin],
      lines,
      weekStart: day(weekStart),
    }),
  );
const model = modelOf();
const made = (latest: number, rest: Partial<Job> = {}): Job =>
  Object.assign(newJob(model, model.items.get('TIN')!, tin, 5, dayAt(latest), 0, 1), rest);

describe('a new batch', () => {
  it('is for nobody yet, and takes what its formula asks for and weighs something', () => {
    expect(made(3)).toMatchObject({
      key: 'TIN/1',
      output: 5,
      minutes: 7,
      latest: dayAt(3),
      isApart: false,
      isLater: false,
      isFirst: false,
      isLast: false,
      begins: null,
      forOrders: 0,
      pegs: [],
      sources: [],
      consumers: [],
    });
    expect(
      made(3).inputs.map(({ item, quantity, fromShelf, missing }) => [item.code, quantity, fromShelf, missing]),
    ).toEqual([['LID', 5, 0, 0]]);
  });

  it('is called by its key and its day', () => {
    expect(batchAt(made(3))).toBe(`TIN/1 ${dayAt(3)}`);
    expect(batchAt(made(4))).not.toBe(batchAt(made(3)));
  });

  it('is due on its latest day, but not before the plan begins or it can begin', () => {
    const due = (latest: number, begins: number | null) =>
      dueDay(modelOf([], 7), made(latest, { begins: begins === null ? null : dayAt(begins) })) - dayAt(0);
    expect([due(9, null), due(3, null), due(9, 8), due(9, 12), due(3, 12), due(3, 1)]).toEqual([9, 7, 9, 12, 12, 7]);
  });
});

describe('which batch comes first', () => {
  const order = (...jobs: Job[]) => jobs.sort(byDue).map(({ key }) => key);

  it('is that of an order before stock, whenever that is due', () => {
    expect(order(made(1, { key: 'stock', tier: 1 }), made(9, { key: 'order' }))).toEqual(['order', 'stock']);
    const late = made(9, { key: 'apart', isApart: true, isLater: true });
    expect(order(made(1, { key: 'stock', tier: 1 }), late)).toEqual(['apart', 'stock']);
  });

  it('is that which others wait for, then what is made later, then what is made apart, then both', () => {
    const turns = [
      made(1, { key: 'both', isApart: true, isLater: true }),
      made(2, { key: 'apart', isApart: true }),
      made(3, { key: 'later', isLater: true }),
      made(4, { key: 'usual' }),
    ];
    const inTurn = ['usual', 'later', 'apart', 'both'];
    expect(order(...turns)).toEqual(inTurn);
    expect(order(...turns.toReversed())).toEqual(inTurn);
  });

  it('is that which is due first, then by key', () => {
    const jobs = [made(5, { key: 'A' }), made(3, { key: 'C' }), made(3, { key: 'B' })];
    expect(order(...jobs)).toEqual(['B', 'C', 'A']);
    expect(order(...jobs.toReversed())).toEqual(['B', 'C', 'A']);
  });
});

describe('an open line', () => {
  const nothing = { goesOn: new Map<string, number>(), apart: new Set<string>(), last: new Set<string>() };
  const opened = (lines: SnapshotLine[], learned: Partial<typeof nothing> = {}, weekStart = 0) =>
    openLines(modelOf(lines, weekStart), { ...nothing, ...learned });
  const goes = (row: SnapshotLine, weekStart = 0) => opened([row], {}, weekStart)[0]!.goes - dayAt(0);

  it('goes on its day, but not before the plan begins or it may go', () => {
    const row = ordered('a', 'TIN', 1, 5);
    expect([goes(row), goes({ ...row, notBefore: day(8) }), goes({ ...row, notBefore: day(3) }), goes(row, 7)]).toEqual(
      [5, 8, 5, 7],
    );
  });

  it('is good for as long as is owed from the day it is known to go', () => {
    const until = (goesOn: [string, number][]) =>
      opened([ordered('a', 'TIN', 1, 5)], { goesOn: new Map(goesOn) })[0]!.until - dayAt(0);
    expect([until([]), until([['a', dayAt(9)]]), until([['a', dayAt(2)]]), until([['b', dayAt(9)]])]).toEqual([
      15, 19, 15, 15,
    ]);
  });

  it('goes together with those of its order, where that is sent complete, and takes last where that was learned', () => {
    const of = (key: string, order: string, sends?: 'complete' | 'parts') => ({
      ...ordered(key, 'TIN', 1, 5),
      order,
      ...(sends && { sends }),
    });
    const rows = [
      of('a', 'X', 'complete'),
      of('b', 'X', 'complete'),
      of('c', 'Y', 'complete'),
      of('d', 'X'),
      of('e', 'Z', 'parts'),
    ];
    const told = (learned: Partial<typeof nothing>) =>
      opened(rows, learned).map(({ row, together, isLast }) => [
        row.key,
        together.map((one) => one.row.key).join(' '),
        isLast,
      ]);
    expect(told({ last: new Set(['a', 'd']), apart: new Set(['c', 'e']) })).toEqual([
      ['a', 'a b', true],
      ['b', 'a b', false],
      ['c', 'c', true],
      ['d', '', false],
      ['e', '', false],
    ]);
  });
});
