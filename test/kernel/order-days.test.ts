import { expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { orderDaysOf, orderSentComplete } from '../../src/kernel/plan/order-days.js';
import type { SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { day, ordered } from '../support/open-shop.js';

const ANY = Number.NEGATIVE_INFINITY;
const row = (key: string, due: number, rest: Partial<SnapshotLine> = {}): SnapshotLine => ({
  ...ordered(key, 'TIN', 1, due),
  ...rest,
});

it('has a line go on its own days, but with all of an order that is sent complete', () => {
  const sent = { order: 'X', sends: 'complete' as const };
  const rows = [
    row('a', 5, { ...sent, notBefore: day(2) }),
    row('b', 3, { ...sent, asideOn: day(4) }),
    row('c', 9, { order: 'X' }),
    row('d', 7, { notBefore: day(6), asideOn: day(1) }),
    row('e', 8, { sends: 'complete' }),
  ];
  const daysOf = orderDaysOf(rows);
  const told = rows.map((one) => Object.values(daysOf(one)).map((on) => on - dayOf(day(0))));
  expect(told).toEqual([
    [3, 4],
    [3, 4],
    [9, ANY],
    [7, 6],
    [8, ANY],
  ]);
  expect(rows.map(orderSentComplete)).toEqual(['X', 'X', null, null, 'e']);
});
