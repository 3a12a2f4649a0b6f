import { describe, expect, it } from 'vitest';
import { informedAtFill, informedOf, ownOf, WANTED_SHARE } from '../bench/reorder-said.js';
import { type SaidKind, saidWorldOf } from '../support/reorder-said-world.js';
import { patience, runs } from '../support/scale.js';

/** How far the fill rate may lie below what is wanted, and how many items a sample has. */
const GOALS: readonly [SaidKind, number, number][] = [
  ['new', 0.02, 10],
  ['lumpy', 0.01, 6],
  ['seasonal', 0.01, 4],
  ['trending', 0.02, 6],
];
const ALL = 200;
/** So much stock there may be beside a review that knows the same, and that is asked for the same share. */
const MOST = 1.05;
/** And beside one that is asked for less, so that it serves no more: it is told how use comes, which nobody knows. */
const MOST_AT_SAME_FILL = 1.1;

/* 104 weeks on a seed of its own. Serving as much takes a review eight runs to find, so only all items together do that. */
describe.each(GOALS)('of what is %s', (kind, within, sample) => {
  const items = runs(sample, ALL);

  it(
    'serves what is wanted, with no more stock than a periodic review that knows the same',
    () => {
      const world = saidWorldOf(kind, 4_711, items);
      const own = ownOf(world);
      expect(own.fillRate).toBeGreaterThanOrEqual(WANTED_SHARE - within);
      expect(own.stockWorth).toBeLessThanOrEqual(MOST * informedOf(world).stockWorth);
      if (items < ALL) return;
      expect(own.stockWorth).toBeLessThanOrEqual(MOST_AT_SAME_FILL * informedAtFill(world, own.fillRate).stockWorth);
    },
    patience(120_000),
  );
});
