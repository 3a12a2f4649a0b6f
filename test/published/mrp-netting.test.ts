import { describe, expect, it } from 'vitest';
import { addDays, dayOf } from '../../src/kernel/measure/day.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const MONDAY = '2027-01-04';
/** The Monday of week n, counted from 1. */
const week = (n: number): string => addDays(MONDAY, 7 * (n - 1));
const weekOf = (day: string): number => Math.floor((dayOf(day) - dayOf(MONDAY)) / 7) + 1;

/** A workshop without bench or vessel limits, open every day, as the worked examples assume. */
const shop = (rest: Partial<Snapshot>): Snapshot => {
  const empty = emptyWorkshop(rest);
  return {
    ...empty,
    workshop: { ...empty.workshop, benchMinutes: [480, 480, 480, 480, 480, 480, 480], slackDays: 0, receivingDays: 0 },
  };
};

const made = (code: string) => item(code, { kind: 'product', measure: 'counted' });
const onHand = (code: string, free: number) => ({
  code: `${code}-1`,
  item: code,
  free,
  onHand: free,
  valueE4: 0,
  expiresOn: null,
});

/** What is released for an item: week started and quantity, in order. */
const releases = (proposal: Proposal, code: string): [number, number][] =>
  proposal.batches.filter((batch) => batch.item === code).map((batch) => [weekOf(batch.day!), batch.output]);

const grossByWeek = (code: string, gross: readonly number[]) =>
  gross.flatMap((quantity, i) =>
    quantity > 0 ? [{ key: `w${i + 1}`, item: code, quantity, shipBy: week(i + 1), notBefore: null }] : [],
  );

describe('one planning record against published examples', () => {
  // Krajewski, Ritzman & Malhotra, Operations Management, resource-planning chapter (seat subassembly): inputs from a
  // published lecture deck, planned receipts recomputed by hand.
  it('nets a fixed lot of 230 with lead time two weeks', () => {
    const proposal = plan(
      shop({
        items: [made('SEAT')],
        formulas: [formula('SEAT', [], { batchMin: 230, batchMax: 230, batchMultiple: 230, restDays: 14 })],
        lots: [onHand('SEAT', 37)],
        deliveries: [{ key: 'D1', item: 'SEAT', free: 230, day: week(1), expiresOn: null }],
        lines: grossByWeek('SEAT', [150, 0, 0, 120, 0, 150, 120, 0]),
      }),
    );
    expect(releases(proposal, 'SEAT')).toEqual([
      [2, 230],
      [5, 230],
    ]);
    expect(proposal.lines.every((row) => row.missing === 0 && row.lateDays === 0)).toBe(true);
  });

  // Vollmann, Berry, Whybark & Jacobs, Manufacturing Planning and Control, basic record: from memory, recomputed.
  it('nets a lot of 50 with lead time one week', () => {
    const proposal = plan(
      shop({
        items: [made('PART')],
        formulas: [formula('PART', [], { batchMin: 50, batchMax: 50, batchMultiple: 50, restDays: 7 })],
        lots: [onHand('PART', 4)],
        deliveries: [{ key: 'D1', item: 'PART', free: 50, day: week(1), expiresOn: null }],
        lines: grossByWeek('PART', [0, 10, 0, 40, 10]),
      }),
    );
    expect(releases(proposal, 'PART')).toEqual([[4, 50]]);
  });
});

describe('a product tree against a published example', () => {
  // Heizer & Render, Operations Management, MRP chapter (speaker kit): from memory, recomputed.
  const tree: [string, number, [string, number][]][] = [
    [
      'A',
      1,
      [
        ['B', 2],
        ['C', 3],
      ],
    ],
    [
      'B',
      2,
      [
        ['D', 2],
        ['E', 2],
      ],
    ],
    [
      'C',
      1,
      [
        ['E', 2],
        ['F', 2],
      ],
    ],
    ['D', 1, []],
    ['E', 2, []],
    [
      'F',
      3,
      [
        ['D', 2],
        ['G', 1],
      ],
    ],
    ['G', 2, []],
  ];
  const speakers = (stock: Record<string, number>): Proposal =>
    plan(
      shop({
        items: tree.map(([code]) => made(code)),
        formulas: tree.map(([code, weeks, parts]) =>
          formula(
            code,
            parts.map(([part, count], i) => line(i + 1, part, 'each', count)),
            { restDays: 7 * weeks },
          ),
        ),
        lots: Object.entries(stock).map(([code, free]) => onHand(code, free)),
        lines: [{ key: 'order', item: 'A', quantity: 50, shipBy: week(8), notBefore: null }],
      }),
    );

  it('releases lot for lot what is not on hand, each item after its lowest level', () => {
    const proposal = speakers({ A: 10, B: 15, C: 20, D: 10, E: 10, F: 5 });
    expect(Object.fromEntries(tree.map(([code]) => [code, releases(proposal, code)]))).toEqual({
      A: [[7, 40]],
      B: [[5, 65]],
      C: [[6, 100]],
      E: [
        [3, 120],
        [4, 200],
      ],
      F: [[3, 195]],
      D: [
        [2, 380],
        [4, 130],
      ],
      G: [[1, 195]],
    });
  });

  it('releases everything without stock', () => {
    const proposal = speakers({});
    expect(Object.fromEntries(tree.map(([code]) => [code, releases(proposal, code)]))).toEqual({
      A: [[7, 50]],
      B: [[5, 100]],
      C: [[6, 150]],
      E: [
        [3, 200],
        [4, 300],
      ],
      F: [[3, 300]],
      D: [
        [2, 600],
        [4, 200],
      ],
      G: [[1, 300]],
    });
  });
});
