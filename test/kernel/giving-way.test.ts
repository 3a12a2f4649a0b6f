import { expect, it } from 'vitest';
import { whatGivesWay } from '../../src/kernel/plan/giving-way.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, comes, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { faultsOf } from '../support/plan-checker.js';
import { patience, runs } from '../support/scale.js';
import { formula, line, randomWorkshop } from '../support/workshop.js';

/** Each plan asked for is held to be one that can be made. */
function checkedPlan(snapshot: Snapshot) {
  const proposal = plan(snapshot);
  expect(faultsOf(snapshot, proposal)).toEqual([]);
  return proposal;
}

const IN_TIME = { lateDays: 0, missing: 0 };

const ask = (shop: Snapshot, key: string) => whatGivesWay(shop, key, checkedPlan);

/** Soaps of a day's whole bench each, wrapped in one paper: one a day. */
const soaps = (rest: Partial<Snapshot>, minutesBatch = 480) =>
  openShop({
    items: [product('ROSE'), product('MINT'), counted('PAPER')],
    formulas: ['ROSE', 'MINT'].map((code) => formula(code, [line(1, 'PAPER', 'each', 1)], { minutesBatch })),
    ...rest,
  });

const PAPER = [lot('P', 'PAPER', 1_000)];

it('asks nothing of a line that is in time, nor of one nobody knows', () => {
  const shop = soaps({ lots: PAPER, lines: [ordered('A', 'ROSE', 5, 0)] });
  expect(ask(shop, 'A')).toBeUndefined();
  expect(ask(shop, 'B')).toBeUndefined();
});

it('names who is served worse where the line comes first, and the hours that spare both', () => {
  // both are to ship today, and each takes all of today
  const shop = soaps({ lots: PAPER, lines: [ordered('A', 'MINT', 5, 0), ordered('B', 'ROSE', 5, 0)] });
  const late = checkedPlan(shop).lines.find(({ lateDays }) => lateDays > 0)!.key;
  const other = late === 'A' ? 'B' : 'A';
  const answer = ask(shop, late);
  const inTime = { readyOn: day(0), lateDays: 0, missing: 0, because: null };
  const aDayLate = { readyOn: day(1), lateDays: 1, missing: 0, because: 'bench-full' };
  expect(answer).toEqual({
    now: aDayLate,
    first: inTime,
    worse: [{ key: other, item: other === 'A' ? 'MINT' : 'ROSE', shipBy: day(0), now: inTime, instead: aDayLate }],
    alone: inTime,
    help: [{ hours: [{ day: day(0), minutes: 480 }], standing: inTime }],
  });
});

it('tells the least hours that help, and only the days they are worked on', () => {
  // 300 and 220 minutes on a day of 480: 40 are missing, and an hour is the first that covers them
  const shop = soaps({ lots: PAPER, lines: [ordered('A', 'MINT', 5, 0), ordered('B', 'ROSE', 5, 0)] }, 300);
  shop.formulas[1]!.minutesBatch = 220;
  const late = checkedPlan(shop).lines.find(({ lateDays }) => lateDays > 0)!.key;
  const answer = ask(shop, late);
  expect(answer!.help).toMatchObject([{ hours: [{ day: day(0), minutes: 40 }], standing: IN_TIME }]);
});

it('counts what is in the making on a day that is worked longer', () => {
  const making = beingMade('MINT', 0, 0, { day: day(0), minutes: 470 });
  const shop = soaps({ lots: PAPER, making: [making], lines: [ordered('A', 'ROSE', 5, 0)] }, 40);
  expect(ask(shop, 'A')).toMatchObject({
    now: { lateDays: 1 },
    alone: { lateDays: 1, because: 'bench-full' },
    help: [{ hours: [{ day: day(0), minutes: 30 }], standing: IN_TIME }],
  });
});

/** A candle of 100 g wax melted in a pot that keeps it two days. */
const candles = (rest: Partial<Snapshot>) =>
  openShop({
    items: [product('CANDLE'), product('TEALIGHT'), bulk('MELT'), bulk('OTHER'), { ...bulk('WAX'), kind: 'material' }],
    formulas: [
      formula('CANDLE', [line(1, 'MELT', 'each', 100_000, 'fill')]),
      formula('TEALIGHT', [line(1, 'OTHER', 'each', 100_000, 'fill')]),
      formula('MELT', [line(1, 'WAX', 'part', 1_000_000_000)], { vesselKind: 'pot', restDays: 2 }),
      formula('OTHER', [line(1, 'WAX', 'part', 1_000_000_000)], { vesselKind: 'pot', restDays: 2 }),
    ],
    vessels: [
      { code: 'BIG', kind: 'pot', capacityMg: 5_000_000 },
      { code: 'JUG', kind: 'jug', capacityMg: 9_000_000 },
    ],
    lots: [lot('W', 'WAX', 50_000_000)],
    ...rest,
  });

