import { describe, expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { faultsOf } from '../support/plan-checker.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

/*
 * What a plan finds that is not made as each batch falls due. Followed by hand: the workshop opens on Monday 4 January 2027,
 * wants a day between ready and sent, and rests count every day.
 */
const order = (key: string, of: string, quantity: number, shipBy: string, rest: Partial<SnapshotLine> = {}) => ({
  key,
  item: of,
  quantity,
  shipBy,
  notBefore: null,
  ...rest,
});
const weighed = (code: string) => item(code, { kind: 'product' });
const counted = (code: string) => item(code, { kind: 'product', measure: 'counted' });
const lot = (code: string, of: string, free: number, expiresOn: string | null = null) => ({
  code,
  item: of,
  free,
  onHand: free,
  valueE4: free,
  expiresOn,
});

/** The plan, which an independent checker finds nothing wrong with. */
function planned(shop: Snapshot) {
  const answer = plan(shop);
  expect(faultsOf(shop, answer)).toEqual([]);
  const lines = Object.fromEntries(answer.lines.map((one) => [one.key, one]));
  return { ...answer, lines };
}
const dayOfBatch = ({ batches }: ReturnType<typeof planned>, of: string) =>
  batches.filter((batch) => batch.item === of).map(({ day }) => day);

describe('one jug', () => {
  /** Both stand in the jug while they rest: CLEAR two days, SLOW five. */
  const shop = emptyWorkshop({
    items: [item('WATER', { stocked: false }), weighed('CLEAR'), weighed('SLOW')],
    formulas: [
      formula('CLEAR', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 2, minutesBatch: 10 }),
      formula('SLOW', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 5, minutesBatch: 10 }),
    ],
    vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 2_000_000 }],
    lines: [order('A', 'CLEAR', 1_000_000, '2027-01-08'), order('B', 'SLOW', 1_000_000, '2027-01-12')],
  });

  it('is filled early in the week where it is wanted again at its end', () => {
    // CLEAR as late as is safe, on Tuesday, keeps the jug until Thursday, and SLOW is ready on Wednesday 13th
    const answer = planned(shop);
    expect(dayOfBatch(answer, 'CLEAR')).toEqual(['2027-01-04']);
    expect(dayOfBatch(answer, 'SLOW')).toEqual(['2027-01-07']);
    expect(answer.lines).toMatchObject({ A: { lateDays: 0 }, B: { lateDays: 0, readyOn: '2027-01-12' } });
  });

  it('goes to the urgent line where only one can be in time', () => {
    // on Monday the jug is still full, so that one of the two is late
    const busy = {
      code: 'M',
      item: 'CLEAR',
      free: 0,
      day: '2027-01-01',
      readyOn: '2027-01-04',
      emptiedOn: '2027-01-04',
    };
    const making = [{ ...busy, vessel: 'JUG', minutes: 0, expiresOn: null }];
    const [a, b] = shop.lines;
    const asIs = planned({ ...shop, making });
    const urgent = planned({ ...shop, making, lines: [a!, { ...b!, urgent: true }] });
    const late = ({ lines }: typeof asIs) => [lines['A']!.lateDays > 0, lines['B']!.lateDays > 0];
    expect(late(asIs).filter(Boolean)).toHaveLength(1);
    expect(late(urgent)).toEqual([true, false]);
  });
});

it('pours into two small pots that are free rather than wait for the large one', () => {
  const shop = emptyWorkshop({
    items: [item('WATER', { stocked: false }), weighed('BALM')],
    formulas: [formula('BALM', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'pot', minutesBatch: 10 })],
    vessels: [
      { code: 'LARGE', kind: 'pot', capacityMg: 5_000_000 },
      { code: 'SMALL-1', kind: 'pot', capacityMg: 2_500_000 },
      { code: 'SMALL-2', kind: 'pot', capacityMg: 2_500_000 },
    ],
    making: [
      {
        code: 'M',
        item: 'BALM',
        free: 0,
        day: '2027-01-01',
        readyOn: '2027-01-20',
        emptiedOn: '2027-01-20',
        vessel: 'LARGE',
        minutes: 0,
        expiresOn: null,
      },
    ],
    lines: [order('A', 'BALM', 4_000_000, '2027-01-08')],
  });
  const answer = planned(shop);
  expect(answer.lines).toMatchObject({ A: { lateDays: 0, missing: 0 } });
  expect(answer.batches.map(({ vessel }) => vessel).sort()).toEqual(['SMALL-1', 'SMALL-2']);
});

