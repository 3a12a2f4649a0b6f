import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { drawOnShelf } from '../../src/kernel/plan/shelf.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { endingLots, wasteOf } from '../../src/kernel/plan/waste.js';
import { counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** A box of one cap each; the last order is for day 20, and all is made on one day. */
function left(rest: Partial<Snapshot>, madeOn: number) {
  const { model, netted } = netOf(
    openShop({
      items: [counted('CAP'), product('BOX')],
      formulas: [formula('BOX', [line(1, 'CAP', 'each', 1)])],
      lines: [ordered('o', 'BOX', 4, 20)],
      ...rest,
    }),
  );
  const at = dayOf(day(madeOn));
  const shelf = drawOnShelf(netted, () => ({ day: at, ready: at }));
  const planned = { netted, shelf, placed: new Map() };
  return {
    lots: endingLots(model, planned).map((one) => `${one.row.code} ${one.left}`),
    worth: wasteOf(model, planned),
  };
}
/** Ten of twelve are free, worth 100 together with the two that are not. */
const ending = { ...lot('A', 'CAP', 10, 5), onHand: 12, valueE4: 100 };
const lots = [ending, lot('B', 'CAP', 99)];

describe('what ends unused', () => {
  it('is what no batch takes before its last day, worth its part of all there is, rounded up', () => {
    expect(left({ lots }, 3)).toEqual({ lots: ['A 6'], worth: 50 });
    // 83.3
    expect(left({ lots }, 9)).toEqual({ lots: ['A 10'], worth: 84 });
  });

  it('is nothing where all of it is taken', () => {
    expect(left({ lots, lines: [ordered('o', 'BOX', 10, 20)] }, 3)).toEqual({ lots: [], worth: 0 });
    expect(left({ lots, lines: [ordered('o', 'BOX', 9, 20)] }, 3)).toEqual({ lots: ['A 1'], worth: 9 });
  });

  it('is not used by a batch that lacks something', () => {
    expect(left({ lots: [ending], lines: [ordered('o', 'BOX', 11, 20)] }, 3)).toEqual({ lots: ['A 10'], worth: 84 });
  });

  it('is used by what is sold as it is, made or bought', () => {
    const made = { ...lot('M', 'BOX', 5, 8), valueE4: 50 };
    const lines = [ordered('o', 'BOX', 2, 8), ordered('p', 'CAP', 3, 4), ordered('q', 'BOX', 1, 20)];
    expect(left({ lots: [...lots, made], lines }, 3)).toEqual({ lots: ['A 6', 'M 3'], worth: 80 });
  });

  it('is of lots only, whatever else is called the same', () => {
    const deliveries = [{ key: 'A', item: 'CAP', free: 9, day: day(6), expiresOn: day(7) }];
    expect(left({ lots, deliveries }, 7)).toEqual({ lots: ['A 10'], worth: 84 });
  });
});

it('ends before the last order is to go, from the first day of the plan on', () => {
  const rows = [-1, 0, 19, 20, 21].map((n) => lot(`L${n}`, 'CAP', 1, n));
  const shop = openShop({
    items: [counted('CAP')],
    lots: [...rows, lot('KEEPS', 'CAP', 1), lot('NONE', 'CAP', 0, 5)],
    lines: [ordered('o', 'CAP', 4, 20), ordered('p', 'CAP', 4, 3)],
  });
  expect(buildModel(shop).ending.map(({ row }) => row.code)).toEqual(['L0', 'L19']);
  // the week itself counts, where nothing is ordered beyond it
  expect(buildModel({ ...shop, lines: [], lots: [5, 6].map((n) => lot(`L${n}`, 'CAP', 1, n)) }).ending).toEqual([
    { row: lot('L5', 'CAP', 1, 5), until: dayOf(day(5)) },
  ]);
});
