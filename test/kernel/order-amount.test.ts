import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Offer, orderAmount, priceEach } from '../../src/kernel/buy/order-amount.js';
import { runs } from '../support/scale.js';

const offer = (key: string, size: number, priceE4: number, rest: Partial<Offer> = {}): Offer => ({
  key,
  size,
  priceE4,
  leastPacks: 1,
  breaks: [],
  ...rest,
});

describe('how much to order', () => {
  it('takes the price of a break when more than needed is cheaper than what is needed', () => {
    const offers = [offer('BOX', 10, 100, { breaks: [{ fromPacks: 10, priceE4: 80 }] })];
    expect(orderAmount(70, null, offers)).toMatchObject({ total: 70, costE4: 700 });
    expect(orderAmount(90, null, offers)).toMatchObject({
      packs: [{ key: 'BOX', count: 10, priceE4: 80 }],
      total: 100,
      costE4: 800,
    });
  });

  it('stays within what can be used before it would expire, in the cheapest packs that do', () => {
    const offers = [offer('DRUM', 1000, 500), offer('CAN', 100, 90), offer('VIAL', 30, 40)];
    expect(orderAmount(600, null, offers)).toMatchObject({ packs: [{ key: 'DRUM', count: 1 }], limitedBy: null });
    expect(orderAmount(600, 800, offers)).toMatchObject({
      packs: [{ key: 'CAN', count: 6 }],
      total: 600,
      limitedBy: 'shelf-life',
      wasted: 0,
    });
    // 250 can be used: a can and five vials hold all of it
    expect(orderAmount(600, 250, offers)).toMatchObject({ total: 250, limitedBy: 'shelf-life', wasteE4: 0 });
  });

  it('orders the smallest pack where even that is more, and says what will be wasted', () => {
    const offers = [offer('DRUM', 1000, 500), offer('CAN', 100, 90, { leastPacks: 2 })];
    expect(orderAmount(60, 50, offers)).toEqual({
      packs: [{ key: 'CAN', count: 2, priceE4: 90 }],
      total: 200,
      costE4: 180,
      gapE4: 0,
      limitedBy: 'smallest-pack',
      wasted: 150,
      wasteE4: 135,
    });
    expect(orderAmount(60, 0, offers)).toMatchObject({ wasted: 200, wasteE4: 180 });
    expect(orderAmount(60, null, [])).toBeNull();
  });

  it('may be just what can be used', () => {
    const can = [offer('CAN', 100, 90)];
    expect(orderAmount(600, 600, can)).toMatchObject({ total: 600, limitedBy: null });
    expect(orderAmount(600, 100, can)).toMatchObject({ total: 100, limitedBy: 'shelf-life', wasted: 0 });
    expect(orderAmount(60, 99, can)).toMatchObject({ total: 100, limitedBy: 'smallest-pack', wasted: 1, wasteE4: 0 });
  });

  it('names packs in the order of their keys, and is nothing past all numbers', () => {
    const offers = [offer('Z', 1_000, 900), offer('A', 100, 95)];
    expect(orderAmount(1_100, null, offers)!.packs).toEqual([
      { key: 'A', count: 1, priceE4: 95 },
      { key: 'Z', count: 1, priceE4: 900 },
    ]);
    expect(orderAmount(9_000_000_000_000, null, [offer('A', 1, 9_000_000_000)])).toBeNull();
  });

  it('is of the smallest packs the cheapest, with its break, and of equals the first by key', () => {
    const whole = offer('WHOLE', 200, 300);
    const halves = offer('HALVES', 100, 160, { leastPacks: 2, breaks: [{ fromPacks: 2, priceE4: 140 }] });
    for (const offers of [
      [whole, halves],
      [halves, whole],
    ])
      expect(orderAmount(60, 50, offers)!.packs).toEqual([{ key: 'HALVES', count: 2, priceE4: 140 }]);
    const same = [offer('B', 200, 280), halves, offer('A', 200, 280)];
    for (const offers of [same, same.toReversed()])
      expect(orderAmount(60, 50, offers)!.packs.map(({ key }) => key)).toEqual(['A']);
  });

  it('fills what can be used to the last of it at the least cost, no pack below its least number', () => {
    // two of 50 would be the cheapest for 60, and are too much
    const fifty = offer('FIFTY', 50, 1);
    const packsOf = (...offers: Offer[]) =>
      Object.fromEntries(orderAmount(90, 60, [fifty, ...offers])!.packs.map(({ key, count }) => [key, count]));
    const [forty, twenty] = [offer('FORTY', 40, 100), offer('TWENTY', 20, 30)];
    // 40 and 20 for 130, or three of 20 for 90
    for (const offers of [
      [forty, twenty],
      [twenty, forty],
    ])
      expect(packsOf(...offers)).toEqual({ TWENTY: 3 });
    expect(packsOf(forty, offer('TWENTY', 20, 60))).toEqual({ FORTY: 1, TWENTY: 1 });
    expect(packsOf(forty, offer('TWENTY', 20, 60, { leastPacks: 3 }))).toEqual({ TWENTY: 3 });
    // nothing reaches 60: 50 it is
    expect(packsOf(forty)).toEqual({ FIFTY: 1 });
    expect(orderAmount(90, 60, [fifty, forty])).toMatchObject({ total: 50, costE4: 1, limitedBy: 'shelf-life' });
  });

  const offersOf = fc.array(
    fc.record({
      size: fc.integer({ min: 1, max: 40 }),
      priceE4: fc.integer({ min: 1, max: 500 }),
      leastPacks: fc.integer({ min: 1, max: 3 }),
      from: fc.integer({ min: 2, max: 6 }),
      cut: fc.integer({ min: 0, max: 60 }),
    }),
    { minLength: 1, maxLength: 3 },
  );

  it('is never dearer than any other way to cover the need, tried out one by one', () => {
    fc.assert(
      fc.property(offersOf, fc.integer({ min: 1, max: 80 }), (list, need) => {
        const offers = list.map(({ size, priceE4, leastPacks, from, cut }, i) =>
          offer(`P${i}`, size, priceE4, {
            leastPacks,
            breaks: [{ fromPacks: from, priceE4: Math.max(0, priceE4 - cut) }],
          }),
        );
        const found = orderAmount(need, null, offers)!;
        expect(found.total).toBeGreaterThanOrEqual(need);
        expect(found.costE4).toBe(found.packs.reduce((sum, { count, priceE4 }) => sum + count * priceE4, 0));
        expect(found.costE4).toBe(cheapestByTrial(need, offers));
      }),
      { numRuns: runs(200, 10_000) },
    );
  });

  it('holds as much as fits, or the least that is sold, and counts the rest as waste', () => {
    fc.assert(
      fc.property(offersOf, fc.integer({ min: 1, max: 80 }), fc.integer({ min: 0, max: 80 }), (list, need, usable) => {
        const offers = list.map(({ size, priceE4, leastPacks }, i) => offer(`P${i}`, size, priceE4, { leastPacks }));
        const found = orderAmount(need, usable, offers)!;
        const least = Math.min(...offers.map(({ size, leastPacks }) => size * leastPacks));
        if (least > usable) expect(found).toMatchObject({ total: least, wasted: least - usable });
        else expect(found).toMatchObject({ wasted: 0, wasteE4: 0 });
        expect(found.total - found.wasted).toBeLessThanOrEqual(usable);
      }),
      { numRuns: runs(200, 10_000) },
    );
  });
});

/** Every number of every pack up to what covers the need alone or reaches its break. */
function cheapestByTrial(need: number, offers: readonly Offer[]): number {
  let best = Infinity;
  const visit = (index: number, covered: number, cost: number): void => {
    const next = offers[index];
    if (!next) {
      if (covered >= need) best = Math.min(best, cost);
      return;
    }
    const most = Math.max(
      Math.ceil(need / next.size),
      next.leastPacks,
      ...next.breaks.map(({ fromPacks }) => fromPacks),
    );
    for (let n = 0; n <= most; n++)
      if (n === 0 || n >= next.leastPacks) visit(index + 1, covered + n * next.size, cost + n * priceEach(next, n));
  };
  visit(0, 0, 0);
  return best;
}
