import { describe, expect, it } from 'vitest';
import { project } from '../../src/kernel/buy/demand.js';

const outlook = {
  today: 100,
  free: 50,
  coming: [],
  needs: [],
  reserved: [],
  weekly: [],
  windowDays: 14,
  expiring: [],
  keep: 0,
  until: 104,
};

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
    const projected = project({ ...outlook, weekly: [98], needs: [{ day: 101, quantity: 20 }] });
    expect(projected.freeByDay).toEqual([50, 30, 22, 8, -6]);
    expect(projected).toMatchObject({ runsOutOn: 104, wanted: 6, expectedUse: 56 });
  });

  it('has a need of a day gone by as one of today', () => {
    expect(project({ ...outlook, needs: [{ day: 90, quantity: 50 }] }).freeByDay).toEqual([0, 0, 0, 0, 0]);
  });

  it('counts what is set aside against what is usual, and not against what is free', () => {
    const reserved = [{ day: 102, quantity: 30 }];
    const projected = project({ ...outlook, weekly: [70], reserved });
    // 10 a day: 40 until the last day, of which 30 are set aside already
    expect(projected.freeByDay).toEqual([50, 50, 50, 50, 40]);
    expect(projected.expectedUse).toBe(10);
  });

  it('starts anew with each window, so that one large order does not stand for the usual use of months', () => {
    const needs = [{ day: 100, quantity: 200 }];
    const far = { ...outlook, free: 300, needs, weekly: [70], until: 127 };
    expect(project({ ...far, windowDays: 28 }).freeByDay.at(-1)).toBe(30);
    expect(project({ ...far, windowDays: 14 }).freeByDay.at(-1)).toBe(100 - 140);
  });

  it('goes on with the last week it knows, and names the first day something is short', () => {
    const projected = project({ ...outlook, weekly: [0, 140], keep: 10, until: 114 });
    expect(projected.freeByDay.slice(6)).toEqual([50, 50, 30, 10, -10, -30, -50, -70, -90]);
    expect(projected).toMatchObject({ runsOutOn: 110, shortOn: 110, wanted: 100 });
  });

  it('loses what is not used before it expires, the first to expire used first', () => {
    const expiring = [
      { day: 101, quantity: 30 },
      { day: 103, quantity: 20 },
    ];
    // 7 a day: 7 of the 30 are used by day 101 and 23 lost; of the next 20, 14 by day 103 and 6 lost
    expect(project({ ...outlook, weekly: [49], expiring })).toMatchObject({
      freeByDay: [50, 43, 13, 6, -7],
      lost: 29,
      runsOutOn: 104,
      shortOn: 104,
    });
    // all of what is planned comes out of what expires first
    const needs = [{ day: 100, quantity: 30 }];
    expect(project({ ...outlook, needs, expiring: expiring.slice(0, 1) })).toMatchObject({ lost: 0, runsOutOn: null });
    // what expired before today is lost today
    expect(project({ ...outlook, expiring: [{ day: 99, quantity: 50 }] }).freeByDay).toEqual([0, 0, 0, 0, 0]);
  });

  it('runs out where it is not enough from the start, unless what comes makes it so before anything is used', () => {
    expect(project({ ...outlook, keep: 51 })).toMatchObject({ runsOutOn: 100, shortOn: null, wanted: 1 });
    expect(project({ ...outlook, keep: 50 })).toMatchObject({ runsOutOn: null, wanted: 0 });
    const coming = [{ day: 102, quantity: 20 }];
    expect(project({ ...outlook, keep: 60, coming })).toMatchObject({ runsOutOn: null, wanted: 0 });
  });

  it('is not short where just all of it is used', () => {
    expect(project({ ...outlook, needs: [{ day: 102, quantity: 50 }] })).toMatchObject({
      freeByDay: [50, 50, 0, 0, 0],
      runsOutOn: null,
      shortOn: null,
    });
  });
});
