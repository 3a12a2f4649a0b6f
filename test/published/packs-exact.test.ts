import * as fc from 'fast-check';
import highsModule from 'highs';
import { expect, it } from 'vitest';
import { choosePacks } from '../../src/kernel/buy/packs.js';
import type { Pack } from '../../src/kernel/buy/packs.js';
import { runs } from '../support/scale.js';

/*
 * Against an exact mixed-integer solver: HiGHS (University of Edinburgh, MIT licence), npm package highs 1.15.3.
 * Minimise the cost of whole packs that cover the need, each pack not at all or at least its least number of times.
 */
// its types describe the CommonJS build, whose default lies one level down; what is imported is the function itself
const highs = await (highsModule as unknown as typeof highsModule.default)();

function leastCost(need: number, packs: readonly Pack[]): number {
  const most = packs.map((p) => Math.max(p.leastPacks, Math.ceil(need / p.size)));
  const model = [
    'Minimize',
    `cost: ${packs.map((p, i) => `${p.priceE4} n${i}`).join(' + ')}`,
    'Subject To',
    `cover: ${packs.map((p, i) => `${p.size} n${i}`).join(' + ')} >= ${need}`,
    ...packs.flatMap((p, i) => [
      `low${i}: n${i} - ${p.leastPacks} y${i} >= 0`,
      `top${i}: n${i} - ${most[i]} y${i} <= 0`,
    ]),
    'Bounds',
    ...packs.map((_, i) => `0 <= n${i} <= ${most[i]}`),
    'General',
    packs.map((_, i) => `n${i}`).join(' '),
    'Binary',
    packs.map((_, i) => `y${i}`).join(' '),
    'End',
  ].join('\n');
  const solution = highs.solve(model, { mip_rel_gap: 0, mip_abs_gap: 0 });
  expect(solution.Status).toBe('Optimal');
  return Math.round(solution.ObjectiveValue);
}

const lists = (maxPacks: number, leastPacks: number) =>
  fc
    .array(
      fc.record({
        // grams, and a price in cents that falls with size as it does in the trade, or anything at all
        size: fc.integer({ min: 5, max: 5_000 }),
        cheapness: fc.integer({ min: 50, max: 150 }),
        leastPacks: fc.integer({ min: 1, max: leastPacks }),
      }),
      { minLength: 1, maxLength: maxPacks },
    )
    .map((list) =>
      list.map(({ size, cheapness, ...p }, i) => ({
        ...p,
        key: `P${i}`,
        size,
        priceE4: Math.round(size ** 0.9 * cheapness),
      })),
    );

it.each([
  ['single packs', 1],
  ['least numbers up to 6', 6],
])('costs what the exact solver finds: up to 8 packs, %s', (_, leastPacks) => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 60_000 }), lists(8, leastPacks), (need, packs) => {
      expect(choosePacks(need, packs)).toMatchObject({ costE4: leastCost(need, packs), gapE4: 0 });
    }),
    { numRuns: runs(60, 1_500) },
  );
});
