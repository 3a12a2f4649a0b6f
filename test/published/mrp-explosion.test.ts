import { describe, expect, it } from 'vitest';
import { lowLevelCodes } from '../../src/kernel/formula/levels.js';
import { addDays, dayOf } from '../../src/kernel/measure/day.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net } from '../../src/kernel/plan/netting.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { type AmountsByDay, madeByDay, needsByDay } from '../support/needs.js';
import { emptyWorkshop, formula, item, line } from '../support/workshop.js';

const MONDAY = '2027-01-04';
/** The Monday of week n, counted from 1. */
const week = (n: number): string => addDays(MONDAY, 7 * (n - 1));

/** Quantity by item and week, in the order of its items. */
const byWeek = (amounts: AmountsByDay): Record<string, Record<number, number>> =>
  Object.fromEntries(
    [...amounts].map(([code, days]) => [
      code,
      Object.fromEntries([...days].map(([day, quantity]) => [(day - dayOf(MONDAY)) / 7 + 1, quantity])),
    ]),
  );

interface TreeItem {
  code: string;
  parts: Record<string, number>;
  weeks: number;
}

/** Made items, open every day, each taking whole weeks; what the plan nets of `quantity` of the first, due in week 8. */
function needsOf(tree: readonly TreeItem[], quantity: number, onHand: Record<string, number> = {}) {
  const empty = emptyWorkshop();
  const shop: Snapshot = {
    ...empty,
    workshop: { ...empty.workshop, benchMinutes: [480, 480, 480, 480, 480, 480, 480], slackDays: 0 },
    items: tree.map(({ code }) => item(code, { kind: 'product', measure: 'counted' })),
    formulas: tree.map(({ code, parts, weeks }) =>
      formula(
        code,
        Object.entries(parts).map(([part, count], at) => line(at + 1, part, 'each', count)),
        { restDays: 7 * weeks },
      ),
    ),
    lots: Object.entries(onHand).map(([code, free]) => ({
      code: `${code}-1`,
      item: code,
      free,
      onHand: free,
      valueE4: 0,
      expiresOn: null,
    })),
    lines: [{ key: 'order', item: tree[0]!.code, quantity, shipBy: week(8), notBefore: null }],
  };
  const model = buildModel(shop);
  const netted = net(model, new Set());
  return {
    gross: byWeek(needsByDay(model, netted)),
    net: byWeek(madeByDay(netted, 'ready')),
    released: byWeek(madeByDay(netted, 'starts')),
  };
}

/*
 * Product tree A = 2 B + 3 C; B = 2 D + 2 E; C = 2 E + 2 F; F = 2 D + 1 G, lead times in weeks A 1, B 2, C 1, D 1, E 2,
 * F 3, G 2. Source: Heizer & Render, Operations Management, chapter on material requirements planning (speaker-kit
 * example); from memory, and recomputed by hand.
 */
const tree: TreeItem[] = [
  { code: 'A', parts: { B: 2, C: 3 }, weeks: 1 },
  { code: 'B', parts: { D: 2, E: 2 }, weeks: 2 },
  { code: 'C', parts: { E: 2, F: 2 }, weeks: 1 },
  { code: 'D', parts: {}, weeks: 1 },
  { code: 'E', parts: {}, weeks: 2 },
  { code: 'F', parts: { D: 2, G: 1 }, weeks: 3 },
  { code: 'G', parts: {}, weeks: 2 },
];

describe('netting of the textbook tree (Heizer & Render, MRP chapter; from memory)', () => {
  it('puts D at level 3, where F needs it, not at level 2, where B does', () => {
    const levels = lowLevelCodes(tree.map(({ code, parts }) => ({ code, parts: Object.keys(parts) })));
    expect(Object.fromEntries(levels)).toEqual({ A: 0, B: 1, C: 1, E: 2, F: 2, D: 3, G: 3 });
  });

  it('counts what 50 A need', () => {
    const atOnce = tree.map((one) => ({ ...one, weeks: 0 }));
    expect(needsOf(atOnce, 50).gross).toEqual({
      A: { 8: 50 },
      B: { 8: 100 },
      C: { 8: 150 },
      E: { 8: 500 },
      F: { 8: 300 },
      D: { 8: 800 },
      G: { 8: 300 },
    });
  });

  it('releases them week by week when nothing is in stock', () => {
    expect(needsOf(tree, 50).released).toEqual({
      A: { 7: 50 },
      B: { 5: 100 },
      C: { 6: 150 },
      E: { 3: 200, 4: 300 },
      F: { 3: 300 },
      D: { 2: 600, 4: 200 },
      G: { 1: 300 },
    });
  });

  it('nets stock level by level', () => {
    const needs = needsOf(tree, 50, { A: 10, B: 15, C: 20, D: 10, E: 10, F: 5, G: 0 });
    expect(needs.gross).toEqual({
      A: { 8: 50 },
      B: { 7: 80 },
      C: { 7: 120 },
      E: { 5: 130, 6: 200 },
      F: { 6: 200 },
      D: { 3: 390, 5: 130 },
      G: { 3: 195 },
    });
    expect(needs.net).toEqual({
      A: { 8: 40 },
      B: { 7: 65 },
      C: { 7: 100 },
      E: { 5: 120, 6: 200 },
      F: { 6: 195 },
      D: { 3: 380, 5: 130 },
      G: { 3: 195 },
    });
    expect(needs.released).toEqual({
      A: { 7: 40 },
      B: { 5: 65 },
      C: { 6: 100 },
      E: { 3: 120, 4: 200 },
      F: { 3: 195 },
      D: { 2: 380, 4: 130 },
      G: { 1: 195 },
    });
  });
});

it('counts a flat tree: J = 1 K + 4 L + 2 M (Heizer & Render, problem 14.1 and its printed answer)', () => {
  const flat: TreeItem[] = [
    { code: 'J', parts: { K: 1, L: 4, M: 2 }, weeks: 0 },
    ...['K', 'L', 'M'].map((code) => ({ code, parts: {}, weeks: 0 })),
  ];
  expect(needsOf(flat, 200).gross).toEqual({ J: { 8: 200 }, K: { 8: 200 }, L: { 8: 800 }, M: { 8: 400 } });
});
