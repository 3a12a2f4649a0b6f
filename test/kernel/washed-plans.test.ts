import { describe, expect, it } from 'vitest';
import { buildModel } from '../../src/kernel/plan/model.js';
import { whatGivesWay } from '../../src/kernel/plan/giving-way.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot, SnapshotFormula, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { moreWashing, washedInAll, washedInTurn } from '../../src/kernel/plan/washed.js';
import { Washing } from '../../src/kernel/plan/washing.js';
import { dayOf } from '../../src/kernel/measure/day.js';
import { faultsOf } from '../support/plan-checker.js';
import { wash, washingBy } from '../support/washing.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const HEAVY_FIRST = [wash('heavy', 'light', 45), wash('light', 'heavy', 10)];
const SCENTS = { MINT: 'light', FERN: 'light', SMOKE: 'heavy', EMBER: 'heavy', MIX: null, A: null, B: null };
const washing = (...rows: typeof HEAVY_FIRST) => new Washing(washingBy(rows, SCENTS));

describe('what stands in a vessel one after the other', () => {
  it('is washed for after what was emptied last', () => {
    const until = (of: string, day: number) => ({ item: of, emptiedOn: `2027-01-${day}` });
    const washed = (held: string | null, ...stays: { item: string; emptiedOn: string }[]) =>
      washedInTurn(washing(...HEAVY_FIRST), { code: 'P', kind: 'pot' }, held, stays).map(({ minutes }) => minutes);
    expect(washed('SMOKE', until('MINT', 14), until('FERN', 15), until('EMBER', 16), until('MINT', 17))).toEqual([
      45, 0, 10, 45,
    ]);
    expect(washed(null, until('MINT', 14))).toEqual([0]);
    // SMOKE lay over MINT, as it happened, and was emptied after it
    expect(washed(null, until('SMOKE', 19), until('MINT', 16), until('FERN', 20))).toEqual([0, 45, 45]);
  });
});

describe('a week in which a light spray is poured after a heavy one', () => {
  it('has the minutes on the day of the pour, and says after what', () => {
    const shop = twoSprays();
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    const { SMOKE, MINT } = Object.fromEntries(answer.batches.map((batch) => [batch.item, batch]));
    expect(SMOKE!.wash).toBeUndefined();
    expect(SMOKE!.minutes).toBe(60);
    expect(MINT).toMatchObject({ minutes: 105, wash: { minutes: 45, after: 'SMOKE' } });
    expect(answer.days.find(({ day }) => day === MINT!.day)!.minutesUsed).toBe(105);
    const dayOrNull = (day: string | null) => (day === null ? null : dayOf(day));
    const poured = answer.batches.map(({ key, item: of, vessel, day, emptiedOn }) => ({
      key,
      item: of,
      vessel,
      day: dayOrNull(day),
      emptied: dayOrNull(emptiedOn),
    }));
    expect(moreWashing(washedInAll(buildModel(shop), poured))).toBe(45);
  });

  it('counts what stands there now, and what stood there last', () => {
    const shop = twoSprays();
    shop.lines = shop.lines.filter(({ item: of }) => of === 'MINT');
    const washOf = (other: Snapshot) => {
      const answer = plan(other);
      expect(faultsOf(other, answer)).toEqual([]);
      return answer.batches.find(({ item: of }) => of === 'MINT')!.wash;
    };
    expect(washOf(shop)).toBeUndefined();
    const held = { ...shop, washing: { ...shop.washing!, held: [{ vessel: 'POT', item: 'SMOKE' }] } };
    expect(washOf(held)).toEqual({ minutes: 45, after: 'SMOKE' });
    // what stands there since: a light one
    expect(washOf({ ...held, making: [inMaking({ item: 'FERN' })] })).toBeUndefined();
    expect(washOf({ ...shop, making: [inMaking({ item: 'EMBER' })] })).toEqual({ minutes: 45, after: 'EMBER' });
  });

  it('counts a row for one vessel before that for its kind', () => {
    const shop = twoSprays();
    shop.washing!.rows.push(wash('heavy', 'light', 20, 'POT'), wash('heavy', 'light', 70, 'pot'));
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.batches.find(({ item: of }) => of === 'MINT')!.wash).toEqual({ minutes: 20, after: 'SMOKE' });
  });

  it('tells of a batch in the making that the plan makes need more, and counts that on its day', () => {
    const shop = twoSprays();
    shop.lines = shop.lines.filter(({ item: of }) => of === 'SMOKE');
    shop.making = [inMaking({ item: 'FERN', day: '2027-01-07', readyOn: '2027-01-07', emptiedOn: '2027-01-07' })];
    shop.washing!.making = [{ code: 'B1', minutes: 5 }];
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.rewashed).toEqual([{ batch: 'B1', day: '2027-01-07', minutes: 45, more: 40, after: 'SMOKE' }]);
    expect(answer.days.find(({ day }) => day === '2027-01-07')!.minutesUsed).toBe(80);
  });

  it('says how many more minutes a day would need for washing, so that a line is in time', () => {
    const shop = twoSprays();
    shop.workshop.benchMinutes = [70, 70, 70, 70, 70, 0, 0];
    shop.lines = shop.lines.filter(({ item: of }) => of === 'SMOKE');
    const on = '2027-01-07';
    shop.making = [inMaking({ item: 'FERN', day: on, readyOn: on, emptiedOn: on, minutes: 60 })];
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    // before the light one there are 45 minutes too few on its day
    expect(answer.lines).toMatchObject([{ readyOn: '2027-01-08', because: 'washing' }]);
    const { help } = whatGivesWay(shop, 'A', plan)!;
    expect(help).toMatchObject([{ hours: [{ day: on, minutes: 35 }], standing: { lateDays: 0 } }, { vessel: {} }]);
  });

  it('makes a batch no larger than leaves its day the minutes to wash', () => {
    const shop = twoSprays();
    // a minute each, of 480: 435 after the worst that may have stood there
    shop.items.find(({ code }) => code === 'MINT')!.kind = 'product';
    shop.items.find(({ code }) => code === 'MINT')!.measure = 'counted';
    Object.assign(ofItem(shop, 'MINT'), {
      lines: [line(1, 'BASE', 'each', 1_000)],
      minutesBatch: 0,
      secondsUnit: 60,
    });
    shop.lines.find(({ item: of }) => of === 'MINT')!.quantity = 600;
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(Math.max(...answer.batches.filter(({ item: of }) => of === 'MINT').map(({ output }) => output))).toBe(435);
    const unsaid = { ...shop, washing: undefined };
    expect(Math.max(...plan(unsaid).batches.map(({ minutes }) => minutes))).toBe(480);
  });

  it('costs and changes nothing where nothing is said, or nothing is to be washed', () => {
    const { washing: _said, ...shop } = twoSprays();
    const answer = plan(shop);
    expect(JSON.stringify(answer)).not.toMatch(/wash/);
    expect(plan({ ...shop, washing: washingBy([wash('citrus', 'light', 60)], SCENTS) })).toEqual(answer);
    expect(plan({ ...shop, washing: washingBy([], SCENTS) })).toEqual(answer);
  });

  it('is the same for the same rows in any order', () => {
    const shop = twoSprays();
    shop.washing!.rows.push(wash('', '', 12), wash('heavy', '', 13, 'pot'));
    const turned = { ...shop, washing: { ...shop.washing! } };
    turned.washing.rows = shop.washing!.rows.toReversed();
    turned.washing.items = shop.washing!.items.toReversed();
    expect(JSON.stringify(plan(turned))).toBe(JSON.stringify(plan(shop)));
  });
});

