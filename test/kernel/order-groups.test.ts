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

  it('takes the cheapest way, of equals the one that may be ordered last, then by name', () => {
    const chosen = (...ways: Way[]) => groupOrders([wish('A', ...ways)], [], when).map(({ supplier }) => supplier);
    expect(chosen(way('S', 120, 20), way('T', 110, 10))).toEqual(['T']);
    expect(chosen(way('T', 110, 10), way('S', 120, 20))).toEqual(['T']);
    expect(chosen(way('S', 110, 10), way('T', 120, 10))).toEqual(['T']);
    expect(chosen(way('T', 120, 10), way('S', 110, 10))).toEqual(['T']);
    expect(chosen(way('T', 110, 10), way('S', 110, 10))).toEqual(['S']);
    // today is in time
    expect(chosen(way('S', 100, 10), way('T', 101, 20))).toEqual(['S']);
  });

  it('moves one item alone where that pays, and leaves the others of its supplier', () => {
    // with B the parcel of S is free; D would cost more there than that
    const wishes = [
      wish('A', way('S', 100, 500_000)),
      wish('B', way('S', 100, 52_000), way('T', 100, 50_000)),
      wish('D', way('S', 100, 90_000), way('T', 100, 50_000)),
    ];
    const parcels = [terms('S', { freightE4: 30_000, freightFreeFromE4: 552_000 }), terms('T')];
    expect(shape(groupOrders(wishes, parcels, when))).toEqual([
      ['S', 100, 'A B'],
      ['T', 100, 'D'],
    ]);
    // from one piece more on the parcel is free, and nothing is won
    const dearer = [terms('S', { freightE4: 30_000, freightFreeFromE4: 552_001 }), terms('T')];
    expect(shape(groupOrders(wishes, dearer, when))).toEqual([
      ['S', 100, 'A'],
      ['T', 100, 'B D'],
    ]);
  });

  it('counts what is missing to the least a supplier sends as bought for nothing', () => {
    const item = (code: string) => wish(code, way('T', 100, 50_000), way('S', 100, 60_000));
    const least = [terms('T', { minimumE4: 100_000 })];
    expect(shape(groupOrders([item('B')], least, when))).toEqual([['S', 100, 'B']]);
    expect(shape(groupOrders([item('B'), item('C')], least, when))).toEqual([['T', 100, 'B C']]);
  });

  it('does not wait for company that is not needed', () => {
    const wishes = [wish('B', way('S', 130, 100_000)), wish('A', way('S', 100, 100_000))];
    expect(shape(groupOrders(wishes, [terms('S', { minimumE4: 100_000 })], when))).toEqual([
      ['S', 100, 'A'],
      ['S', 130, 'B'],
    ]);
  });

  it('comes by day, then supplier, its lines by their own last day, then item', () => {
    const wishes = [
      wish('Z', way('S', 120, 10)),
      wish('F', way('U', 101, 10)),
      wish('E', way('T', 101, 10)),
      wish('C', way('R', 103, 10)),
      wish('B', way('R', 103, 10)),
      wish('D', way('R', 101, 10)),
    ];
    expect(shape(groupOrders(wishes, [], when))).toEqual([
      ['R', 101, 'D B C'],
      ['T', 101, 'E'],
      ['U', 101, 'F'],
      ['S', 120, 'Z'],
    ]);
  });

  it('calls early what could wait until the next look', () => {
    const early = (first: number, other: number) =>
      groupOrders(
        [wish('A', way('S', first, 10)), wish('B', way('S', other, 10))],
        [terms('S', { freightE4: 900 })],
        when,
      )
        .flatMap(({ lines }) => lines)
        .map((line) => line.early);
    expect(early(100, 106)).toEqual([false, false]);
    expect(early(100, 107)).toEqual([false, true]);
    // what is overdue is ordered today
    expect(early(90, 106)).toEqual([false, false]);
    expect(early(90, 107)).toEqual([false, true]);
  });
});
