import { describe, expect, it } from 'vitest';
import { buildStructure, explode, lowLevelCodes, needRows } from '../../src/kernel/plan/explosion.js';
import type { Needs, StructureItem } from '../../src/kernel/plan/explosion.js';

const parts = (spec: Record<string, number>) =>
  Object.entries(spec).map(([code, numerator]) => ({ code, numerator, denominator: 1 }));

/** Quantity by item and week, from one of the two columns; `early` takes the item's own lead off (its release). */
function byWeek(needs: Needs, column: 'gross' | 'net', early = false): Record<string, Record<number, number>> {
  const table: Record<string, Record<number, number>> = {};
  for (const need of needRows(needs)) {
    const lead = needs.structure.leadDays[needs.structure.indexOf.get(need.code)!]!;
    if (need[column] > 0) (table[need.code] ??= {})[need.day - (early ? lead : 0)] = need[column];
  }
  return table;
}

/*
 * Product tree A = 2 B + 3 C; B = 2 D + 2 E; C = 2 E + 2 F; F = 2 D + 1 G, lead times in weeks A 1, B 2, C 1, D 1, E 2,
 * F 3, G 2. Source: Heizer & Render, Operations Management, chapter on material requirements planning (speaker-kit
 * example); from memory, and recomputed by hand.
 */
const tree: StructureItem[] = [
  { code: 'A', parts: parts({ B: 2, C: 3 }), leadDays: 1 },
  { code: 'B', parts: parts({ D: 2, E: 2 }), leadDays: 2 },
  { code: 'C', parts: parts({ E: 2, F: 2 }), leadDays: 1 },
  { code: 'D', parts: [], leadDays: 1 },
  { code: 'E', parts: [], leadDays: 2 },
  { code: 'F', parts: parts({ D: 2, G: 1 }), leadDays: 3 },
  { code: 'G', parts: [], leadDays: 2 },
];
const due = [{ code: 'A', day: 8, quantity: 50 }];

describe('explosion of the textbook tree (Heizer & Render, MRP chapter; from memory)', () => {
  const structure = buildStructure(tree);

  it('puts D at level 3, where F needs it, not at level 2, where B does', () => {
    expect(Object.fromEntries(lowLevelCodes(structure))).toEqual({ A: 0, B: 1, C: 1, E: 2, F: 2, D: 3, G: 3 });
  });

  it('counts what 50 A need', () => {
    const needs = explode(buildStructure(tree.map((item) => ({ ...item, leadDays: 0 }))), due);
    expect(byWeek(needs, 'gross')).toEqual({
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
    expect(byWeek(explode(structure, due), 'net', true)).toEqual({
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
    const onHand = new Map(Object.entries({ A: 10, B: 15, C: 20, D: 10, E: 10, F: 5, G: 0 }));
    const needs = explode(structure, due, onHand);
    expect(byWeek(needs, 'gross')).toEqual({
      A: { 8: 50 },
      B: { 7: 80 },
      C: { 7: 120 },
      E: { 5: 130, 6: 200 },
      F: { 6: 200 },
      D: { 3: 390, 5: 130 },
      G: { 3: 195 },
    });
    expect(byWeek(needs, 'net')).toEqual({
      A: { 8: 40 },
      B: { 7: 65 },
      C: { 7: 100 },
      E: { 5: 120, 6: 200 },
      F: { 6: 195 },
      D: { 3: 380, 5: 130 },
      G: { 3: 195 },
    });
    expect(byWeek(needs, 'net', true)).toEqual({
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
  const flat = buildStructure([
    { code: 'J', parts: parts({ K: 1, L: 4, M: 2 }) },
    ...['K', 'L', 'M'].map((code) => ({ code, parts: [] })),
  ]);
  expect(byWeek(explode(flat, [{ code: 'J', day: 0, quantity: 200 }]), 'gross')).toEqual({
    J: { 0: 200 },
    K: { 0: 200 },
    L: { 0: 800 },
    M: { 0: 400 },
  });
});