const ofItem = (shop: Snapshot, of: string): SnapshotFormula => shop.formulas.find((row) => row.item === of)!;

const inMaking = (rest: Partial<SnapshotMaking>): SnapshotMaking => ({
  code: 'B1',
  item: 'FERN',
  free: 0,
  day: '2027-01-04',
  readyOn: '2027-01-04',
  emptiedOn: '2027-01-04',
  vessel: 'POT',
  minutes: 40,
  expiresOn: null,
  ...rest,
});

/** A heavy spray to go on Wednesday and a light one on Friday, of an hour each and one pot. */
function twoSprays(): Snapshot {
  const bulks = ['MINT', 'FERN', 'SMOKE', 'EMBER'];
  return emptyWorkshop({
    items: [item('BASE', { stocked: false }), ...bulks.map((code) => item(code, { kind: 'bulk' }))],
    formulas: bulks.map((code) =>
      formula(code, [line(1, 'BASE', 'part', 1_000_000_000)], { vesselKind: 'pot', minutesBatch: 60 }),
    ),
    vessels: [{ code: 'POT', kind: 'pot', capacityMg: 10_000_000 }],
    lines: [
      // on the first day, so that nothing light can be poured before it
      { key: 'A', item: 'SMOKE', quantity: 1_000_000, shipBy: '2027-01-04', notBefore: null },
      { key: 'B', item: 'MINT', quantity: 1_000_000, shipBy: '2027-01-08', notBefore: null },
    ],
    washing: washingBy(HEAVY_FIRST, SCENTS),
  });
}

describe('among plans that serve orders as well', () => {
  /** Each stands in the jug for the day it is poured. */
  const shop = (rows: typeof HEAVY_FIRST): Snapshot => {
    const of = ['MINT', 'SMOKE', 'FERN'];
    const shipped = ['2027-01-08', '2027-01-09', '2027-01-10'];
    const bench = emptyWorkshop({
      items: [item('WATER', { stocked: false }), ...of.map((code) => item(code, { kind: 'product' }))],
      formulas: of.map((code) =>
        formula(code, [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'pot', minutesBatch: 60 }),
      ),
      vessels: [{ code: 'P', kind: 'pot', capacityMg: 1_000_000 }],
      lines: of.map((code, n) => ({
        key: code,
        item: code,
        quantity: 500_000,
        shipBy: shipped[n]!,
        notBefore: null,
      })),
      washing: washingBy(rows, SCENTS),
    });
    bench.workshop.benchMinutes = [480, 480, 480, 480, 480, 480, 480];
    bench.workshop.slackDays = 0;
    return bench;
  };
  const inTurn = (of: Snapshot) => {
    const { batches, lines } = plan(of);
    expect(faultsOf(of, plan(of))).toEqual([]);
    expect(lines.filter(({ lateDays }) => lateDays > 0)).toEqual([]);
    return batches.map((batch) => [batch.item, batch.wash?.minutes ?? 0]);
  };

  it('the one that washes least is made', () => {
    // as they are due, the pot would be washed for 10 minutes before SMOKE, and for 45 before FERN
    expect(inTurn(shop([]))).toEqual([
      ['MINT', 0],
      ['SMOKE', 0],
      ['FERN', 0],
    ]);
    expect(inTurn(shop(HEAVY_FIRST)).filter(([, minutes]) => minutes !== 0)).toEqual([['SMOKE', 10]]);
  });

  it('nobody is late for less washing', () => {
    const busy = shop(HEAVY_FIRST);
    // with one day for each, SMOKE has to come between
    busy.workshop.closedDays = ['2027-01-04', '2027-01-05', '2027-01-06', '2027-01-07'];
    expect(inTurn(busy)).toEqual([
      ['MINT', 0],
      ['SMOKE', 10],
      ['FERN', 45],
    ]);
  });
});
