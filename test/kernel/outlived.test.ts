import { describe, expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { faultsOf } from '../support/plan-checker.js';
import { formula, item, line } from '../support/workshop.js';

/*
 * A spray rests ten days, and customers are owed five days of life: made today it goes on day 10, five days after it
 * should, and must be good until day 15 then. What was good enough for day 5 may be over.
 */
const spray = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [product('SPRAY', { owedLifeDays: 5 }), item('OIL')],
    formulas: [formula('SPRAY', [line(1, 'OIL', 'each', 1)], { restDays: 10 })],
    lots: [lot('OIL-1', 'OIL', 99)],
    lines: [ordered('o', 'SPRAY', 4, 5)],
    ...rest,
  });

/** What the line takes, of an answer that an independent checker finds nothing wrong with. */
function taken(rest: Partial<Snapshot>): { ready: string | null; from: string[] } {
  const shop = spray(rest);
  const answer = plan(shop);
  expect(faultsOf(shop, answer)).toEqual([]);
  const [row] = answer.lines;
  return { ready: row!.readyOn, from: row!.taken.map(({ from, key, quantity }) => `${from} ${key} ${quantity}`) };
}

describe('a line that goes late', () => {
  const oil = lot('OIL-1', 'OIL', 99);
  const all = { ready: day(10), from: ['batch SPRAY/1 4'] };
  const half = (from: string) => ({ ready: day(10), from: [from, 'batch SPRAY/1 2'] });

  it('takes no lot that has less life left by then than is owed', () => {
    const of = (expires: number | null) => taken({ lots: [oil, lot('S', 'SPRAY', 2, expires)] });
    expect(of(14)).toEqual(all);
    expect(of(15)).toEqual(half('lot S 2'));
    expect(of(null)).toEqual(half('lot S 2'));
  });

  it('nor what was delivered meanwhile', () => {
    const of = (expires: number) =>
      taken({ deliveries: [{ key: 'D', item: 'SPRAY', free: 2, day: day(2), expiresOn: day(expires) }] });
    expect(of(14)).toEqual(all);
    expect(of(15)).toEqual(half('delivery D 2'));
  });

  it('nor what is in the making', () => {
    const made = { code: 'M', item: 'SPRAY', free: 2, day: day(-3), vessel: null, minutes: 0 };
    const of = (expires: number) =>
      taken({ making: [{ ...made, readyOn: day(2), emptiedOn: day(2), expiresOn: day(expires) }] });
    expect(of(14)).toEqual(all);
    expect(of(15)).toEqual(half('making M 2'));
  });

  it('but in time it takes what is just good enough', () => {
    const lots = [oil, lot('S', 'SPRAY', 2, 25)];
    expect(taken({ lots, lines: [ordered('o', 'SPRAY', 4, 20)] })).toEqual({
      ready: day(20),
      from: ['lot S 2', 'batch SPRAY/1 2'],
    });
  });

  it('is not made of a batch that is over when the other is ready', () => {
    // the bench is taken on the first two days and closed on three, so that of two batches only one is ready by its day
    const full = [0, 1].map((n) => ({ code: `M-${n}`, day: day(n), readyOn: day(n), emptiedOn: day(n) }));
    const about = { item: 'SOAP', free: 0, vessel: null, minutes: 480, expiresOn: null };
    const shop = openShop(
      {
        items: [product('SOAP', { shelfLifeDays: 2 }), item('OIL')],
        formulas: [formula('SOAP', [line(1, 'OIL', 'each', 1)], { minutesBatch: 480, batchMax: 4 })],
        lots: [oil],
        making: full.map((row) => ({ ...row, ...about })),
        lines: [ordered('o', 'SOAP', 8, 2)],
      },
      { closedDays: [3, 4, 5].map(day) },
    );
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.batches.map((batch) => [batch.day, batch.heldUpBy])).toEqual([
      [day(6), 'fresh'],
      [day(7), 'fresh'],
    ]);
    expect(answer.lines[0]!.readyOn).toBe(day(7));
  });
});
