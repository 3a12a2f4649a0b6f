import highsModule from 'highs';
import { describe, expect, it } from 'vitest';
import { allocate, type Demand, type Supply } from '../../src/kernel/plan/allocation.js';
import { seeded } from '../support/workshop.js';
import { runs } from '../support/scale.js';

const solver = await (highsModule as unknown as typeof highsModule.default)();

/*
 * Issuing the oldest unit that satisfies the demand: Pierskalla & Roach, "Optimal issuing policies for perishable
 * inventory", Management Science 18(11), 1972. The optimum here is a linear programme solved by HiGHS (MIT), a
 * general-purpose solver from the registry.
 */
describe('first expired, first out against a linear programme', () => {
  const usable = (supply: Supply, demand: Demand): boolean => supply.from <= demand.day && supply.until >= demand.until;

  const mostServed = (supplies: Supply[], demands: Demand[]): number => {
    const pairs = supplies.flatMap((s, i) => demands.flatMap((d, j) => (usable(s, d) ? [[i, j] as const] : [])));
    if (pairs.length === 0) return 0;
    const name = ([i, j]: readonly [number, number]): string => `x${i}_${j}`;
    const limits = [
      ...supplies.map((s, i) => [pairs.filter((p) => p[0] === i), s.quantity] as const),
      ...demands.map((d, j) => [pairs.filter((p) => p[1] === j), d.quantity] as const),
    ].filter(([used]) => used.length > 0);
    const model = `Maximize\n obj: ${pairs.map(name).join(' + ')}\nSubject To\n${limits
      .map(([used, most], k) => ` c${k}: ${used.map(name).join(' + ')} <= ${most}`)
      .join('\n')}\nEnd`;
    return Math.round(solver.solve(model).ObjectiveValue);
  };

  const instance = (
    seed: number,
    options: { arriving: boolean; owed: boolean },
  ): { supplies: Supply[]; demands: Demand[] } => {
    const pick = seeded(seed);
    const supplies = Array.from({ length: 2 + pick(4) }, (_, i): Supply => {
      const from = options.arriving && pick(2) ? 1 + pick(8) : 0;
      return { key: `L${i}`, quantity: 1 + pick(6), from, until: from + pick(12), arrived: from === 0 };
    });
    const demands = Array.from({ length: 2 + pick(4) }, (): Demand => {
      const day = 1 + pick(10);
      return { quantity: 1 + pick(6), day, until: day + (options.owed ? pick(4) : 0), tier: 0 };
    });
    return { supplies, demands };
  };

  for (const [name, options] of Object.entries({
    'all on hand': { arriving: false, owed: false },
    'some arriving later': { arriving: true, owed: false },
  }))
    it(`serves as much as any plan could: ${name}`, () => {
      for (let seed = 0; seed < runs(400, 10_000); seed++) {
        const { supplies, demands } = instance(seed, options);
        const served = allocate(supplies, demands).reduce((sum, take) => sum + take.quantity, 0);
        expect(served, `seed ${seed}`).toBe(mostServed(supplies, demands));
      }
    });

  it('serves at least half of the most possible, and seldom less than all of it, where customers are owed different lives', () => {
    let below = 0;
    for (let seed = 0; seed < runs(400, 10_000); seed++) {
      const { supplies, demands } = instance(seed, { arriving: true, owed: true });
      const served = allocate(supplies, demands).reduce((sum, take) => sum + take.quantity, 0);
      const most = mostServed(supplies, demands);
      expect(served).toBeLessThanOrEqual(most);
      expect(2 * served).toBeGreaterThanOrEqual(most);
      if (served < most) below++;
    }
    expect(below).toBeLessThan(20);
  });

  it('wastes no less than first in, first out would: what is left over expires later', () => {
    const supplies: Supply[] = [
      { key: 'NEW', quantity: 5, from: 0, until: 30, arrived: true },
      { key: 'OLD', quantity: 5, from: 0, until: 9, arrived: true },
    ];
    const takes = allocate(supplies, [{ quantity: 6, day: 5, until: 5, tier: 0 }]);
    expect(takes).toEqual([
      { demand: 0, supply: 1, quantity: 5 },
      { demand: 0, supply: 0, quantity: 1 },
    ]);
  });

  it('uses up a lot that is about to expire before a single lot that lasts', () => {
    const supplies: Supply[] = [
      { key: 'ENDING', quantity: 4, from: 0, until: 20, arrived: true },
      { key: 'LASTING', quantity: 9, from: 0, until: 400, arrived: true },
    ];
    expect(allocate(supplies, [{ quantity: 6, day: 5, until: 5, tier: 0 }])).toEqual([
      { demand: 0, supply: 0, quantity: 4 },
      { demand: 0, supply: 1, quantity: 2 },
    ]);
  });

  it('takes one lot rather than two where neither is about to expire', () => {
    const supplies: Supply[] = [
      { key: 'SMALL', quantity: 4, from: 0, until: 100, arrived: true },
      { key: 'LARGE', quantity: 9, from: 0, until: 120, arrived: true },
    ];
    expect(allocate(supplies, [{ quantity: 6, day: 5, until: 5, tier: 0 }])).toEqual([
      { demand: 0, supply: 1, quantity: 6 },
    ]);
  });

  it('serves orders before stock whatever their dates', () => {
    const supplies: Supply[] = [{ key: 'LOT', quantity: 5, from: 0, until: 100, arrived: true }];
    const takes = allocate(supplies, [
      { quantity: 5, day: 1, until: 1, tier: 1 },
      { quantity: 3, day: 20, until: 20, tier: 0 },
    ]);
    expect(takes).toEqual([
      { demand: 1, supply: 0, quantity: 3 },
      { demand: 0, supply: 0, quantity: 2 },
    ]);
  });
});
