import { describe, expect, it } from 'vitest';
import { type Basis, type FormulaLine, MAX_FORMULA_LINES, solveFormula } from '../../src/kernel/formula/formula.js';
import { PPB_ONE } from '../../src/kernel/measure/quantity.js';

const PERCENT = 10_000_000;
const line = (position: number, basis: Basis, amount: number | null, more: Partial<FormulaLine> = {}): FormulaLine => ({
  position,
  basis,
  amount,
  isBase: false,
  ratioOf: [],
  ...more,
});
const base = { isBase: true };
const ratio = (position: number, ...ratioOf: number[]) => line(position, 'ratio', PPB_ONE, { ratioOf });

/** What the maker is told, a sentence for each fault. */
function told(lines: FormulaLine[]): string[] {
  const solved = solveFormula(lines);
  return solved.ok ? [] : solved.errors.map(({ code, positions, message }) => `${code} ${positions}: ${message}`);
}

describe('what is wrong with a formula', () => {
  it('is said of each fault in its rows', () => {
    expect(told([])).toEqual(['no-lines : A formula needs at least one line.']);
    expect(told([line(1, 'qs', null), line(1, 'each', 1)])).toEqual([
      'duplicate-position 1: Two lines have the same position.',
    ]);
    expect(told([line(2, 'qs', null), line(1, 'share', null)])).toEqual([
      'bad-amount 1: The amount must be a whole number not below zero, and none for qs.',
    ]);
    expect(told([line(1, 'qs', null, base), line(2, 'load', 5, base), line(3, 'each', 5, base)])).toEqual([
      'bad-base 2,3: A load, and a line outside the 100 %, cannot be base.',
    ]);
    expect(told([line(1, 'qs', null), line(2, 'load', 5)])).toEqual([
      'load-without-base 2: A load counts on base lines, and no line is marked as base.',
    ]);
    expect(told([line(1, 'qs', null), ratio(2, 7), ratio(3)])).toEqual([
      'ratio-names-unknown-line 2,3: A ratio must name lines of this formula that are inside the 100 %.',
    ]);
  });

  it('is said of all faults at once', () => {
    expect(told([line(1, 'qs', 3), line(1, 'load', 5), ratio(4, 9)]).map((text) => text.split(' ')[0])).toEqual([
      'duplicate-position',
      'bad-amount',
      'load-without-base',
      'ratio-names-unknown-line',
    ]);
  });

  it('is never that an amount is zero, nor that there are 64 lines', () => {
    expect(told([line(1, 'share', 0), line(2, 'qs', null), line(3, 'each', 0)])).toEqual([]);
    const many = (count: number) => [
      line(1, 'qs', null),
      ...Array.from({ length: count - 1 }, (_, i) => line(i + 2, 'share', 1)),
    ];
    expect(told(many(MAX_FORMULA_LINES))).toEqual([]);
    expect(MAX_FORMULA_LINES).toBe(64);
    expect(told(many(65))).toEqual(['too-many-lines : A formula has at most 64 lines.']);
  });

  it('is that ratios go round: the first loop, from its lowest line', () => {
    expect(told([line(1, 'qs', null), ratio(2, 4), ratio(3, 2), ratio(4, 3)])).toEqual([
      'ratio-loop 2,4,3: Ratios count on each other in a loop: 2 -> 4 -> 3 -> 2.',
    ]);
    // one that only leads into the loop is not in it; what two count on is no loop
    expect(told([line(9, 'qs', null), ratio(1, 5), ratio(5, 7), ratio(7, 5)])).toEqual([
      'ratio-loop 5,7: Ratios count on each other in a loop: 5 -> 7 -> 5.',
    ]);
    expect(told([line(9, 'qs', null), ratio(1, 2, 3), ratio(2, 4), ratio(3, 4), ratio(4, 9)])).toEqual([]);
  });

  it('is that shares come to more than all, and not that they come to all', () => {
    expect(told([line(1, 'share', 70 * PERCENT), line(2, 'share', 30 * PERCENT + 1), line(3, 'qs', null)])).toEqual([
      'shares-past-100 1,2: The shares come to 100 %.',
    ]);
    expect(told([line(1, 'share', 70 * PERCENT), line(2, 'share', 40 * PERCENT), line(3, 'qs', null)])).toEqual([
      'shares-past-100 1,2: The shares come to 110 %.',
    ]);
    expect(told([line(1, 'share', 70 * PERCENT), line(2, 'share', 30 * PERCENT), line(3, 'qs', null)])).toEqual([]);
  });

  it('is what its lines come to, where none fills up', () => {
    expect(told([line(1, 'share', 90 * PERCENT, base), line(2, 'load', 5 * PERCENT)])).toEqual([
      'no-solution 1,2: The lines come to 94.5 %, not 100 %, and no line fills up (qs).',
    ]);
    expect(told([line(1, 'share', 90 * PERCENT, base), line(2, 'load', 12.5 * PERCENT)])).toEqual([
      'no-solution 1,2: The lines come to 101.25 %, not 100 %, and no line fills up (qs).',
    ]);
  });

  it('is that they contradict each other', () => {
    // the scent is as much as its base together, and half of that base is as much as the scent: the share had to be nothing
    const scented = [
      line(1, 'share', 10 * PERCENT, base),
      line(2, 'ratio', PPB_ONE, { ratioOf: [3], isBase: true }),
      line(3, 'load', PPB_ONE),
    ];
    const told3 = 'no-solution 1,2,3: No amounts fit all these lines at once.';
    expect(told(scented)).toEqual([told3]);
    expect(told([...scented, line(4, 'qs', null)])).toEqual([told3.replace('1,2,3', '1,2,3,4')]);
  });

  it('is that more than one line fills up, or that nothing says how much of some there is', () => {
    expect(told([line(3, 'qs', null), line(2, 'share', 5), line(1, 'qs', null)])).toEqual([
      'many-solutions 1,3: More than one line fills up to 100 % (qs).',
    ]);
    const open = [
      line(1, 'share', 0, base),
      line(2, 'ratio', PPB_ONE, { ratioOf: [3], isBase: true }),
      line(3, 'load', PPB_ONE),
      line(4, 'qs', null),
    ];
    expect(told(open)).toEqual(['many-solutions 2,3,4: These lines could take more than one amount.']);
  });

  it('is that what fills up would be less than nothing', () => {
    expect(told([line(1, 'share', 98 * PERCENT, base), line(2, 'load', 8 * PERCENT), line(3, 'qs', null)])).toEqual([
      'negative-line 3: A line would be -5.84 %: the others come to more than 100 %.',
    ]);
  });
});

it('keeps two waxes in their proportion under a scent, to the part per billion', () => {
  // 3 : 1 : 0.4, of 4.4
  const solved = solveFormula([
    line(1, 'ratio', 3 * PPB_ONE, { ratioOf: [2], isBase: true }),
    line(2, 'qs', null, base),
    line(3, 'load', 10 * PERCENT),
  ]);
  expect(solved).toEqual({ ok: true, partsPpb: [681_818_182, 227_272_727, 90_909_091] });
});
