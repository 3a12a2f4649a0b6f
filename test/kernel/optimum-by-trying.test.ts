import { expect, it } from 'vitest';
import { dayOf } from '../support/exact/arithmetic.js';
import { bestByTrying, tinyWeek, twoOrMore } from '../support/exact/by-trying.js';
import { mostByTrying } from '../support/exact/covered-by-trying.js';
import { mostCovered, shortage } from '../support/exact/shortages.js';
import { bestWeek } from '../support/exact/week-model.js';
import { patience, runs } from '../support/scale.js';

/*
 * That the exact solver is asked the right question: tiny weeks, of which every plan is tried.
 */
it.each(['late', 'expiry'] as const)(
  'finds what trying every plan finds: %s',
  { timeout: patience(120_000) },
  (family) => {
    for (let seed = 1; seed <= runs(12, 100); seed++) {
      const shop = tinyWeek(seed, family === 'expiry');
      const best = bestWeek(shop, 600, twoOrMore);
      // no line of the best is later than all of them together
      const lastDay = Math.max(...shop.lines.map(({ shipBy }) => dayOf(shipBy))) + Math.min(best.lateDays, 8);
      expect({ seed, ...bestByTrying(shop, lastDay) }).toEqual({ seed, ...best });
    }
  },
);

it('finds as many lines that can be covered as trying every choice of lines', () => {
  const small = Array.from({ length: runs(30, 100) }, (_, n) => ({ seed: n + 1, shop: shortage(n + 1) })).filter(
    ({ shop }) => shop.lines.length <= 14,
  );
  expect(small.length).toBeGreaterThan(10);
  for (const { seed, shop } of small)
    expect({ seed, covered: mostCovered(shop) }).toEqual({ seed, covered: mostByTrying(shop) });
});