describe('not enough bottles', () => {
  const shopOf = (bottles: number, lines: SnapshotLine[]) =>
    emptyWorkshop({
      items: [item('BOTTLE', { measure: 'counted' }), counted('SPRAY')],
      formulas: [formula('SPRAY', [line(1, 'BOTTLE', 'each', 1)], { secondsUnit: 10 })],
      lots: [lot('B-1', 'BOTTLE', bottles)],
      lines,
    });
  const covered = ({ lines }: ReturnType<typeof planned>) =>
    Object.values(lines)
      .filter(({ readyOn }) => readyOn !== null)
      .map(({ key }) => key)
      .sort();

  it('of 99 for ten lines of ten keep one line back, which lacks one bottle', () => {
    const lines = Array.from({ length: 10 }, (_, i) => order(`L${i}`, 'SPRAY', 10, '2027-01-15'));
    const answer = planned(shopOf(99, lines));
    expect(covered(answer)).toHaveLength(9);
    const [only, ...others] = answer.shortfalls;
    expect(others).toEqual([]);
    expect(only).toMatchObject({ item: 'BOTTLE', quantity: 1 });
    expect(only!.hurts.lines).toHaveLength(1);
  });

  it('go to as many lines as can be, whatever their day', () => {
    const lines = [
      order('LARGE', 'SPRAY', 12, '2027-01-08'),
      ...['A', 'B'].map((key) => order(key, 'SPRAY', 6, '2027-01-15')),
    ];
    expect(covered(planned(shopOf(12, lines)))).toEqual(['A', 'B']);
  });

  it('go to the line that weighs more, and to an urgent one before all', () => {
    const of = (rest: Partial<SnapshotLine>) =>
      covered(
        planned(
          shopOf(12, [
            order('LARGE', 'SPRAY', 12, '2027-01-08', rest),
            ...['A', 'B'].map((key) => order(key, 'SPRAY', 6, '2027-01-15')),
          ]),
        ),
      );
    expect(of({ weight: 3 })).toEqual(['LARGE']);
    expect(of({ urgent: true })).toEqual(['LARGE']);
  });
});

describe('finished goods for one of two', () => {
  /** Ten stand on the shelf, and what is made rests a week. */
  const shopOf = (lines: SnapshotLine[], rest: Partial<Snapshot> = {}) =>
    emptyWorkshop({
      items: [item('WATER', { stocked: false }), weighed('CLEAR')],
      formulas: [formula('CLEAR', [line(1, 'WATER', 'part', 1_000_000_000)], { restDays: 7, minutesBatch: 10 })],
      lots: [lot('C-1', 'CLEAR', 10)],
      lines,
      ...rest,
    });
  const both = (first: Partial<SnapshotLine>, then: Partial<SnapshotLine>) => [
    order('FIRST', 'CLEAR', 10, '2027-01-06', first),
    order('THEN', 'CLEAR', 10, '2027-01-07', then),
  ];
  const fromShelf = ({ lines }: ReturnType<typeof planned>) =>
    Object.values(lines)
      .filter(({ taken }) => taken.some(({ from }) => from === 'lot'))
      .map(({ key }) => key);

  it.each<[string, Partial<SnapshotLine>, Partial<SnapshotLine>, string]>([
    ['the one that goes first', {}, {}, 'FIRST'],
    ['the urgent one', {}, { urgent: true }, 'THEN'],
    ['the one that counts for more', {}, { weight: 2 }, 'THEN'],
    ['the one that goes first, of two that are urgent', { urgent: true }, { urgent: true }, 'FIRST'],
    ['the urgent one, whatever the other counts as', { weight: 100 }, { urgent: true }, 'THEN'],
  ])('go to %s, whether more can be made or not', (_, first, then, served) => {
    const lines = both(first, then);
    expect(fromShelf(planned(shopOf(lines)))).toEqual([served]);
    const cannot = planned(shopOf(lines, { formulas: [] }));
    expect(fromShelf(cannot)).toEqual([served]);
    expect(
      Object.values(cannot.lines)
        .map(({ missing }) => missing)
        .sort(),
    ).toEqual([0, 10]);
  });

  it('stay with the one that goes first where an urgent one can be made in time', () => {
    const answer = planned(
      shopOf([order('FIRST', 'CLEAR', 10, '2027-01-06'), order('LATER', 'CLEAR', 10, '2027-01-29', { urgent: true })]),
    );
    expect(fromShelf(answer)).toEqual(['FIRST']);
    expect(answer.lines).toMatchObject({ FIRST: { lateDays: 0 }, LATER: { lateDays: 0, missing: 0 } });
  });

  it('of which something else is made are kept for the urgent one, too', () => {
    // bulk that rested lies there for ten bottles
    const shop = emptyWorkshop({
      items: [item('WATER', { stocked: false }), item('BULK', { kind: 'bulk' }), counted('SPRAY'), counted('MIST')],
      formulas: [
        formula('BULK', [line(1, 'WATER', 'part', 1_000_000_000)], { restDays: 7, minutesBatch: 10 }),
        ...['SPRAY', 'MIST'].map((of) => formula(of, [line(1, 'BULK', 'each', 100)], { secondsUnit: 10 })),
      ],
      lots: [lot('B-1', 'BULK', 1_000)],
      lines: [order('FIRST', 'SPRAY', 10, '2027-01-07'), order('THEN', 'MIST', 10, '2027-01-08', { urgent: true })],
    });
    const answer = planned(shop);
    expect(answer.lines['FIRST']!.lateDays).toBeGreaterThan(0);
    expect(answer.lines).toMatchObject({ THEN: { lateDays: 0, missing: 0 } });
  });
});

