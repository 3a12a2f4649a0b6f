import { expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { buildPool, push } from '../../src/kernel/plan/pool.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { beingMade, counted, day, lot, openShop } from '../support/open-shop.js';

const pool = (rest: Partial<Snapshot>, receivingDays = 0) =>
  buildPool(buildModel(openShop({ items: [counted('CAP'), counted('BOX')], ...rest }, { receivingDays })));
const delivery = (key: string, free: number, on: number, expires: number | null = null) => ({
  key,
  item: 'CAP',
  free,
  day: day(on),
  expiresOn: expires === null ? null : day(expires),
});
const making = (code: string, free: number, ready: number) =>
  beingMade('CAP', free, ready, { code, day: day(-3), expiresOn: day(60) });

it('holds what lies there, what comes and what is in the making, each with its days', () => {
  const shop = {
    lots: [lot('L', 'CAP', 5, 40), lot('B', 'BOX', 2)],
    deliveries: [delivery('D', 7, 4, 50)],
    making: [making('M', 9, 8)],
  };
  const supplies = pool(shop, 2);
  const today = dayOf(day(0));
  expect(supplies.get('CAP')).toEqual([
    { kind: 'lot', key: 'L', quantity: 5, from: today, until: today + 40, arrived: true, spokenFor: 0 },
    { kind: 'delivery', key: 'D', quantity: 7, from: today + 6, until: today + 50, arrived: false, spokenFor: 0 },
    { kind: 'making', key: 'M', quantity: 9, from: today + 8, until: today + 60, arrived: false, spokenFor: 0 },
  ]);
  expect(supplies.get('BOX')).toMatchObject([{ key: 'B', until: Number.POSITIVE_INFINITY }]);
});

it('holds nothing that is used up, and no delivery whose day is past', () => {
  const shop = {
    lots: [lot('L', 'CAP', 0)],
    deliveries: [delivery('LATE', 7, -1), delivery('NONE', 0, 3), delivery('TODAY', 7, 0)],
    making: [making('M', 0, 8)],
  };
  expect(
    pool(shop)
      .get('CAP')!
      .map(({ key }) => key),
  ).toEqual(['TODAY']);
  expect([...pool({ lots: [lot('L', 'CAP', 0)] }).keys()]).toEqual([]);
});

it('is in order whatever that of the rows: first expired first, equals by what they are called', () => {
  const lots = [lot('C', 'CAP', 1, 9), lot('A', 'CAP', 1, 9), lot('B', 'CAP', 1, 5)];
  const deliveries = [delivery('E', 1, 3), delivery('D', 1, 3), delivery('F', 1, 4)];
  const inMaking = [making('N', 1, 8), making('M', 1, 8)];
  const keys = (shop: Partial<Snapshot>) =>
    pool(shop)
      .get('CAP')!
      .map(({ key }) => key);
  const expected = ['B', 'A', 'C', 'M', 'N', 'F', 'D', 'E'];
  expect(keys({ lots, deliveries, making: inMaking })).toEqual(expected);
  expect(keys({ lots: lots.toReversed(), deliveries: deliveries.toReversed(), making: inMaking.toReversed() })).toEqual(
    expected,
  );
});

it('keeps a list by key', () => {
  const map = new Map<string, number[]>();
  push(map, 'a', 1);
  push(map, 'b', 2);
  push(map, 'a', 3);
  expect(map).toEqual(
    new Map([
      ['a', [1, 3]],
      ['b', [2]],
    ]),
  );
});
