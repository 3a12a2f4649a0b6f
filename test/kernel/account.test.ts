import { describe, expect, it } from 'vitest';
import type { Account } from '../../src/kernel/trace/account.js';
import { cameIn, reconcile } from '../../src/kernel/trace/account.js';

const NOTHING: Account = {
  received: 0,
  made: 0,
  returned: 0,
  splitFrom: 0,
  found: 0,
  onShelf: 0,
  usedInBatches: 0,
  usedElsewhere: 0,
  shipped: 0,
  sampled: 0,
  scrapped: 0,
  sentToSupplier: 0,
  splitOff: 0,
  lost: 0,
};
const UNSEEN = { isCounted: false, confirmed: 0, missing: 0, surplus: 0 };

describe('what is reconciled', () => {
  it('is not what only the book says', () => {
    const account = { ...NOTHING, made: 100, onShelf: 40, shipped: 60 };
    expect(reconcile(account, UNSEEN)).toEqual({ bookDifference: 0, unconfirmed: 100, unexplained: 0, ppb: 0 });
  });

  it('is what was counted, and what recipients account for', () => {
    const account = { ...NOTHING, made: 100, onShelf: 40, shipped: 55, sampled: 5 };
    expect(reconcile(account, { ...UNSEEN, isCounted: true })).toMatchObject({ unconfirmed: 55, ppb: 450_000_000 });
    expect(reconcile(account, { ...UNSEEN, isCounted: true, confirmed: 55 })).toMatchObject({
      unconfirmed: 0,
      ppb: 1e9,
    });
  });

  it('never hides what a count found to differ, more or less', () => {
    const lost = { ...NOTHING, made: 100, onShelf: 90, lost: 10 };
    expect(reconcile(lost, { ...UNSEEN, isCounted: true })).toMatchObject({ unexplained: -10, ppb: 900_000_000 });
    const found = { ...NOTHING, made: 100, onShelf: 110, found: 10 };
    expect(reconcile(found, { ...UNSEEN, isCounted: true })).toMatchObject({ unexplained: 10, ppb: 900_000_000 });
    const both = { ...NOTHING, made: 100, onShelf: 100, found: 10, lost: 10 };
    expect(reconcile(both, { ...UNSEEN, isCounted: true })).toMatchObject({ unexplained: 0, ppb: 1e9 });
  });

  it('nor what a recipient says never came, or came beyond', () => {
    const account = { ...NOTHING, made: 100, shipped: 100 };
    const evidence = { isCounted: true, confirmed: 90, missing: 6, surplus: 2 };
    expect(reconcile(account, evidence)).toEqual({
      bookDifference: 0,
      unconfirmed: 4,
      unexplained: -4,
      ppb: 880_000_000,
    });
  });

  it('nor a ledger that does not add up', () => {
    const account = { ...NOTHING, received: 100, onShelf: 99 };
    expect(reconcile(account, { ...UNSEEN, isCounted: true })).toMatchObject({ bookDifference: 1, ppb: 990_000_000 });
  });

  it('is what came in beside what is there and what went, whichever way', () => {
    const into = { received: 1, made: 20, returned: 300, splitFrom: 4_000 };
    expect(cameIn({ ...NOTHING, ...into, found: 50_000 })).toBe(4_321);
    const there = { ...NOTHING, received: 1_000, onShelf: 1_000 };
    const difference = (rest: Partial<Account>) => reconcile({ ...there, ...rest }, UNSEEN).bookDifference;
    for (const way of ['made', 'returned', 'splitFrom', 'found'] as const) expect(difference({ [way]: 7 })).toBe(7);
    const ways = ['usedInBatches', 'usedElsewhere', 'shipped', 'sampled', 'scrapped', 'sentToSupplier'] as const;
    for (const way of [...ways, 'splitOff', 'lost'] as const)
      expect([way, difference({ [way]: 7 })]).toEqual([way, -7]);
  });

  it('is rounded down, of whichever is more: what came in or what is open', () => {
    const third = { ...NOTHING, received: 3, onShelf: 2, shipped: 1 };
    expect(reconcile(third, { ...UNSEEN, isCounted: true }).ppb).toBe(666_666_666);
    // more is answered than was shipped
    expect(reconcile(third, { ...UNSEEN, confirmed: 5 })).toMatchObject({ unconfirmed: 2, ppb: 333_333_333 });
    const surplus = { isCounted: true, confirmed: 1, missing: 0, surplus: 9 };
    expect(reconcile(third, surplus)).toEqual({ bookDifference: 0, unconfirmed: 0, unexplained: 9, ppb: 0 });
  });

  it('is all of nothing, and never less than nothing', () => {
    expect(reconcile(NOTHING, UNSEEN).ppb).toBe(1_000_000_000);
    expect(reconcile({ ...NOTHING, onShelf: 50, found: 50 }, UNSEEN).ppb).toBe(0);
  });
});