it('asks for one more vessel, of the kind that what goes in is made in', () => {
  const shop = candles({ lines: [ordered('A', 'CANDLE', 10, 2), ordered('B', 'TEALIGHT', 10, 2)] });
  const late = checkedPlan(shop).lines.find(({ lateDays }) => lateDays > 0)!.key;
  const answer = ask(shop, late);
  expect(answer!.now.because).toBe('no-vessel');
  expect(answer!.help).toMatchObject([{ vessel: { kind: 'pot', capacityMg: 5_000_000 }, standing: IN_TIME }]);
});

it('asks for what is lacking even where nothing else is wanted, so much and no more', () => {
  const shop = candles({ lots: [lot('W', 'WAX', 400_000)], lines: [ordered('A', 'CANDLE', 10, 5)] });
  const answer = ask(shop, 'A');
  expect(answer).toMatchObject({ now: { because: 'short' }, alone: { because: 'short' } });
  expect(answer!.now.missing).toBeGreaterThan(0);
  expect(answer!.help).toMatchObject([{ materials: [{ item: 'WAX', quantity: 600_000 }], standing: IN_TIME }]);
});

it('asks for a delivery sooner, where the line would wait for it alone', () => {
  const shop = candles({
    lots: [],
    deliveries: [comes('D', 'WAX', 2_000_000, 4), comes('E', 'WAX', 2_000_000, 9)],
    lines: [ordered('A', 'CANDLE', 10, 3)],
  });
  const answer = ask(shop, 'A');
  expect(answer).toMatchObject({ now: { readyOn: day(6), lateDays: 3, because: 'delivery' }, worse: [] });
  expect(answer!.help).toMatchObject([{ deliveries: [{ key: 'D', day: day(4) }], standing: IN_TIME }]);
});

it('knows no help where it is the rest that takes too long', () => {
  const shop = candles({ lines: [ordered('A', 'CANDLE', 10, 1)] });
  expect(ask(shop, 'A')).toMatchObject({
    first: { lateDays: 1 },
    worse: [],
    alone: { readyOn: day(2), lateDays: 1, because: 'rest' },
    help: [],
  });
});

it('tells what covers a line although it cannot be in time', () => {
  const shop = candles({ lots: [lot('W', 'WAX', 400_000)], lines: [ordered('A', 'CANDLE', 10, 1)] });
  const answer = ask(shop, 'A');
  expect(answer).toMatchObject({ now: { missing: 10 }, alone: { missing: 10 } });
  expect(answer!.help).toEqual([
    {
      materials: [{ item: 'WAX', quantity: 600_000 }],
      standing: { readyOn: day(2), lateDays: 1, missing: 0, because: 'rest' },
    },
  ]);
});

it('calls nobody served worse who is late where nothing was covered', () => {
  // wax for one of the two now; what both lack serves both, the other late by the rest
  const shop = candles({
    lots: [],
    lines: [ordered('A', 'CANDLE', 10, 5), ordered('B', 'CANDLE', 10, 1)],
  });
  const answer = ask(shop, 'A');
  expect(answer!.help).toMatchObject([{ materials: [{ item: 'WAX' }], standing: IN_TIME }]);
});

it('puts the line before others that are urgent', () => {
  const lines = [ordered('A', 'MINT', 5, 0), { ...ordered('B', 'ROSE', 5, 0), urgent: true }];
  const answer = ask(soaps({ lots: PAPER, lines }), 'A');
  expect(answer).toMatchObject({ first: { lateDays: 0 }, worse: [{ key: 'B', item: 'ROSE', shipBy: day(0) }] });
});

it('in random workshops says what a plan of them so changed shows', { timeout: patience(120_000) }, () => {
  let asked = 0;
  let helped = 0;
  for (let seed = 1; asked < runs(6, 300); seed++) {
    const shop = randomWorkshop(seed, { products: 3, lines: 12 });
    const late = plan(shop).lines.find(({ lateDays, missing }) => lateDays > 0 || missing > 0);
    if (!late) continue;
    asked += 1;
    const { now, worse, help } = ask(shop, late.key)!;
    expect(now).toMatchObject({ lateDays: late.lateDays, missing: late.missing });
    const first = { ...shop, lines: shop.lines.map((one) => ({ ...one, urgent: one.key === late.key })) };
    const isWorse = (changed: Snapshot) => {
      const instead = new Map(checkedPlan(changed).lines.map((one) => [one.key, one]));
      return plan(shop)
        .lines.filter((one) => one.key !== late.key)
        .filter(({ key, ...was }) => {
          const is = instead.get(key)!;
          return is.missing > was.missing || (is.missing === was.missing && is.lateDays > was.lateDays);
        })
        .map(({ key }) => key);
    };
    expect(worse.map(({ key }) => key).toSorted()).toEqual(isWorse(first).toSorted());
    const bring = help.find(({ materials }) => materials);
    if (!bring) continue;
    helped += 1;
    const bought = bring.materials!.map(({ item: of, quantity }) => lot(`B-${of}`, of, quantity));
    const changed = { ...first, lots: [...shop.lots, ...bought] };
    expect(plan(changed).lines.find(({ key }) => key === late.key)).toMatchObject(bring.standing);
    expect(bring.standing.missing).toBe(0);
    expect(isWorse(changed)).toEqual([]);
  }
  expect(helped).toBeGreaterThan(0);
});
