import { describe, expect, it } from 'vitest';
import { addDays, dayOf } from '../../src/kernel/measure/day.js';
import { atRisk, type PlannedUse } from '../../src/kernel/plan/at-risk.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { Snapshot, SnapshotLot } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const TODAY = '2027-01-04';
const inDays = (days: number): string => addDays(TODAY, days);
const lot = (code: string, free: number, days: number | null, rest: Partial<SnapshotLot> = {}): SnapshotLot => ({
  code,
  item: 'OIL',
  free,
  onHand: free,
  valueE4: 0,
  expiresOn: days === null ? null : inDays(days),
  ...rest,
});
const uses = (quantity: number, days: number, from: string | null = null): PlannedUse => ({
  item: 'OIL',
  day: dayOf(inDays(days)),
  quantity,
  lot: from,
});
const per28 = (amount: number) => [{ item: 'OIL', per28Days: amount }];

function risks(shop: Partial<Snapshot>, planned: PlannedUse[] = []) {
  const model = buildModel(emptyWorkshop({ items: [item('OIL'), item('WAX')], ...shop }));
  return atRisk(model, planned);
}
const left = (shop: Partial<Snapshot>, planned: PlannedUse[] = []) =>
  risks(shop, planned).map((row) => [row.lot, row.left]);

describe('which lots are looked at', () => {
  it('are those that expire within ninety days, by their day, then code', () => {
    const lots = [lot('D', 1, 90), lot('C', 1, 91), lot('B', 1, 5), lot('A', 1, 5), lot('K', 1, null)];
    expect(left({ lots, use: per28(0) })).toEqual([
      ['A', 1],
      ['B', 1],
      ['D', 1],
    ]);
  });

  it('are left out where the plan takes all of them', () => {
    const lots = [lot('A', 10, 5), lot('B', 10, 5)];
    expect(left({ lots, use: per28(0) }, [uses(10, 1, 'A'), uses(4, 1, 'B'), uses(5, 2, 'B')])).toEqual([['B', 1]]);
    expect(left({ lots: [lot('A', 10, 5)] }, [uses(10, 1, 'A')])).toEqual([]);
  });
});

describe('what will be left of a lot', () => {
  it('is unknown without history, and has no worth then', () => {
    expect(risks({ lots: [lot('A', 10, 5, { valueE4: 900 })] }, [uses(3, 1, 'A')])).toEqual([
      { lot: 'A', item: 'OIL', expiresOn: inDays(5), left: null, freeAfterPlan: 7, valueE4: null, usableIn: [] },
    ]);
  });

  it('is what past use until its last day does not take, that day and today included', () => {
    // 28 a month is one a day: days 0 to 5 are six
    expect(left({ lots: [lot('A', 10, 5)], use: per28(28) })).toEqual([['A', 4]]);
    expect(left({ lots: [lot('A', 6, 5)], use: per28(28) })).toEqual([]);
    // 27 a month for six days is 5.8: only whole units are used
    expect(left({ lots: [lot('A', 6, 5)], use: per28(27) })).toEqual([['A', 1]]);
    expect(left({ lots: [lot('A', 10, 0)], use: per28(28) })).toEqual([['A', 9]]);
  });

  it('is all of it once it has expired, whatever the history', () => {
    expect(left({ lots: [lot('A', 10, -1), lot('B', 4, -1)], use: per28(280) })).toEqual([
      ['A', 10],
      ['B', 4],
    ]);
    expect(left({ lots: [lot('A', 10, -1)] })).toEqual([['A', 10]]);
  });

  it('counts what the plan takes on or before that day as part of the use', () => {
    const shop = { lots: [lot('A', 10, 5), lot('B', 50, null)], use: per28(28) };
    // of six the plan takes four from elsewhere: two more come from here
    expect(left(shop, [uses(4, 3, 'B')])).toEqual([['A', 8]]);
    expect(left(shop, [uses(4, 5, 'B')])).toEqual([['A', 8]]);
    expect(left(shop, [uses(4, 6, 'B')])).toEqual([['A', 4]]);
    // a delivery's use counts too, and one larger than usual takes nothing more
    expect(left(shop, [uses(3, 1), uses(1, 2)])).toEqual([['A', 8]]);
    expect(left(shop, [uses(9, 1)])).toEqual([['A', 10]]);
  });

  it('lets what expires first be used first, and each use count once', () => {
    const lots = [lot('A', 4, 5), lot('B', 10, 9)];
    // six until day 5: four of A; ten until day 9, of which A had four: six of B
    expect(left({ lots, use: per28(28) })).toEqual([['B', 4]]);
    expect(left({ lots: [lot('A', 9, 5), lot('B', 10, 9)], use: per28(28) })).toEqual([
      ['A', 3],
      ['B', 6],
    ]);
    const wax = lot('W', 10, 9, { item: 'WAX' });
    const use = [...per28(28), { item: 'WAX', per28Days: 28 }];
    expect(left({ lots: [lots[1]!, wax], use })).toEqual([]);
  });

  it('is exact where use times days passes 2^53', () => {
    const most = Number.MAX_SAFE_INTEGER;
    expect(left({ lots: [lot('A', most, 90)], use: per28(2_771_445_924_535_000) })).toEqual([
      ['A', most - Number((2_771_445_924_535_000n * 91n) / 28n)],
    ]);
    expect(() => left({ lots: [lot('A', most, 90)], use: per28(most) })).toThrow(RangeError);
  });
});

it('says what is left in worth, rounded down, and who could use it', () => {
  const formulas = ['BLK-B', 'BLK-A', 'BLK-C'].map((code) =>
    formula(code, [
      line(1, 'WAX', 'part', 900_000_000),
      line(2, code === 'BLK-C' ? 'WAX' : 'OIL', 'part', 100_000_000),
    ]),
  );
  const items = [item('OIL'), item('WAX'), ...formulas.map((row) => item(row.item, { kind: 'bulk' }))];
  const lots = [lot('A', 10, 5, { onHand: 30, valueE4: 100 })];
  expect(risks({ items, formulas, lots, use: per28(0) })).toEqual([
    {
      lot: 'A',
      item: 'OIL',
      expiresOn: inDays(5),
      left: 10,
      freeAfterPlan: 10,
      valueE4: 33,
      usableIn: ['BLK-A', 'BLK-B'],
    },
  ]);
});
