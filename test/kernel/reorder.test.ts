import { describe, expect, it } from 'vitest';
import { dayOf, isoOf } from '../../src/kernel/measure/day.js';
import { forecast } from '../../src/kernel/buy/forecast.js';
import { reorder, type ReorderCase, type Seller } from '../../src/kernel/buy/reorder.js';
import { rareLevel } from '../../src/kernel/buy/rare-use.js';
import { safetyStock, type Service } from '../../src/kernel/buy/reorder-point.js';

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

describe('figures followed by hand', () => {
  /** Ten a day; a week strays by 10, a sum of four by 20, and so 18 days by 10 times the root of 18/7. */
  const straying = {
    ...steady!,
    weekly: [70],
    weekDeviation: 10,
    horizonDeviation: 20,
    horizonWeeks: 4,
    deviationAt: null,
  };
  const late = seller('S', { lead: { meanDays: 10, deviationDays: 2, deliveries: 9 } });
  const cycle = { kind: 'cycle', share: 0.95 } as const;
  const of = (rest: Partial<ReorderCase>) =>
    reorder({ ...known, forecast: straying, sellers: [late], service: cycle, ...rest });
  const offer = (size: number, priceE4: number, leastPacks = 1) => ({
    key: `${size}`,
    size,
    priceE4,
    leastPacks,
    breaks: [],
  });

  it('keep for safety what strays until the next order after this one is here', () => {
    // 11 days until it is here and 7 until the next look: use strays by 16.04, the lead time by two days of ten
    const deviation = Math.hypot(10 * Math.sqrt(18 / 7), 20);
    const { ways, keep } = of({});
    expect(ways[0]!.deviation).toBeCloseTo(deviation, 9);
    expect(ways[0]!.safety).toBe(Math.ceil(1.644854 * deviation));
    expect(keep).toBe(43);
  });

  it('take use to stray in proportion to what is expected of all that time', () => {
    const strays = of({ forecast: { ...straying, deviationAt: 35 } }).ways[0]!.deviation;
    expect(strays).toBeCloseTo(Math.hypot(20 * Math.sqrt(18 / 7), 20), 9);
  });

  it('count the days of each week at its own use, and the last week on', () => {
    const strays = (...weekly: number[]) => of({ forecast: { ...straying, weekly } }).ways[0]!.deviation;
    const by = (use: number) => Math.hypot(10 * Math.sqrt(18 / 7), (2 * use) / 18);
    expect(strays(70, 140)).toBeCloseTo(by(70 + 140 + (4 / 7) * 140), 9);
    expect(strays(70, 140, 7)).toBeCloseTo(by(70 + 140 + 4), 9);
    expect(strays(70, 140, 7, 999)).toBeCloseTo(by(70 + 140 + 4), 9);
  });

  it('go by an order of what it lasts, or of the smallest pack', () => {
    const fill = { kind: 'fill-rate', share: 0.98 } as const;
    const deviation = Math.hypot(10 * Math.sqrt(18 / 7), 20);
    const safety = (orderQuantity: number) => safetyStock(fill, { mean: 180, deviation, orderQuantity });
    const kept = (...offers: Seller['offers']) => of({ service: fill, sellers: [{ ...late, offers }] }).keep;
    // seven days are 70
    expect(kept(offer(100, 1_000))).toBe(safety(100));
    expect(kept(offer(100, 1_000, 3), offer(50, 600))).toBe(safety(70));
    expect(kept(offer(100, 1_000, 3))).toBe(safety(300));
    expect(new Set([70, 100, 300].map(safety)).size).toBe(3);
  });

  it('go by how often and how much where it is used now and then, and by the step an order may reach beyond', () => {
    const rare = { ...straying, intervalWeeks: 3, sizeVariation: 0.6, uses: 14, rateError: 0.3 };
    const shape = { intervalWeeks: 3, sizeVariation: 0.6, uses: 14, rateError: 0.3 };
    const leveled = { shape, perDay: 10, delayDays: 11, leadDeviationDays: 2, reviewDays: 7 };
    const fill = { kind: 'fill-rate', share: 0.98 } as const;
    const beyond = (service: Service, step: number) => Math.ceil(rareLevel(service, { ...leveled, step }) - 180);
    expect(of({ forecast: rare, service: fill }).keep).toBe(beyond(fill, 100));
    expect(of({ forecast: rare, service: cycle }).keep).toBe(beyond(cycle, 100));
    // at 200 an order lasts 13 days of ten, six longer than until the next look
    const dear = { forecast: rare, service: fill, orderCostE4: 4.6 };
    expect(of(dear).keep).toBe(beyond(fill, 160));
    expect(of({ forecast: rare, service: null }).keep).toBe(0);
    expect(of({ forecast: { ...rare, weekly: [0] }, service: fill }).keep).toBe(
      safetyStock(fill, { mean: 0, deviation: 10 * Math.sqrt(18 / 7), orderQuantity: 100 }),
    );
    expect(of({ forecast: { ...rare, intervalWeeks: 1.32 }, service: fill }).keep).toBe(of({ service: fill }).keep);
  });

  it('let an order last as long as its use allows once it begins', () => {
    // nothing for three weeks, then ten a day: an order lasts as long as if it were ten from today on
    const begins = { ...steady!, weekly: [0, 0, 0, 70] };
    const lasting = { ...known, orderCostE4: 100, free: 0, forecast: begins };
    const [way] = reorder(lasting).ways;
    // the root of 2 x 365 x 100 over a fifth of 100 is 60, of which 28 are allowed
    expect(way).toMatchObject({ fallsUnderOn: today + 22, arrivesOn: today + 22, wanted: 29 * 10 });
    const short = { ...lasting, orderCostE4: 10 };
    expect(reorder(short).ways[0]!.wanted).toBe(20 * 10);
  });

  it('let an order last the longer the cheaper it is, by the cheapest pack', () => {
    // ten a day at 10: the root of 2 x 365 x 10 over a fifth of 100 is 19 days, from day 21 to day 40
    const offers = [offer(10, 200), offer(100, 1_000)];
    const wanted = reorder({ ...known, orderCostE4: 10, sellers: [seller('S', { offers })] }).ways[0]!.wanted;
    expect(wanted).toBe(40 * 10 - 200);
  });

  it('keep no more of what expires than is used up in half its life, beside the order', () => {
    const kept = (shelfLifeDays: number | null) => of({ shelfLifeDays }).keep;
    expect([kept(null), kept(30), kept(25), kept(20), kept(10)]).toEqual([43, 43, 25, 0, 0]);
  });

  it('look as far as an order takes, the next look, and four weeks', () => {
    const looked = (rest: Partial<ReorderCase>) => reorder({ ...known, ...rest }).projection.freeByDay.length - 1;
    expect(looked({})).toBe(11 + 7 + 28);
    expect(looked({ trialDays: 3 })).toBe(14 + 7 + 28);
    expect(looked({ sellers: [], trialDays: 3 })).toBe(4 + 7 + 28);
    expect(reorder({ ...known, sellers: [], target: 9 })).toMatchObject({ keep: 9, ways: [] });
    // due on the last of those days, and a day after it
    expect(reorder({ ...known, free: 459 }).ways).toMatchObject([{ fallsUnderOn: today + 46, orderBy: today + 35 }]);
    expect(reorder({ ...known, free: 460 }).ways).toEqual([]);
  });

  it('judge the item by the seller who takes longest', () => {
    const fast = seller('T', { lead: { meanDays: 2, deviationDays: 0, deliveries: 0 } });
    const [slow, quick] = [of({}).keep, of({ sellers: [fast] }).keep];
    expect(slow).toBeGreaterThan(quick);
    for (const sellers of [
      [late, fast],
      [fast, late],
      [fast, late, fast],
    ]) {
      const answer = of({ sellers });
      expect(answer.keep).toBe(slow);
      expect(answer.projection.freeByDay).toHaveLength(47);
    }
  });

  it('take a need and the usual use for one within two weeks, or as long as uses lie apart, up to eight weeks', () => {
    const slow = seller('S', { lead: { meanDays: 30, deviationDays: 0, deliveries: 0 } });
    const used = (intervalWeeks: number, quantity: number, day: number) => {
      const forecasted = { ...steady!, intervalWeeks };
      const needs = [{ day: today + 1, quantity }];
      const { projection } = reorder({ ...known, free: 0, needs, forecast: forecasted, sellers: [slow] });
      return -projection.freeByDay[day]!;
    };
    // 300 on the first days; from day 14 on ten a day again
    expect([used(1, 300, 13), used(1, 300, 20), used(2, 300, 20)]).toEqual([300, 370, 370]);
    expect([used(2.1, 300, 20), used(2.1, 300, 21)]).toEqual([300, 310]);
    expect([used(10, 1_000, 55), used(10, 1_000, 60)]).toEqual([1_000, 1_050]);
    const planned = { ...known, forecast: null, needs: [{ day: today + 20, quantity: 300 }] };
    expect(reorder(planned).ways).toMatchObject([{ fallsUnderOn: today + 20 }]);
  });

  it('order in time for the target, and up to it', () => {
    // 150 are used by day 15; ordered 11 days before day 16, it lasts from then to day 23
    const { ways } = reorder({ ...known, target: 50 });
    expect(ways).toMatchObject([
      { fallsUnderOn: today + 16, orderBy: today + 5, arrivesOn: today + 16, leadDays: 10, wanted: 230 + 50 - 200 },
    ]);
    expect(reorder({ ...known, trialDays: 3 }).ways).toMatchObject([{ leadDays: 10, arrivesOn: today + 21 }]);
  });

  it('order nothing that comes anyhow by then, nor what nobody could pay', () => {
    const coming = [{ day: today + 20, quantity: 1_000 }];
    expect(reorder({ ...known, free: 50, coming }).ways).toMatchObject([{ orderBy: today - 5, wanted: 130 }]);
    expect(reorder({ ...known, free: 50, coming, reviewDays: 14 }).ways).toEqual([]);
    expect(reorder({ ...known, sellers: [seller('S', { offers: [offer(1, 900_000_000_000_000)] })] }).ways).toEqual([]);
  });

  it('count the life from the day it arrives, and a life of more than 1,000 days as none that ends', () => {
    const lasting = { ...known, orderCostE4: 10_000_000, coverMostDays: 90, trialDays: 3 };
    // it arrives on day 17 and may be used on day 21: until day 57, 370 beside the 200 there
    expect(reorder({ ...lasting, shelfLifeDays: 40 }).ways[0]!.amount).toMatchObject({
      total: 300,
      limitedBy: 'shelf-life',
    });
    const plenty = { ...known, free: 20_000, target: 30_000 };
    expect(reorder({ ...plenty, shelfLifeDays: 1_000 }).ways).toEqual([]);
    expect(reorder({ ...plenty, shelfLifeDays: 1_001 }).ways).toHaveLength(1);
  });
});