it('pours by Wednesday what uses a lot that ends on Wednesday, if the bench is free', () => {
  const shop = emptyWorkshop({
    items: [item('WAX'), weighed('CANDLE')],
    formulas: [formula('CANDLE', [line(1, 'WAX', 'part', 1_000_000_000)], { minutesBatch: 30 })],
    lots: [lot('OLD', 'WAX', 1_000_000, '2027-01-06'), lot('NEW', 'WAX', 9_000_000, '2027-12-31')],
    lines: [order('A', 'CANDLE', 1_000_000, '2027-01-22')],
  });
  const [batch] = planned(shop).batches;
  expect(batch!.day! <= '2027-01-06').toBe(true);
  expect(batch!.inputs[0]!.taken).toEqual([{ from: 'lot', key: 'OLD', quantity: 1_000_000 }]);
});

it('gives the bottles that are there to what must rest, and lets what need not wait for the delivery', () => {
  const made = (of: string, restDays: number) =>
    formula(of, [line(1, 'BOTTLE', 'each', 1)], { restDays, minutesBatch: 10 });
  const shop = emptyWorkshop({
    items: [item('BOTTLE', { measure: 'counted' }), counted('FRESH'), counted('RESTED')],
    formulas: [made('FRESH', 0), made('RESTED', 2)],
    lots: [lot('B-1', 'BOTTLE', 10)],
    deliveries: [{ key: 'MORE', item: 'BOTTLE', free: 10, day: '2027-01-11', expiresOn: null }],
    lines: [order('A', 'FRESH', 10, '2027-01-11'), order('B', 'RESTED', 10, '2027-01-12')],
  });
  // both should be made on Friday, and FRESH is first by name; RESTED of Monday would be ready on Wednesday 13th
  const answer = planned(shop);
  expect(answer.lines).toMatchObject({ A: { lateDays: 0, readyOn: '2027-01-11' }, B: { lateDays: 0 } });
  const bottles = answer.batches.map(({ item: of, inputs }) => [of, inputs[0]!.taken[0]!.key]);
  expect(Object.fromEntries(bottles)).toEqual({ FRESH: 'MORE', RESTED: 'B-1' });
});

it('puts fillings together that fill the jug, so that two pours do for what three would take', () => {
  const fills = { P1: 3, P2: 4, P3: 5, P4: 6 };
  const codes = Object.keys(fills);
  const shop = emptyWorkshop({
    items: [item('WATER', { stocked: false }), item('BASE', { kind: 'bulk' }), ...codes.map(counted)],
    formulas: [
      formula('BASE', [line(1, 'WATER', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 5, minutesBatch: 10 }),
      ...codes.map((code) => formula(code, [line(1, 'BASE', 'each', 1_000_000, 'fill')], { minutesBatch: 10 })),
    ],
    vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 9_000_000 }],
    lines: Object.entries(fills).map(([code, kilograms]) => order(code, code, kilograms, '2027-01-19')),
  });
  // one after the other they are 3 and 4, 5, 6; a pour of Monday is filled on the next, and the third is not until the 25th
  const answer = planned(shop);
  expect(dayOfBatch(answer, 'BASE')).toHaveLength(2);
  expect(Object.values(answer.lines).map(({ lateDays }) => lateDays)).toEqual([0, 0, 0, 0]);
});

it('makes in two what is too long for the days before its lot ends', () => {
  const shop = emptyWorkshop({
    items: [item('WAX'), counted('CANDLE')],
    formulas: [formula('CANDLE', [line(1, 'WAX', 'each', 100_000)], { secondsUnit: 60 })],
    lots: [lot('W-1', 'WAX', 30_000_000, '2027-01-06'), lot('W-2', 'WAX', 90_000_000)],
    lines: [order('A', 'CANDLE', 300, '2027-01-15')],
  });
  // 300 minutes are there on Friday alone
  shop.workshop.benchMinutes = [200, 200, 200, 200, 320, 0, 0];
  const answer = planned(shop);
  expect(answer.batches.map(({ output, day }) => [output, day! <= '2027-01-06'])).toEqual([
    [150, true],
    [150, true],
  ]);
  expect(answer.batches.flatMap(({ inputs }) => inputs[0]!.taken.map(({ key }) => key))).toEqual(['W-1', 'W-1']);
});

