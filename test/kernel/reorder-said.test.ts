import { describe, expect, it } from 'vitest';
import { informedAtFill, informedOf, ownOf, WANTED_SHARE } from '../bench/reorder-said.js';
import { type SaidKind, saidWorldOf } from '../support/reorder-said-world.js';
import { patience, runs } from '../support/scale.js';

/** How far the fill rate may lie below what is wanted, and how much stock there may be beside a review that knows as much. */
const GOALS: readonly [SaidKind, number, number, number][] = [
  ['new', 0.02, 1.05, 10],
  ['lumpy', 0.01, 1.05, 6],
  ['seasonal', 0.01, 1.05, 4],
  ['trending', 0.02, 1.05, 6],
];

/*
 * 104 weeks on a seed of its own. The periodic review is told how use comes, and is given the share with which it serves as
 * much, since whoever serves less needs less; a sample compares with the share that is wanted, which takes one run.
 */
describe.each(GOALS)('of what is %s', (kind, within, most, sample) => {
  const items = runs(sample, 200);

  it(
    'serves what is wanted, with no more stock than a periodic review that knows the same',
    () => {
      const world = saidWorldOf(kind, 4_711, items);
      const own = ownOf(world);
      expect(own.fillRate).toBeGreaterThanOrEqual(WANTED_SHARE - within);
      const informed = items < 200 ? informedOf(world) : informedAtFill(world, own.fillRate);
      expect(own.stockWorth).toBeLessThanOrEqual(most * informed.stockWorth);
    },
    patience(120_000),
  );
});
