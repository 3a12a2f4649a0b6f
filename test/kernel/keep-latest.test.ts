import { expect, it } from 'vitest';
import { keepLatest } from '../../src/kernel/plan/plan.js';

it('keeps the latest day of each, and says whether any is new', () => {
  const known = new Map([['a', 5]]);
  expect(keepLatest(known, new Map())).toBe(false);
  expect(keepLatest(known, new Map([['a', 5]]))).toBe(false);
  expect(keepLatest(known, new Map([['a', 4]]))).toBe(false);
  expect(
    keepLatest(
      known,
      new Map([
        ['a', 3],
        ['b', 1],
      ]),
    ),
  ).toBe(true);
  expect([...known]).toEqual([
    ['a', 5],
    ['b', 1],
  ]);
  expect(
    keepLatest(
      known,
      new Map([
        ['a', 6],
        ['b', 1],
      ]),
    ),
  ).toBe(true);
  expect([...known]).toEqual([
    ['a', 6],
    ['b', 1],
  ]);
});