it('pours as many candles at once as the mould holds, and the rest on another day', () => {
  const shop = emptyWorkshop({
    items: [item('WAX', { stocked: false }), counted('CANDLE')],
    formulas: [formula('CANDLE', [line(1, 'WAX', 'each', 150_000)], { vesselKind: 'mould', restDays: 1 })],
    vessels: [{ code: 'MOULD', kind: 'mould', capacityMg: 4_500_000 }],
    lines: [order('A', 'CANDLE', 40, '2027-01-15')],
  });
  const answer = planned(shop);
  expect(answer.batches.map(({ output }) => output).sort()).toEqual([10, 30]);
  expect(answer.lines).toMatchObject({ A: { lateDays: 0, missing: 0 } });
});

describe('a product is made in two batches', () => {
  it('that fit into what two days have left, where one batch fits into neither', () => {
    // 22 minutes and two for each: of 52 at once there is room on Wednesday only, of 26 on each day before
    const shop = emptyWorkshop({
      items: [item('CAP', { measure: 'counted' }), counted('PLAIN')],
      formulas: [formula('PLAIN', [line(1, 'CAP', 'each', 1)], { minutesBatch: 22, secondsUnit: 120 })],
      lots: [lot('CAPS', 'CAP', 99)],
      lines: [order('A', 'PLAIN', 52, '2027-01-05')],
    });
    shop.workshop.benchMinutes = [75, 75, 300, 300, 300, 0, 0];
    shop.workshop.slackDays = 0;
    const answer = planned(shop);
    expect(answer.lines).toMatchObject({ A: { lateDays: 0, readyOn: '2027-01-05' } });
    expect(answer.batches.map(({ output, day }) => [output, day])).toEqual([
      [26, '2027-01-04'],
      [26, '2027-01-05'],
    ]);
  });

  it('the first of which fills up the jug that another is filled from', () => {
    // ten litres stand for two days; eight are for A, and so are eight for C: B takes two of each, and C need not wait for it
    const of = ['A', 'B', 'C'];
    const shop = emptyWorkshop({
      items: [item('WATER', { stocked: false }), item('BASE', { kind: 'bulk' }), ...of.map(counted)],
      formulas: [
        formula('BASE', [line(1, 'WATER', 'part', 1_000_000_000)], {
          vesselKind: 'jug',
          restDays: 2,
          minutesBatch: 10,
        }),
        ...of.map((code) => formula(code, [line(1, 'BASE', 'each', 1_000_000, 'fill')], { minutesBatch: 10 })),
      ],
      vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 10_000_000 }],
      lines: [order('a', 'A', 8, '2027-01-06'), order('b', 'B', 4, '2027-01-06'), order('c', 'C', 8, '2027-01-07')],
    });
    shop.workshop.benchMinutes = [480, 480, 480, 480, 480, 480, 480];
    shop.workshop.slackDays = 0;
    const { lines, batches } = planned(shop);
    expect(lines).toMatchObject({ a: { lateDays: 0 }, b: { lateDays: 3 }, c: { lateDays: 2 } });
    expect(batches.filter((batch) => batch.item === 'B').map(({ output, day }) => [output, day])).toEqual([
      [2, '2027-01-06'],
      [2, '2027-01-09'],
    ]);
  });
});

describe('a workshop that wants no day much fuller than another', () => {
  /** A hundred minutes each, all due on Thursday: as late as is safe, all on Wednesday. */
  const shop = (terms?: Snapshot['workshop']['terms']): Snapshot => {
    const of = ['A', 'B', 'C'];
    const empty = emptyWorkshop({
      items: [counted('CAP'), ...of.map(counted)],
      formulas: of.map((code) => formula(code, [line(1, 'CAP', 'each', 1)], { minutesBatch: 100 })),
      lots: [lot('CAPS', 'CAP', 99)],
      lines: of.map((code) => order(code, code, 1, '2027-01-07')),
    });
    return {
      ...empty,
      workshop: { ...empty.workshop, benchMinutes: [480, 480, 480, 480, 480, 0, 0], slackDays: 1, terms },
    };
  };

  it('makes one thing each day instead of all on the last that is safe', () => {
    expect(planned(shop()).batches.map(({ day }) => day)).toEqual(['2027-01-06', '2027-01-06', '2027-01-06']);
    // slack is kept: three of the days before it, and which is on which is all the same
    expect(planned(shop(['uneven'])).batches.map(({ day }) => day)).toEqual(['2027-01-04', '2027-01-05', '2027-01-06']);
  });

  it('still has all in time', () => {
    const due = shop(['uneven']);
    due.lines = due.lines.map((one) => ({ ...one, shipBy: '2027-01-04' }));
    expect(planned(due).batches.map(({ day }) => day)).toEqual(['2027-01-04', '2027-01-04', '2027-01-04']);
  });
});
