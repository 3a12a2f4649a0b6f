import { describe, expect, it } from 'vitest';
import { VesselDays } from '../../src/kernel/plan/vessel-days.js';

const NEVER = Number.POSITIVE_INFINITY;
const pot = (...busy: [number, number][]) =>
  new VesselDays({ code: 'POT', kind: 'pot', capacityMg: 5_000, busy: busy.map(([from, to]) => ({ from, to })) });

describe('a vessel that is taken from the 3rd to the 8th and on the 12th', () => {
  // two stays of the first lie over each other, and rows come in any order
  const vessel = () => pot([12, 12], [4, 8], [3, 5]);

  it('is what it was given as', () => {
    expect(vessel()).toMatchObject({ code: 'POT', kind: 'pot', capacityMg: 5_000 });
    expect(vessel().busy).toHaveLength(3);
  });

  it('is free for a stay that touches none of those days', () => {
    const free = (from: number, to: number) => vessel().isFree(from, to);
    expect([free(1, 2), free(9, 11), free(9, 9), free(13, 99), free(13, NEVER)]).toEqual([
      true,
      true,
      true,
      true,
      true,
    ]);
    expect([free(1, 3), free(5, 5), free(8, 9), free(9, 12), free(1, 99), free(9, NEVER)]).toEqual(
      Array(6).fill(false),
    );
  });

  it('is free first on a day after the stay it is in', () => {
    expect([0, 2, 3, 7, 8, 9, 11, 12, 13].map((day) => vessel().firstFree(day))).toEqual([
      0, 2, 9, 9, 9, 9, 11, 13, 13,
    ]);
  });

  it('is taken again on the day the next stay begins', () => {
    expect([0, 2, 3, 8, 9, 11, 12, 20].map((day) => vessel().nextBegun(day))).toEqual([
      3,
      3,
      12,
      12,
      12,
      12,
      NEVER,
      NEVER,
    ]);
  });
});

describe('stays', () => {
  it('that follow each other leave no day between, and one within another makes it no shorter', () => {
    expect(pot([3, 5], [6, 8]).firstFree(3)).toBe(9);
    expect(pot([3, 9], [4, 5]).firstFree(3)).toBe(10);
    expect(pot([3, 5], [5, 8]).firstFree(4)).toBe(9);
    // the day between two is free
    expect(pot([3, 5], [7, 8]).firstFree(4)).toBe(6);
    expect(pot([3, NEVER]).firstFree(4)).toBe(NEVER);
  });

  it('are added where there is room, ended, and taken back', () => {
    const vessel = pot([3, 5], [20, 22]);
    const stay = { from: 10, to: NEVER };
    vessel.add(stay);
    expect([vessel.firstFree(6), vessel.isFree(6, 9), vessel.isFree(6, 10)]).toEqual([6, true, false]);
    stay.to = 12;
    vessel.add({ from: 30, to: 31 });
    vessel.add({ from: 0, to: 1 });
    expect([0, 3, 9, 10, 13, 20, 30].map((day) => vessel.firstFree(day))).toEqual([2, 6, 9, 13, 13, 23, 32]);
    expect([vessel.nextBegun(5), vessel.nextBegun(10), vessel.nextBegun(22)]).toEqual([10, 20, 30]);
    vessel.remove(stay);
    expect([vessel.isFree(6, 19), vessel.firstFree(0), vessel.firstFree(30)]).toEqual([true, 2, 32]);
    vessel.reset();
    expect([vessel.isFree(0, 2), vessel.isFree(6, 19), vessel.isFree(23, NEVER), vessel.firstFree(3)]).toEqual([
      true,
      true,
      true,
      6,
    ]);
  });
});
