import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type SizedBatch,
  sizeBatches,
  WINDOW_DAYS,
  type SizingLimits,
  type SizingNeed,
} from '../../src/kernel/plan/lot-sizing.js';

const KEEPS = Number.POSITIVE_INFINITY;
const need = (quantity: number, latest: number, rest: Partial<SizingNeed> = {}): SizingNeed => ({
  quantity,
  latest,
  tier: 0,
  keptUntil: 0,
  whole: false,
  ...rest,
});
const stock = (quantity: number, latest: number): SizingNeed => need(quantity, latest, { tier: 1 });
const whole = (quantity: number, latest: number): SizingNeed => need(quantity, latest, { whole: true });
const size = (needs: SizingNeed[], limits: Partial<SizingLimits> = {}) =>
  sizeBatches(needs, { min: 1, max: 100, multiple: 1, start: 0, keepsDays: KEEPS, windowDays: WINDOW_DAYS, ...limits });

/** "60 by 10 of tier 0: #0 40, #1 20 left over" */
const told = ({ output, latest, tier, shares }: SizedBatch): string =>
  `${output} by ${latest} of tier ${tier}: ${shares.map((s) => `#${s.need} ${s.quantity}${s.leftover ? ' left over' : ''}`).join(', ')}`;

describe('which needs share a batch', () => {
  it('is those due within seven days of the first', () => {
    expect(size([need(10, 20), need(5, 26), need(7, 27), need(1, 33), need(2, 34)]).map(told)).toEqual([
      '15 by 20 of tier 0: #0 10, #1 5',
      '8 by 27 of tier 0: #2 7, #3 1',
      '2 by 34 of tier 0: #4 2',
    ]);
  });

  it('counts what should have been started before today as due today', () => {
    expect(size([need(10, -9), need(5, 6), need(3, 7)]).map(told)).toEqual([
      '15 by -9 of tier 0: #0 10, #1 5',
      '3 by 7 of tier 0: #2 3',
    ]);
  });

  it('lets stock fill up a batch for customers without making it earlier', () => {
    expect(size([need(10, 12), stock(5, 8)]).map(told)).toEqual(['15 by 12 of tier 0: #0 10, #1 5']);
    expect(size([need(10, 12), stock(5, 14)]).map(told)).toEqual(['15 by 12 of tier 0: #0 10, #1 5']);
    // but stock of its own has its own day, and the earliest of several holds
    expect(size([stock(10, 12), stock(5, 8)]).map(told)).toEqual(['15 by 8 of tier 1: #0 10, #1 5']);
  });

  it('puts the batches in the order of their windows', () => {
    expect(size([need(1, 10), need(1, 40), stock(1, 25)]).map(({ latest }) => latest)).toEqual([10, 40, 25]);
  });
});

describe('how large a batch is', () => {
  it('is a multiple of the step, no smaller than the least', () => {
    const limits = { min: 30, multiple: 20 };
    expect(size([need(5, 0)], limits).map(told)).toEqual(['40 by 0 of tier 0: #0 5']);
    expect(size([need(45, 0)], limits).map(told)).toEqual(['60 by 0 of tier 0: #0 45']);
    expect(size([need(60, 0)], limits).map(told)).toEqual(['60 by 0 of tier 0: #0 60']);
  });

  it('is no larger than the most that is a multiple', () => {
    expect(size([need(250, 0)]).map(told)).toEqual([
      '100 by 0 of tier 0: #0 100',
      '100 by 0 of tier 0: #0 100',
      '50 by 0 of tier 0: #0 50',
    ]);
    expect(size([need(85, 0)], { max: 95, multiple: 20 }).map(told)).toEqual([
      '80 by 0 of tier 0: #0 80',
      '20 by 0 of tier 0: #0 5',
    ]);
    // the least gives way to the most, and the step to nothing
    expect(size([need(5, 0)], { min: 90, max: 80 }).map(told)).toEqual(['80 by 0 of tier 0: #0 5']);
    expect(size([need(5, 0)], { min: 1, max: 10, multiple: 20 }).map(told)).toEqual(['20 by 0 of tier 0: #0 5']);
  });

  it('splits what may be split, and gives a filling a batch of its own rather than two halves', () => {
    expect(size([need(60, 0), need(60, 1)]).map(told)).toEqual([
      '100 by 0 of tier 0: #0 60, #1 40',
      '20 by 1 of tier 0: #1 20',
    ]);
    expect(size([whole(60, 0), whole(60, 1), whole(40, 2)]).map(told)).toEqual([
      '100 by 0 of tier 0: #0 60, #2 40',
      '60 by 1 of tier 0: #1 60',
    ]);
    // more than any batch holds fills whole batches first
    expect(size([whole(150, 0)]).map(told)).toEqual(['100 by 0 of tier 0: #0 100', '50 by 0 of tier 0: #0 50']);
  });
});

