import { describe, expect, it } from 'vitest';
import { groupOrders, type Terms, type Way, type Wish } from '../../src/kernel/buy/order-groups.js';

const when = { today: 100, reviewDays: 7 };
const way = (supplier: string, orderBy: number, costE4: number): Way => ({
  supplier,
  orderBy,
  amount: { packs: [], total: 1, costE4, gapE4: 0, limitedBy: null, wasted: 0, wasteE4: 0 },
});
const wish = (item: string, ...ways: Way[]): Wish => ({ item, ways });
const terms = (supplier: string, rest: Partial<Terms> = {}): Terms => ({
  supplier,
  minimumE4: 0,
  freightE4: 0,
  freightFreeFromE4: null,
  ...rest,
});
const shape = (orders: ReturnType<typeof groupOrders>) =>
  orders.map(({ supplier, orderBy, lines }) => [supplier, orderBy, lines.map(({ item }) => item).join(' ')]);

describe('what is ordered together', () => {
  it('sends one parcel where a second costs more than having things sooner', () => {
    const wishes = [wish('A', way('S', 100, 1_000_000)), wish('B', way('S', 130, 1_000_000))];
    // 30 days sooner bind 1,000,000 x 20 % x 30 / 365 = 16,438
    expect(shape(groupOrders(wishes, [terms('S', { freightE4: 20_000 })], when))).toEqual([['S', 100, 'A B']]);
    expect(groupOrders(wishes, [terms('S', { freightE4: 20_000 })], when)[0]).toMatchObject({
      freightE4: 20_000,
      goodsE4: 2_000_000,
      lines: [{ early: false }, { early: true }],
    });
    expect(shape(groupOrders(wishes, [terms('S', { freightE4: 16_000 })], when))).toEqual([
      ['S', 100, 'A'],
      ['S', 130, 'B'],
    ]);
  });

  it('orders at once what is due before the next look', () => {
    const wishes = [wish('A', way('S', 90, 10)), wish('B', way('S', 106, 10)), wish('C', way('S', 107, 10))];
    expect(shape(groupOrders(wishes, [terms('S')], when))).toEqual([
      ['S', 90, 'A B'],
      ['S', 107, 'C'],
    ]);
  });

  it('brings along what reaches the least a supplier sends, or the worth from which the parcel is free', () => {
    const wishes = [wish('A', way('S', 100, 50_000)), wish('B', way('S', 120, 60_000))];
    expect(groupOrders(wishes, [terms('S', { minimumE4: 100_000 })], when)).toMatchObject([
      { goodsE4: 110_000, belowMinimumE4: 0 },
    ]);
    expect(groupOrders(wishes, [terms('S', { minimumE4: 200_000 })], when)).toMatchObject([
      { goodsE4: 110_000, belowMinimumE4: 90_000 },
    ]);
    expect(groupOrders(wishes, [terms('S', { freightE4: 9_000, freightFreeFromE4: 110_000 })], when)).toMatchObject([
      { goodsE4: 110_000, freightE4: 0 },
    ]);
  });

  it('buys a little dearer where a parcel comes anyhow', () => {
    const wishes = [wish('A', way('S', 100, 500_000)), wish('B', way('S', 100, 52_000), way('T', 100, 50_000))];
    const parcels = [terms('S', { freightE4: 30_000 }), terms('T', { freightE4: 30_000 })];
    expect(shape(groupOrders(wishes, parcels, when))).toEqual([['S', 100, 'A B']]);
    expect(shape(groupOrders(wishes, [terms('S'), terms('T')], when))).toEqual([
      ['S', 100, 'A'],
      ['T', 100, 'B'],
    ]);
  });

  it('moves all of a small order together, which no single item would pay for', () => {
    const both = (item: string) => wish(item, way('S', 100, 52_000), way('T', 100, 50_000));
    const wishes = [wish('A', way('S', 100, 500_000)), both('B'), both('C')];
    const parcels = [terms('S'), terms('T', { freightE4: 5_000 })];
    expect(shape(groupOrders(wishes, parcels, when))).toEqual([['S', 100, 'A B C']]);
  });

  it('pays more for what comes in time', () => {
    const wishes = [wish('A', way('CHEAP', 98, 10), way('FAST', 101, 20))];
    expect(shape(groupOrders(wishes, [], when))).toEqual([['FAST', 101, 'A']]);
    expect(shape(groupOrders([wish('A', way('CHEAP', 98, 10), way('FAST', 99, 20))], [], when))).toEqual([
      ['CHEAP', 98, 'A'],
    ]);
  });
});
