import { describe, expect, it } from 'vitest';
import { project } from '../../src/kernel/demand.js';

const outlook = { today: 100, free: 50, coming: [], needs: [], per28Days: null, keep: 0, until: 104 };

describe('what is free by day', () => {
  it('falls with what is planned and rises with what comes, on its day', () => {
    const needs = [
      { day: 101, quantity: 30 },
      { day: 103, quantity: 40 },
    ];
    const coming = [{ day: 104, quantity: 25 }];
    const projected = project({ ...outlook, needs, coming });
    expect(projected.freeByDay).toEqual([50, 20, 20, -20, 5]);
    expect(projected.runsOutOn).toBe(103);
    expect(projected.wanted).toBe(0);
  });

  it('counts a need that is both planned and usual once', () => {
    // 14 a day by past use; 20 planned on the second day are within what is usual from the third day on
    const projected = project({ ...outlook, per28Days: 392, needs: [{ day: 101, quantity: 20 }] });
    expect(projected.freeByDay).toEqual([50, 30, 22, 8, -6]);
    expect(projected).toMatchObject({ runsOutOn: 104, wanted: 6, expectedUse: 56 });
  });

  it('has a need of a day gone by as one of today', () => {
    expect(project({ ...outlook, needs: [{ day: 90, quantity: 50 }] }).freeByDay).toEqual([0, 0, 0, 0, 0]);
  });
});