describe('what a rounded-up batch leaves over', () => {
  it('serves later weeks before a new batch is opened', () => {
    expect(size([need(30, 0), need(50, 20), need(40, 21)], { min: 100 }).map(told)).toEqual([
      '100 by 0 of tier 0: #0 30, #1 50 left over, #2 20 left over',
      '100 by 21 of tier 0: #2 20',
    ]);
  });

  it('is used up to the last of it and no further', () => {
    expect(size([need(30, 0), need(70, 20), need(10, 21)], { min: 100 }).map(told)).toEqual([
      '100 by 0 of tier 0: #0 30, #1 70 left over',
      '100 by 21 of tier 0: #2 10',
    ]);
  });

  it('does not mix a filling from two pours', () => {
    expect(size([need(80, 0), whole(40, 20)], { min: 100 }).map(told)).toEqual([
      '100 by 0 of tier 0: #0 80',
      '100 by 20 of tier 0: #1 40',
    ]);
    expect(size([need(80, 0), whole(20, 20)], { min: 100 }).map(told)).toEqual([
      '100 by 0 of tier 0: #0 80, #1 20 left over',
    ]);
  });

  it('is used only while it keeps', () => {
    const limits = { min: 100, keepsDays: 30 };
    expect(size([need(10, 0), need(10, 30)], limits)).toHaveLength(1);
    expect(size([need(10, 0), need(10, 31)], limits)).toHaveLength(2);
  });

  it('goes to the same week as its own, not as a remainder', () => {
    expect(size([need(30, 0), need(50, 6)], { min: 100 }).map(told)).toEqual(['100 by 0 of tier 0: #0 30, #1 50']);
  });
});

it('gives every need all of it, within the limits, and a filling that fits one batch one batch', () => {
  const needs = fc
    .array(
      fc.record({
        quantity: fc.integer({ min: 1, max: 400 }),
        latest: fc.integer({ min: -10, max: 60 }),
        tier: fc.constantFrom<0 | 1>(0, 1),
        keptFor: fc.integer({ min: 0, max: 20 }),
        whole: fc.boolean(),
      }),
      { minLength: 1, maxLength: 12 },
    )
    .map((list) =>
      list
        .map(({ keptFor, ...one }) => ({ ...one, keptUntil: Math.max(0, one.latest) + keptFor }))
        .sort((a, b) => a.tier - b.tier || a.latest - b.latest),
    );
  const limits = fc.record({
    min: fc.integer({ min: 1, max: 150 }),
    max: fc.integer({ min: 50, max: 300 }),
    multiple: fc.constantFrom(1, 7, 50),
    start: fc.constant(0),
    keepsDays: fc.constantFrom(KEEPS, 20),
    windowDays: fc.constantFrom(WINDOW_DAYS, 0, 28),
  });
  fc.assert(
    fc.property(needs, limits, (wanted, within) => {
      const batches = sizeBatches(wanted, within);
      const most = Math.floor(within.max / within.multiple) * within.multiple;
      for (const batch of batches) {
        expect(batch.output % within.multiple).toBe(0);
        expect(batch.output).toBeLessThanOrEqual(most);
        expect(batch.output).toBeGreaterThanOrEqual(Math.min(within.min, most));
        expect(batch.shares.reduce((sum, { quantity }) => sum + quantity, 0)).toBeLessThanOrEqual(batch.output);
        for (const share of batch.shares)
          expect(Math.max(0, batch.latest) + within.keepsDays).toBeGreaterThanOrEqual(wanted[share.need]!.keptUntil);
        const own = batch.shares.filter((share) => !share.leftover).map((share) => wanted[share.need]!);
        expect(batch.tier).toBe(Math.min(...own.map(({ tier }) => tier)));
        expect(batch.latest).toBe(Math.min(...own.filter(({ tier }) => tier === batch.tier).map((one) => one.latest)));
      }
      for (const [index, one] of wanted.entries()) {
        const shares = batches.flatMap((batch) => batch.shares.filter((share) => share.need === index));
        expect(shares.reduce((sum, { quantity }) => sum + quantity, 0)).toBe(one.quantity);
        if (one.whole && one.quantity <= most) expect(shares).toHaveLength(1);
      }
    }),
  );
});
