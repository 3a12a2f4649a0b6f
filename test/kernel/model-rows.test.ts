import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { buildModel, largestIn } from '../../src/kernel/plan/model.js';
import type { Snapshot, SnapshotMaking } from '../../src/kernel/plan/snapshot.js';
import { USUAL_TERMS } from '../../src/kernel/plan/terms.js';
import { beingMade, bulk, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { wash, washingBy } from '../support/washing.js';
import { formula, item, line } from '../support/workshop.js';

const dayAt = (n: number) => dayOf(day(n));

describe('what stands in a vessel', () => {
  const pots = ['P', 'Q'].map((code) => ({ code, kind: 'pot', capacityMg: 1_000 }));
  const inPot = (code: string, on: number, emptied: number, rest: Partial<SnapshotMaking> = {}): SnapshotMaking =>
    beingMade('MINT', 0, emptied, { code, day: day(on), vessel: 'P', ...rest });
  const vessels = (rest: Partial<Snapshot>) =>
    buildModel(openShop({ items: [bulk('MINT')], vessels: pots, ...rest })).vessels;

  it('is what is in the making there, from its day until it is emptied', () => {
    const making = [
      inPot('B1', 2, 5, { skill: 'lye' }),
      inPot('B2', 3, 4, { vessel: 'Q' }),
      inPot('B3', 1, 9, { vessel: null }),
    ];
    const stays = { item: 'MINT', washing: 0 };
    expect(vessels({ making })).toEqual([
      {
        ...pots[0],
        held: undefined,
        busy: [{ ...stays, from: dayAt(2), to: dayAt(5), key: 'B1', skill: 'lye' }],
      },
      {
        ...pots[1],
        held: undefined,
        busy: [{ ...stays, from: dayAt(3), to: dayAt(4), key: 'B2', skill: undefined }],
      },
    ]);
  });

  it('stands there today where it should have been emptied by now', () => {
    expect(vessels({ making: [inPot('B1', -5, -2)] })[0]!.busy).toMatchObject([{ from: dayAt(-5), to: dayAt(0) }]);
  });

  it('has so many minutes to wash before it as it was promised, after what was emptied last', () => {
    const washing = washingBy(
      [wash('', '', 30)],
      { MINT: 'light' },
      {
        held: [{ vessel: 'Q', item: 'MINT' }],
        making: [{ code: 'B1', minutes: 45 }],
      },
    );
    const found = vessels({ washing, making: [inPot('B1', 2, 5), inPot('B2', 6, 7)] });
    expect(found.map(({ held }) => held)).toEqual([undefined, 'MINT']);
    expect(found[0]!.busy.map((stay) => stay.washing)).toEqual([45, 0]);
  });
});

describe('lots that end before the last order is to go', () => {
  const ending = (lots: Snapshot['lots'], rest: Partial<Snapshot> = {}) =>
    buildModel(
      openShop({
        items: [item('OIL'), product('PRD')],
        lots,
        lines: [ordered('A', 'PRD', 1, 9), ordered('B', 'PRD', 1, 20)],
        ...rest,
      }),
    ).ending.map(({ row, until }) => [row.code, until - dayAt(0)]);
  const oil = (code: string, expires: number | null, free = 1) => lot(code, 'OIL', free, expires);

  it('have something free and end from today to the day before', () => {
    const lots = [oil('OVER', -1), oil('TODAY', 0), oil('USED', 5, 0), oil('BEFORE', 19), oil('THEN', 20)];
    expect(ending([...lots, oil('AFTER', 21), oil('KEEPS', null)])).toEqual([
      ['TODAY', 0],
      ['BEFORE', 19],
    ]);
  });

  it('are those of the week where every order goes within it', () => {
    expect(ending([oil('SATURDAY', 5), oil('SUNDAY', 6)], { lines: [ordered('A', 'PRD', 1, 2)] })).toEqual([
      ['SATURDAY', 5],
    ]);
  });

  it('are not over yet on the first day of the week that is planned', () => {
    expect(ending([oil('FRIDAY', 4), oil('MONDAY', 7)], { weekStart: day(7) })).toEqual([['MONDAY', 7]]);
  });
});

describe('what a plan is told', () => {
  it('is refused where a line is for what is no item', () => {
    const shop = openShop({ lines: [ordered('A', 'PRD', 1, 2)] });
    expect(() => buildModel(shop)).toThrow('order line A is for PRD, which is not an item');
  });

  it('counts first what the workshop says, and else what is usual', () => {
    const terms = (said?: Snapshot['workshop']['terms']) => buildModel(openShop({}, said ? { terms: said } : {})).terms;
    expect(terms()).toEqual(USUAL_TERMS);
    expect(USUAL_TERMS.slice(0, 3)).toEqual(['urgent', 'uncovered', 'late']);
    expect(terms(['expires']).slice(0, 3)).toEqual(['uncovered', 'expires', 'urgent']);
  });

  it('counts a line as one, and in millionths where any is sent in parts', () => {
    const share = (...sends: (Snapshot['lines'][number]['sends'] | undefined)[]) =>
      buildModel(
        openShop({
          items: [product('PRD')],
          lines: sends.map((how, at) => ({ ...ordered(`L${at}`, 'PRD', 1, 2), ...(how && { sends: how }) })),
        }),
      ).lineShare;
    expect(share()).toBe(1);
    expect(share(undefined, 'complete')).toBe(1);
    expect(share(undefined, 'parts')).toBe(1_000_000);
  });

  it('is what was shown of days from the first on', () => {
    const pours = [1, 3].map((n) => ({ key: `K${n}`, item: 'MINT', day: day(n), vessel: null, output: 10 }));
    const shown = (weekStart: number) =>
      buildModel(openShop({ items: [bulk('MINT')], weekStart: day(weekStart), shown: { pours, choices: null } })).shown;
    expect(
      shown(0)
        .ofItem.get('MINT')!
        .map(({ key }) => key),
    ).toEqual(['K1', 'K3']);
    expect(
      shown(2)
        .ofItem.get('MINT')!
        .map(({ key }) => key),
    ).toEqual(['K3']);
  });
});

describe('as much as a vessel holds', () => {
  const poured = formula('MINT', [line(1, 'OIL', 'part', 1_000_000_000)], { vesselKind: 'pot', batchMultiple: 300 });
  const boxed = formula('PRD', [line(1, 'BOX', 'each', 1)], { batchMultiple: 300 });
  const model = buildModel(
    openShop({
      items: [bulk('MINT'), item('OIL'), product('PRD'), item('BOX', { measure: 'counted' })],
      formulas: [poured, boxed],
    }),
  );

  it('is in whole steps of its batches, and without end where nothing of it is weighed', () => {
    expect(largestIn(model, poured, 1_000)).toBe(900);
    expect(largestIn(model, boxed, 1_000)).toBe(Number.POSITIVE_INFINITY);
  });
});

describe('the largest batch of what is washed for', () => {
  it('leaves its longest day the minutes to wash its vessel', () => {
    const shop = openShop({
      items: [product('BAR'), item('OIL')],
      formulas: [formula('BAR', [line(1, 'OIL', 'each', 1)], { vesselKind: 'pot', minutesBatch: 30, secondsUnit: 60 })],
      vessels: [{ code: 'P', kind: 'pot', capacityMg: 1_000_000 }],
    });
    const largest = (rest: Partial<Snapshot>) => buildModel({ ...shop, ...rest }).items.get('BAR')!.largestBatch;
    // 480 - 30 minutes, and 60 less
    expect(largest({})).toBe(450);
    expect(largest({ washing: washingBy([wash('', '', 60)], { BAR: null, OTHER: 'light' }) })).toBe(390);
  });
});
