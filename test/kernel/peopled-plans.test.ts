import { describe, expect, it } from 'vitest';
import { Crew } from '../../src/kernel/plan/crew.js';
import { whatGivesWay } from '../../src/kernel/plan/giving-way.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot, SnapshotFormula, SnapshotPerson } from '../../src/kernel/plan/snapshot.js';
import { Washing } from '../../src/kernel/plan/washing.js';
import { beingMade, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { person } from '../support/people.js';
import { faultsOf } from '../support/plan-checker.js';
import { job, placed, pot } from '../support/schedule-rows.js';
import { wash, washingBy } from '../support/washing.js';
import { formula, line } from '../support/workshop.js';

/** Soaps that ask for lye, and cards that ask for nobody, all of one paper; Monday is day 0. */
function soapShop(people: SnapshotPerson[] | undefined, soap: Partial<SnapshotFormula>, rest: Partial<Snapshot> = {}) {
  return openShop({
    items: [product('SOAP'), product('CARD'), counted('PAPER')],
    formulas: [
      formula('SOAP', [line(1, 'PAPER', 'each', 1)], { skill: 'lye', ...soap }),
      formula('CARD', [line(1, 'PAPER', 'each', 1)], { minutesBatch: 90 }),
    ],
    lots: [lot('P', 'PAPER', 1_000)],
    ...(people && { people }),
    ...rest,
  });
}

function checkedPlan(shop: Snapshot) {
  const answer = plan(shop);
  expect(faultsOf(shop, answer)).toEqual([]);
  return answer;
}

const THURSDAYS = person('Ada', 0, ['lye'], { 3: 240 });
const ALWAYS = person('Bea', 300);
const dueWednesday = { lines: [ordered('A', 'SOAP', 5, 2)] };

describe('lye soap', () => {
  it('waits for Thursday where only who works on Thursdays may make it, and says so', () => {
    const { batches, lines } = checkedPlan(soapShop([THURSDAYS, ALWAYS], { minutesBatch: 100 }, dueWednesday));
    expect(batches).toMatchObject([{ item: 'SOAP', day: day(3), heldUpBy: 'skill-full' }]);
    expect(lines).toMatchObject([{ lateDays: 1, because: 'skill-full' }]);
    // who are many enough otherwise
    const both = [THURSDAYS, { ...ALWAYS, skills: ['lye'] }];
    expect(checkedPlan(soapShop(both, { minutesBatch: 100 }, dueWednesday)).lines).toMatchObject([{ lateDays: 0 }]);
    // and where nobody is said, anybody may
    expect(checkedPlan(soapShop(undefined, { minutesBatch: 100 }, dueWednesday)).lines).toMatchObject([
      { lateDays: 0 },
    ]);
  });

  it('has no day where nobody may make it, and is made where that is taken back', () => {
    const nobody = checkedPlan(soapShop([ALWAYS], { minutesBatch: 100 }, dueWednesday));
    expect(nobody.batches).toMatchObject([{ day: null, heldUpBy: 'nobody-may' }]);
    expect(nobody.lines).toMatchObject([{ missing: 5, because: 'nobody-may' }]);
    const anybody = soapShop([ALWAYS], { minutesBatch: 100, skill: undefined }, dueWednesday);
    expect(checkedPlan(anybody).lines).toMatchObject([{ missing: 0, lateDays: 0 }]);
  });

  it('is made on days who may make it is there, if it takes no minute too', () => {
    const due = { lines: [ordered('A', 'SOAP', 5, 5)] };
    expect(checkedPlan(soapShop([THURSDAYS, ALWAYS], {}, due)).batches).toMatchObject([{ day: day(3) }]);
    expect(checkedPlan(soapShop([ALWAYS], {}, due)).batches).toMatchObject([{ heldUpBy: 'nobody-may' }]);
  });

  it('says that it takes too long for who may make it, though others work longer', () => {
    const { batches } = checkedPlan(soapShop([THURSDAYS, ALWAYS], { minutesBatch: 241 }, dueWednesday));
    expect(batches).toMatchObject([{ day: null, heldUpBy: 'skill-short' }]);
    const longer = checkedPlan(soapShop([THURSDAYS, ALWAYS], { minutesBatch: 541 }, dueWednesday));
    expect(longer.batches).toMatchObject([{ heldUpBy: 'too-long' }]);
  });

  it('is made in batches as large as who may make it can in a day', () => {
    // 3 minutes for each one: 80 of them take 240
    const { batches } = checkedPlan(
      soapShop([THURSDAYS, ALWAYS], { secondsUnit: 180, batchMin: 100 }, { lines: [ordered('A', 'SOAP', 160, 20)] }),
    );
    expect(batches).toMatchObject([
      { output: 80, belowLeast: 'people', day: day(10) },
      { output: 80, belowLeast: 'people', day: day(17) },
    ]);
  });
});

describe('two people', () => {
  const ada = person('Ada', 120, ['lye']);
  const bea = person('Bea', 120, ['lye']);
  const cleo = person('Cleo', 60);

  it('share what takes longer than one of them has', () => {
    const shop = soapShop([ada, bea, cleo], { minutesBatch: 200 }, { lines: [ordered('A', 'SOAP', 5, 0)] });
    expect(checkedPlan(shop).batches).toMatchObject([{ item: 'SOAP', day: day(0), minutes: 200 }]);
  });

  it('leave who can do anything to what asks for nobody', () => {
    // of 240 minutes for lye 200 are taken: 40 of theirs and 60 of Cleo's are left for cards
    const lines = [ordered('A', 'SOAP', 5, 0), ordered('B', 'CARD', 5, 0)];
    const shop = soapShop([ada, bea, cleo], { minutesBatch: 200 }, { lines });
    expect(checkedPlan(shop).lines).toMatchObject([{ lateDays: 0 }, { lateDays: 0 }]);
    shop.formulas[1]!.minutesBatch = 101;
    expect(
      checkedPlan(shop)
        .lines.map(({ lateDays }) => lateDays)
        .toSorted(),
    ).toEqual([0, 1]);
  });
});

it('counts what is in the making for those who may make it', () => {
  const people = [person('Ada', 120, ['lye']), ALWAYS];
  const due = { lines: [ordered('A', 'SOAP', 5, 0)] };
  const onMonday = { day: day(0), minutes: 30 };
  const shop = (minutesBatch: number, skill?: string) =>
    soapShop(people, { minutesBatch }, { ...due, making: [beingMade('CARD', 0, 0, { ...onMonday, skill })] });
  expect(checkedPlan(shop(90, 'lye')).batches).toMatchObject([{ day: day(0) }]);
  expect(checkedPlan(shop(91, 'lye')).batches).toMatchObject([{ day: day(1), heldUpBy: 'skill-full' }]);
  // what anybody may make Bea makes
  expect(checkedPlan(shop(120)).batches).toMatchObject([{ day: day(0) }]);
});

it('keeps a closed day closed to everybody', () => {
  const shop = soapShop([THURSDAYS, ALWAYS], { minutesBatch: 100 }, { lines: [ordered('A', 'SOAP', 5, 5)] });
  shop.workshop.closedDays = [day(3)];
  expect(checkedPlan(shop).batches).toMatchObject([{ day: day(10), heldUpBy: 'skill-full' }]);
});

it('says of each day the minutes of all who work on it', () => {
  const { days } = checkedPlan(soapShop([THURSDAYS, ALWAYS], {}));
  expect(days.map(({ minutesOpen }) => minutesOpen)).toEqual([300, 300, 300, 540, 300, 300, 300]);
});

describe('washing a vessel', () => {
  const crew = new Crew([person('Ada', 60, ['lye']), person('Bea', 60)], new Set(['lye']));
  const washing = new Washing(
    washingBy([wash('heavy', 'light', 20)], { MINT: 'light', FERN: 'light', SMOKE: 'heavy' }),
  );
  const vessels = [{ ...pot('P', 1_000), held: 'SMOKE' }];
  const pour = (of: string, minutes: number, skill?: string) =>
    job(of, 3, { vesselKind: 'pot', minutes, ...(skill !== undefined && { skill }) });

  it('takes minutes of those who pour next', () => {
    const by = { vessels, washing, crew };
    expect(placed([pour('MINT', 40, 'lye')], by)).toMatchObject({ MINT: { day: 3 } });
    expect(placed([pour('MINT', 41, 'lye')], by)).toMatchObject({ MINT: { day: null, heldUpBy: 'washing' } });
    // of whom Bea is one where anybody may
    expect(placed([pour('MINT', 41)], by)).toMatchObject({ MINT: { day: 3 } });
  });

  it('leaves those who pour so much less for what else only they may do', () => {
    const by = { vessels, washing, crew };
    const other = (minutes: number) => job('SOAP', 3, { minutes, skill: 'lye' });
    expect(placed([pour('MINT', 30, 'lye'), other(10)], by)).toMatchObject({ MINT: { day: 3 }, SOAP: { day: 3 } });
    expect(placed([pour('MINT', 30, 'lye'), other(11)], by)).toMatchObject({ MINT: { day: 3 }, SOAP: { day: 2 } });
  });

  it('takes them on the day of what then needs more, of those who pour that', () => {
    // FERN stands there on day 5, for which nothing is washed unless SMOKE is poured before it
    const fern = { from: 5, to: 5, key: 'B1', item: 'FERN', washing: 0, skill: 'lye' };
    const before = { washing, crew, vessels: [{ ...pot('P', 1_000), busy: [fern] }] };
    const few = crew.few[0]!;
    const usedByFew = (minutes: number) => new Map([[few, new Map([[5, minutes]])]]);
    const rows = [job('SMOKE', 3, { vesselKind: 'pot', minutes: 30 })];
    const usedMinutes = new Map([[5, 41]]);
    expect(placed(rows, { ...before, usedMinutes, usedByFew: usedByFew(40) })).toMatchObject({ SMOKE: { day: 3 } });
    expect(placed(rows, { ...before, usedMinutes, usedByFew: usedByFew(41) })).toMatchObject({
      SMOKE: { day: 6, heldUpBy: 'washing' },
    });
  });
});

it('gives back the minutes of those who may, where what is filled from a pour finds no day', () => {
  const crew = new Crew([person('Ada', 60, ['lye']), person('Bea', 60)], new Set(['lye']));
  // EMBER is tried on day 2, its filling has no room before day 5, by when the pot is taken: it is poured on day 5
  const rows = [
    job('EMBER', 2, { vesselKind: 'pot', minutes: 60, skill: 'lye' }),
    job('FILL', 2, { held: ['EMBER'], earliest: 5 }),
    job('MINT', 2, { minutes: 60, skill: 'lye' }),
  ];
  const by = { crew, vessels: [pot('P', 1_000, [4, 4])] };
  const found = placed(rows, by);
  expect(found).toMatchObject({ EMBER: { day: 5 }, MINT: { day: 2 } });
});

it('asks those who may make it to work longer, and names them', () => {
  const people = [person('Ada', 100, ['lye']), person('Bea', 300), person('Cleo', 100, ['lye'])];
  const shop = soapShop(
    people,
    { minutesBatch: 120 },
    { lines: [ordered('A', 'SOAP', 5, 0), ordered('B', 'SOAP', 6, 0)] },
  );
  shop.formulas[0]!.batchMax = 6;
  // 240 minutes ask for lye, and Ada and Cleo have 200
  const late = checkedPlan(shop).lines.find(({ lateDays }) => lateDays > 0)!.key;
  const answer = whatGivesWay(shop, late, checkedPlan)!;
  expect(answer.now).toMatchObject({ lateDays: 1, because: 'skill-full' });
  expect(answer.help).toMatchObject([
    { hours: [{ day: day(0), minutes: 40, who: ['Ada', 'Cleo'] }], standing: { lateDays: 0, missing: 0 } },
  ]);
});

it('asks anybody to work longer where all lack minutes', () => {
  const people = [person('Ada', 100, ['lye']), person('Bea', 20)];
  const shop = soapShop(
    people,
    { minutesBatch: 100 },
    { lines: [ordered('A', 'SOAP', 5, 0), ordered('B', 'CARD', 6, 0)] },
  );
  const late = checkedPlan(shop).lines.find(({ lateDays }) => lateDays > 0)!.key;
  // 190 minutes where 120 are
  expect(whatGivesWay(shop, late, checkedPlan)!.help[0]!.hours).toEqual([{ day: day(0), minutes: 70 }]);
});
