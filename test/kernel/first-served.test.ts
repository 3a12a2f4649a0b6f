import { expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { linesToServeFirst } from '../../src/kernel/plan/first-served.js';
import type { SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { plan } from '../../src/kernel/plan/plan.js';
import { beingMade, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { faultsOf } from '../support/plan-checker.js';
import { formula, line } from '../support/workshop.js';

/** A spray of one cap each, which rests ten days. */
function first(...lines: SnapshotLine[]): string[] {
  const { model, netted } = netOf(
    openShop({
      items: [counted('CAP'), product('SPRAY'), product('GONE')],
      formulas: [formula('SPRAY', [line(1, 'CAP', 'each', 1)], { restDays: 10 })],
      lots: [lot('C', 'CAP', 99)],
      lines,
    }),
  );
  const attempt = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  return linesToServeFirst(model, attempt);
}
const order = (key: string, due: number, rest: Partial<SnapshotLine> = {}, of = 'SPRAY'): SnapshotLine => ({
  ...ordered(key, of, 2, due),
  ...rest,
});

it('serves first who counts for more than others, and is late or not covered', () => {
  const late = order('late', 9, { weight: 5 });
  const inTime = order('in time', 10, { weight: 5 });
  const none = order('none', 30, { weight: 2 }, 'GONE');
  const urgent = order('urgent', 3, { urgent: true });
  expect(first(order('plain', 5), late, inTime, none, urgent)).toEqual(['urgent', 'late', 'none']);
});

it('serves nobody first where all count the same, or who counts for more is in time', () => {
  expect(first(order('a', 5), order('b', 6))).toEqual([]);
  expect(first(order('a', 5, { weight: 3 }), order('b', 6, { weight: 3 }))).toEqual([]);
  expect(first(order('a', 5), order('b', 20, { weight: 3 }))).toEqual([]);
  expect(first()).toEqual([]);
});

it('serves an urgent line from what is being made, also where a batch then lacks what it takes twice', () => {
  const shop = openShop({
    items: [counted('CAP'), product('SPRAY')],
    formulas: [formula('SPRAY', [line(1, 'CAP', 'each', 1), line(2, 'CAP', 'each', 1)])],
    lots: [lot('C', 'CAP', 15)],
    making: [beingMade('SPRAY', 10, 0, { day: day(0) })],
    lines: [ordered('plain', 'SPRAY', 10, 3), { ...ordered('urgent', 'SPRAY', 10, 5), urgent: true }],
  });
  const answer = plan(shop);
  expect(faultsOf(shop, answer)).toEqual([]);
  expect(answer.lines).toMatchObject([
    { key: 'plain', missing: 10 },
    { key: 'urgent', missing: 0, taken: [{ from: 'making', key: 'M', quantity: 10 }] },
  ]);
});
