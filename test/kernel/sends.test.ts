import { describe, expect, it } from 'vitest';
import { whatGivesWay } from '../../src/kernel/plan/giving-way.js';
import { sharesOf } from '../../src/kernel/plan/line-shares.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, comes, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { faultsOf } from '../support/plan-checker.js';
import { complete, inParts } from '../support/sends.js';
import { formula, line } from '../support/workshop.js';

/** A soap of one paper that rests four days, a spray of one cap that is ready at once. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [...['CAP', 'PAPER'].map(counted), ...['SOAP', 'SPRAY', 'CARD'].map((code) => product(code))],
    formulas: [
      formula('SOAP', [line(1, 'PAPER', 'each', 1)], { restDays: 4 }),
      formula('SPRAY', [line(1, 'CAP', 'each', 1)]),
    ],
    ...rest,
  });
const PLENTY = [lot('C', 'CAP', 99), lot('P', 'PAPER', 99)];

function checked(of: Snapshot): Proposal {
  const answer = plan(of);
  expect(faultsOf(of, answer)).toEqual([]);
  return answer;
}

const linesOf = (of: Snapshot) => new Map(checked(of).lines.map((one) => [one.key, one]));
const alone = (lines: readonly SnapshotLine[]): SnapshotLine[] =>
  lines.map(({ sends: _sends, order: _order, asideOn: _asideOn, ...rest }) => rest);

describe('an order that is sent complete', () => {
  const lines = [complete(ordered('soap', 'SOAP', 3, 2)), complete(ordered('spray', 'SPRAY', 5, 2))];

  it('goes on the day on which the last of its lines is ready, and each is late by that', () => {
    // the soap begun today is ready on day 4; the spray could go today
    const found = linesOf(shop({ lots: PLENTY, lines }));
    expect(found.get('soap')).toMatchObject({ readyOn: day(4), lateDays: 2, because: 'rest' });
    expect(found.get('soap')!.waitsFor).toBeUndefined();
    expect(found.get('spray')).toMatchObject({
      readyOn: day(4),
      lateDays: 2,
      missing: 0,
      because: 'order',
      waitsFor: { line: 'soap', item: 'SOAP', readyOn: day(4) },
    });
    const byThemselves = linesOf(shop({ lots: PLENTY, lines: alone(lines) }));
    expect(byThemselves.get('spray')).toMatchObject({ lateDays: 0, because: null });
  });

  it('says for whom a line waits that is in time all the same', () => {
    const inTime = [complete(ordered('soap', 'SOAP', 3, 9)), complete(ordered('card', 'CARD', 1, 9))];
    const making = [beingMade('SOAP', 3, 6)];
    const found = linesOf(shop({ making, lots: [lot('K', 'CARD', 1)], lines: inTime }));
    expect(found.get('card')).toMatchObject({
      readyOn: day(6),
      lateDays: 0,
      because: null,
      waitsFor: { line: 'soap', readyOn: day(6) },
    });
  });

  it('is to be there for the first of its lines, each of which is late by its own day', () => {
    const [soap, spray] = lines;
    const found = linesOf(shop({ lots: PLENTY, lines: [{ ...soap!, shipBy: day(9) }, spray!] }));
    expect(found.get('soap')).toMatchObject({ readyOn: day(4), lateDays: 0 });
    expect(found.get('spray')).toMatchObject({ readyOn: day(4), lateDays: 2 });
  });

  it('waits for what is set aside for it already, and for the day on which all of it may go', () => {
    const card = { ...ordered('card', 'CARD', 1, 3), notBefore: null };
    const lots = [lot('K', 'CARD', 2)];
    expect(checked(shop({ lots, lines: [complete(card, 'O', day(5))] })).lines).toMatchObject([
      { readyOn: day(5), lateDays: 2, missing: 0, because: 'order' },
    ]);
    const other = complete({ ...ordered('later', 'CARD', 1, 9), notBefore: day(7) });
    expect(checked(shop({ lots, lines: [complete(card), other] })).lines).toMatchObject([
      { key: 'card', readyOn: day(7), lateDays: 4 },
      { key: 'later', readyOn: day(7), lateDays: 0 },
    ]);
  });

  it('goes without as a whole, and leaves what is there to whoever can be served whole', () => {
    // nobody knows how a wreath is made; the cards on the shelf do for one of the two
    const without = [complete(ordered('card', 'CARD', 5, 1)), complete(ordered('wreath', 'WREATH', 1, 1))];
    const of = shop({ lots: [lot('K', 'CARD', 5)], lines: [...without, ordered('other', 'CARD', 5, 8)] });
    of.items.push(product('WREATH'));
    const found = linesOf(of);
    expect(found.get('other')).toMatchObject({ missing: 0, lateDays: 0 });
    expect(found.get('card')).toMatchObject({ taken: [], missing: 5, readyOn: null, because: 'no-formula' });
    expect(found.get('wreath')).toMatchObject({ missing: 1, because: 'no-formula' });
    // with cards for both nothing but the wreath keeps the order back
    expect(linesOf({ ...of, lots: [lot('K', 'CARD', 10)] }).get('card')).toMatchObject({
      taken: [],
      missing: 5,
      readyOn: null,
      because: 'order',
      waitsFor: { line: 'wreath', item: 'WREATH', readyOn: null },
    });
    const byThemselves = linesOf({ ...of, lines: alone(of.lines) });
    expect(byThemselves.get('card')).toMatchObject({ missing: 0 });
    expect(byThemselves.get('other')).toMatchObject({ missing: 5 });
  });

  it('takes nothing of a material that is sold as it is, where it goes without', () => {
    const without = [complete(ordered('caps', 'CAP', 5, 1)), complete(ordered('soap', 'SOAP', 1, 1))];
    const of = shop({ lots: [lot('C', 'CAP', 5)], lines: [...without, ordered('other', 'CAP', 5, 8)] });
    const found = linesOf(of);
    expect(found.get('other')).toMatchObject({ missing: 0, lateDays: 0 });
    expect(found.get('caps')).toMatchObject({ taken: [], missing: 5, because: 'short' });
    expect(linesOf({ ...of, lines: alone(of.lines) }).get('caps')).toMatchObject({ missing: 0 });
  });

  it('is weighed as a whole where there is not enough for all', () => {
    // ten caps: for the order as a whole there are too few, for each of its lines there would be enough
    const both = [complete(ordered('a', 'SPRAY', 6, 1)), complete(ordered('b', 'SPRAY', 5, 1))];
    const of = shop({ lots: [lot('C', 'CAP', 10)], lines: [...both, ordered('c', 'SPRAY', 9, 8)] });
    const found = linesOf(of);
    expect(found.get('c')).toMatchObject({ missing: 0 });
    for (const key of ['a', 'b'])
      expect(found.get(key)).toMatchObject({ missing: found.get(key)!.quantity, taken: [] });
    // with one more cap two lines count for more than one
    const enough = linesOf({ ...of, lots: [lot('C', 'CAP', 11)] });
    for (const key of ['a', 'b']) expect(enough.get(key)).toMatchObject({ missing: 0, lateDays: 0 });
    expect(enough.get('c')!.missing).toBeGreaterThan(0);
  });

  it('leaves what lies there to who is in time with it, where it is late all the same', () => {
    // soap and tins rest four days: the order goes on day 4, with tins made today or those on the shelf
    const of = shop({
      lots: [lot('T', 'TIN', 5), ...PLENTY],
      lines: [
        complete(ordered('soap', 'SOAP', 3, 2)),
        complete(ordered('tins', 'TIN', 5, 2)),
        ordered('other', 'TIN', 5, 3),
      ],
    });
    of.items.push(product('TIN'));
    of.formulas.push(formula('TIN', [line(1, 'CAP', 'each', 1)], { restDays: 4 }));
    const found = linesOf(of);
    expect(found.get('other')).toMatchObject({ taken: [{ from: 'lot', key: 'T', quantity: 5 }], lateDays: 0 });
    for (const key of ['soap', 'tins']) expect(found.get(key)).toMatchObject({ readyOn: day(4), lateDays: 2 });
    expect(linesOf({ ...of, lines: alone(of.lines) }).get('other')).toMatchObject({ lateDays: 1 });
  });

  it('says of all its lines what must be bought, so that it is served once it is', () => {
    const of = shop({ lots: [lot('P', 'PAPER', 9)], lines });
    const { shortfalls } = checked(of);
    expect(shortfalls).toMatchObject([{ item: 'CAP', quantity: 5, hurts: { lines: ['soap', 'spray'] } }]);
    const found = linesOf({ ...of, lots: PLENTY });
    for (const { missing } of found.values()) expect(missing).toBe(0);
  });

  it('gets its pours one after the other where one pot pours all, before another order gets any', () => {
    // each pour keeps the pot for a day, and all are due when two can be ready
    const codes = ['A', 'B', 'C', 'D'];
    const of = openShop({
      items: [counted('WAX'), ...codes.map((code) => product(code))],
      formulas: codes.map((code) => formula(code, [line(1, 'WAX', 'each', 1)], { vesselKind: 'pot' })),
      vessels: [{ code: 'POT', kind: 'pot', capacityMg: 1_000_000 }],
      lots: [lot('W', 'WAX', 99)],
      // by their names they would take turns
      lines: codes.map((code, n) => complete(ordered(code, code, 1, 1), n % 2 === 0 ? 'P' : 'Q')),
    });
    const late = checked(of).lines.filter(({ lateDays }) => lateDays > 0);
    expect(late).toHaveLength(2);
    expect(new Set(late.map(({ key }) => of.lines.find((row) => row.key === key)!.order)).size).toBe(1);
  });

  it('is asked for as a whole what stands in its way', () => {
    const of = shop({ lots: [lot('P', 'PAPER', 9)], lines });
    const way = whatGivesWay(of, 'soap', checked)!;
    expect(way.now).toMatchObject({ missing: 3, because: 'order' });
    expect(way.worse).toEqual([]);
    expect(way.help).toEqual([
      {
        materials: [{ item: 'CAP', quantity: 5 }],
        standing: { readyOn: day(4), lateDays: 2, missing: 0, because: 'rest' },
      },
    ]);
  });

  it('is planned the same in whatever order its lines come', () => {
    const of = shop({ lots: PLENTY, lines });
    expect(plan({ ...of, lines: lines.toReversed() })).toEqual(plan(of));
  });
});

describe('a line that is sent in parts', () => {
  it('says how many go when, and is late by the last of them', () => {
    const of = shop({
      lots: [lot('S', 'SOAP', 7), ...PLENTY],
      lines: [inParts(ordered('soap', 'SOAP', 10, 2))],
    });
    expect(checked(of).lines).toMatchObject([
      {
        missing: 0,
        readyOn: day(4),
        lateDays: 2,
        because: 'rest',
        parts: [
          { on: day(0), quantity: 7 },
          { on: day(4), quantity: 3 },
        ],
      },
    ]);
    expect(checked({ ...of, lines: alone(of.lines) }).lines[0]!.parts).toBeUndefined();
  });

  it('goes as far as there is something of it', () => {
    const lots = [lot('C', 'CAP', 4)];
    const deliveries = [comes('D', 'CAP', 2, 6)];
    const answer = checked(shop({ lots, deliveries, lines: [inParts(ordered('caps', 'CAP', 10, 2))] }));
    expect(answer.lines).toMatchObject([
      {
        missing: 4,
        readyOn: null,
        parts: [
          { on: day(0), quantity: 4 },
          { on: day(6), quantity: 2 },
        ],
      },
    ]);
  });

  it('counts as its share of a line: the larger rest goes first', () => {
    // one pot, one pour a day, both due today: of the one nine of ten are missing, of the other two
    const weekOf = (large: string, small: string): Snapshot =>
      openShop({
        items: [counted('WAX'), product('A'), product('B')],
        formulas: ['A', 'B'].map((code) => formula(code, [line(1, 'WAX', 'each', 1)], { vesselKind: 'pot' })),
        vessels: [{ code: 'POT', kind: 'pot', capacityMg: 1_000_000 }],
        lots: [lot('W', 'WAX', 99), lot('L1', large, 1), lot('L2', small, 8)],
        lines: ['A', 'B'].map((code) => inParts(ordered(code, code, 10, 0))),
      });
    for (const [large, small] of [
      ['A', 'B'],
      ['B', 'A'],
    ] as const) {
      const found = linesOf(weekOf(large, small));
      expect(found.get(large)!.parts).toEqual([{ on: day(0), quantity: 10 }]);
      expect(found.get(small)!.parts).toEqual([
        { on: day(0), quantity: 8 },
        { on: day(1), quantity: 2 },
      ]);
    }
  });

  it('counts in whole shares that add up to a line', () => {
    expect(sharesOf([7, 3], 1_000_000)).toEqual([700_000, 300_000]);
    expect(sharesOf([1, 1, 1], 10)).toEqual([3, 3, 4]);
    expect(sharesOf([1_000_000_000, 1], 1)).toEqual([0, 1]);
    expect(sharesOf([5], 1)).toEqual([1]);
  });
});

it('makes what is poured for an order that waits, where others leave room for it', () => {
  const lines = [complete(ordered('soap', 'SOAP', 3, 6)), complete(ordered('spray', 'SPRAY', 5, 6))];
  const of = shop({ items: [...shop({}).items, bulk('NONE')], lots: [lot('P', 'PAPER', 9)], lines });
  const soap = checked(of).batches.find(({ item }) => item === 'SOAP')!;
  expect(soap).toMatchObject({ short: false, output: 3, madeFor: [{ for: 'line', key: 'soap', quantity: 3 }] });
});
