import { describe, expect, it } from 'vitest';
import { dayOf, isoOf } from '../../src/kernel/measure/day.js';
import { forecast } from '../../src/kernel/buy/forecast.js';
import { reorder, type ReorderCase, type Seller } from '../../src/kernel/buy/reorder.js';

// Monday 2 March 2026; 70 a week, as steady as can be
const today = dayOf('2026-03-02');
const steady = forecast(
  Array.from({ length: 40 }, () => 70),
  3,
  60,
);
const seller = (supplier: string, rest: Partial<Seller> = {}): Seller => ({
  supplier,
  lead: { meanDays: 10, deviationDays: 0, deliveries: 0 },
  orderDays: [],
  offers: [{ key: `${supplier}/BOX`, size: 100, priceE4: 1_000, leastPacks: 1, breaks: [] }],
  ...rest,
});
const known: ReorderCase = {
  today,
  free: 200,
  coming: [],
  needs: [],
  reserved: [],
  expiring: [],
  forecast: steady,
  target: 0,
  service: { kind: 'fill-rate', share: 0.98 },
  reviewDays: 7,
  orderCostE4: 0,
  coverMostDays: 28,
  receivingDays: 1,
  trialDays: 0,
  shelfLifeDays: null,
  sellers: [seller('S')],
};

describe('what to order of one item, by when', () => {
  it('orders the lead time and receiving before the day it runs under, for as long as the order should last', () => {
    // 200 at 10 a day are gone on the 22nd, and less than nothing is free on the 23rd
    const { ways, keep } = reorder(known);
    expect(keep).toBe(0);
    expect(ways).toHaveLength(1);
    expect(isoOf(ways[0]!.orderBy)).toBe('2026-03-12');
    // it arrives on the 23rd and lasts seven days, until 70 + 10 are short
    expect(ways[0]).toMatchObject({ wanted: 80, amount: { total: 100, costE4: 1_000 } });
  });

  it('waits for what is on the way, and says nothing where enough comes', () => {
    expect(reorder({ ...known, coming: [{ day: today + 20, quantity: 1_000 }] }).ways).toEqual([]);
  });

  it('keeps more where use strays, lead times stray, or a target is set', () => {
    const straying = forecast(
      Array.from({ length: 40 }, (_, week) => (week % 3 ? 40 : 130)),
      3,
      60,
    );
    const keepOf = (rest: Partial<ReorderCase>) => reorder({ ...known, ...rest }).keep;
    const stray = keepOf({ forecast: straying });
    const late = keepOf({ sellers: [seller('S', { lead: { meanDays: 10, deviationDays: 4, deliveries: 9 } })] });
    expect(stray).toBeGreaterThan(20);
    expect(late).toBeGreaterThan(20);
    expect(keepOf({ target: 500 })).toBe(500);
    expect(keepOf({ forecast: straying, service: null })).toBe(0);
    expect(keepOf({ forecast: straying, service: { kind: 'fill-rate', share: 0.999 } })).toBeGreaterThan(stray);
  });

  it('counts only what is planned where there is no history', () => {
    const planned = { ...known, forecast: null, free: 30, needs: [{ day: today + 20, quantity: 100 }] };
    expect(reorder(planned)).toMatchObject({ keep: 0, ways: [{ orderBy: today + 9, wanted: 70 }] });
    expect(reorder({ ...planned, needs: [] }).ways).toEqual([]);
  });

  it("goes back to a supplier's order day, and counts the days of a trial", () => {
    const onMondays = { ...known, sellers: [seller('S', { orderDays: [0] })] };
    expect(isoOf(reorder(onMondays).ways[0]!.orderBy)).toBe('2026-03-09');
    expect(isoOf(reorder({ ...known, trialDays: 3 }).ways[0]!.orderBy)).toBe('2026-03-09');
  });

  it('buys no more than can be used before it expires, and nothing that what is there outlasts', () => {
    const lasting = { ...known, orderCostE4: 10_000_000, coverMostDays: 90 };
    expect(reorder(lasting).ways[0]!.amount).toMatchObject({ total: 1_000, limitedBy: null });
    // from the 22nd on it keeps 40 days: 10 a day, less what is left of the day it comes on
    expect(reorder({ ...lasting, shelfLifeDays: 40 }).ways[0]!.amount).toMatchObject({
      total: 400,
      limitedBy: 'shelf-life',
      wasted: 0,
    });
    const drum = seller('S', { offers: [{ key: 'S/DRUM', size: 1_000, priceE4: 9_000, leastPacks: 1, breaks: [] }] });
    expect(reorder({ ...lasting, shelfLifeDays: 40, sellers: [drum] }).ways[0]!.amount).toMatchObject({
      total: 1_000,
      limitedBy: 'smallest-pack',
      wasted: 600,
      wasteE4: 5_400,
    });
    // enough for longer than a new one would keep: a target alone is no reason
    expect(reorder({ ...lasting, free: 900, target: 2_000, shelfLifeDays: 40 }).ways).toEqual([]);
  });

  it('answers for every seller with their own lead time', () => {
    const fast = seller('T', { lead: { meanDays: 2, deviationDays: 0, deliveries: 0 } });
    const { ways } = reorder({ ...known, sellers: [seller('S'), fast] });
    expect(ways.map(({ supplier, orderBy }) => [supplier, isoOf(orderBy)])).toEqual([
      ['S', '2026-03-12'],
      ['T', '2026-03-20'],
    ]);
  });
});
