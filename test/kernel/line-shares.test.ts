import { expect, it } from 'vitest';
import { sharesOf } from '../../src/kernel/plan/line-shares.js';

it('gives each part of a line its share, all of which are the line', () => {
  expect(sharesOf([1, 3], 1_000_000)).toEqual([250_000, 750_000]);
  // a third is rounded down, and what that leaves is in those that follow
  expect(sharesOf([1, 1, 1], 1_000_000)).toEqual([333_333, 333_333, 333_334]);
  expect(sharesOf([7], 9)).toEqual([9]);
  expect(sharesOf([], 9)).toEqual([]);
});
