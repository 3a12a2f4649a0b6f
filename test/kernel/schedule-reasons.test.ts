import { describe, expect, it } from 'vitest';
import { Crew } from '../../src/kernel/plan/crew.js';
import { Washing } from '../../src/kernel/plan/washing.js';
import { person } from '../support/people.js';
import { type Drawing, guided, job, placed, pot } from '../support/schedule-rows.js';
import { wash, washingBy } from '../support/washing.js';

const FOR_LONG = 9_999;
const full = (...on: number[]) => ({ usedMinutes: new Map(on.map((day) => [day, 120])) });
const pour = (key: string, latest: number, rest: Partial<Drawing> = {}) =>
  job(key, latest, { vesselKind: 'pot', ...rest });
/** Of two people Ada alone may make lye soap, an hour of each day. */
const crew = new Crew([person('Ada', 60, ['lye']), person('Bea', 60)], new Set(['lye']));
const lye = { skill: 'lye' };
/** Washing after smoke takes longer than a day leaves a pour. */
const washing = new Washing(washingBy([wash('heavy', 'light', 61)], { SMOKE: 'heavy', MINT: 'light' }));
const dirty = (code: string, ...busy: [number, number][]) => ({ ...pot(code, 1_000, ...busy), held: 'SMOKE' });

describe('a late batch says what kept it', () => {
  const why = (row: Drawing, rest: Parameters<typeof placed>[1] = {}, ...others: Drawing[]) => {
    const { day, heldUpBy } = placed([row, ...others], rest)[row.key]!;
    return [day, heldUpBy];
  };

  it('what it waits for, what it is made of, or that it would not keep', () => {
    expect(why(job('A', 2, { earliest: 4 }))).toEqual([4, 'delivery']);
    expect(why(job('A', 2, { earliest: 4, waitsFor: 'source' }))).toEqual([4, 'source']);
    expect(why(job('A', 2, { from: ['BASE'] }), {}, job('BASE', 1, { restDays: 3 }))).toEqual([4, 'source']);
    expect(why(job('A', 2, { freshFrom: 4 }))).toEqual([4, 'fresh']);
  });

  it('the bench, where all was there on its day and that was full', () => {
    expect(why(job('A', 3, { earliest: 3 }), full(3))).toEqual([4, 'bench-full']);
    expect(why(job('A', -1), full(0))).toEqual([1, 'bench-full']);
  });

  it('its vessel, where any day until then had the minutes', () => {
    expect(why(pour('A', 0), { vessels: [pot('P', 1_000, [0, 1])], ...full(0) })).toEqual([2, 'no-vessel']);
    expect(why(pour('A', 0), { vessels: [pot('P', 1_000, [0, 1])], ...full(0, 1) })).toEqual([2, 'bench-full']);
  });

  it('those who may make it, where others had the minutes', () => {
    const taken = (...on: number[]) => ({ usedByFew: new Map([[crew.few[0]!, new Map(on.map((day) => [day, 1]))]]) });
    expect(why(job('A', 1, lye), { crew, ...taken(0, 1) })).toEqual([2, 'skill-full']);
    expect(why(job('A', 1), { crew, ...taken(0, 1) })).toEqual([1, null]);
    expect(why(job('A', 1, lye), { crew, ...taken(0), ...full(1) })).toEqual([2, 'skill-full']);
    expect(why(job('A', 1, lye), { crew, ...full(0, 1) })).toEqual([2, 'bench-full']);
    expect(why(pour('A', 1, lye), { crew, vessels: [pot('P', 1_000, [0, 1])] })).toEqual([2, 'no-vessel']);
  });

  it('nothing, where an early one stands on its last day', () => {
    expect(guided([job('A', 3, { earliest: 3 })], { A: { early: true } }).A).toMatchObject({ day: 3, heldUpBy: null });
    expect(guided([job('A', 3, { earliest: 4 })], { A: { early: true } }).A).toMatchObject({
      day: 4,
      heldUpBy: 'delivery',
    });
  });
});

it('is kept in the end by whoever took its minutes after it', () => {
  const rows = [job('A', 5, { earliest: 5, ...lye }), job('B', 5, { earliest: 5, goodUntil: 5, ...lye })];
  const by = { A: { pin: { day: 6, vessel: null } } };
  expect(guided(rows, by, { crew })).toMatchObject({ A: { day: 6, heldUpBy: 'skill-full' }, B: { day: 5 } });
  expect(guided(rows.slice(0, 1), by, { crew })).toMatchObject({ A: { day: 6, heldUpBy: 'as-shown' } });
  const others = [rows[0]!, job('B', 5, { earliest: 5, goodUntil: 5, minutes: 120 })];
  expect(guided(others, by, { crew })).toMatchObject({ A: { day: 6, heldUpBy: 'bench-full' }, B: { day: 5 } });
});

describe('a batch without a day says why', () => {
  const why = (row: Drawing, rest: Parameters<typeof placed>[1] = {}) => placed([row], rest)[row.key]!.heldUpBy;

  it('that it takes longer than any day, not that it takes one', () => {
    const vessels = [pot('P', 999)];
    expect(why(pour('A', 2, { minutes: 120 }), { vessels })).toBe('too-large');
    expect(why(pour('A', 2, { minutes: 121 }), { vessels })).toBe('too-long');
  });

  it('that nobody may make it, or nobody who may works as long', () => {
    const one = new Crew([person('Ada', 60, ['lye']), person('Bea', 60)], new Set(['lye', 'wax']));
    expect(why(job('A', 2, { skill: 'wax' }), { crew: one })).toBe('nobody-may');
    expect(why(job('A', 2, { minutes: 61, ...lye }), { crew: one })).toBe('skill-short');
    expect(why(pour('A', 2, lye), { crew: one, vessels: [] })).toBe('too-large');
    expect(why(job('A', 2, { minutes: 121 }), { crew: one })).toBe('too-long');
  });

  it('that no day from when all is there has the minutes', () => {
    const openMinutes = (day: number) => (day < 3 ? 120 : 0);
    const vessels = [pot('P', 1_000)];
    expect(why(pour('A', 2, { earliest: 3 }), { openMinutes, vessels })).toBe('bench-full');
    expect(why(pour('A', 2), { openMinutes, vessels: [pot('P', 1_000, [0, FOR_LONG])] })).toBe('no-vessel');
    expect(why(pour('A', 2, { earliest: 3, ...lye }), { openMinutes, vessels, crew })).toBe('bench-full');
  });

  it('that those who may make it have none left, though others have', () => {
    const usedByFew = new Map([[crew.few[0]!, new Map(Array.from({ length: 731 }, (_, day) => [day, 60]))]]);
    expect(why(job('A', 2, lye), { crew, usedByFew })).toBe('skill-full');
    expect(why(job('A', 2), { crew, usedByFew })).toBe(null);
  });

  it('that its vessel is never free for as long as it is to stand there', () => {
    // free until day 2, and to be filled from on day 5
    const rows = [pour('A', 5), job('FILL', 5, { earliest: 5, held: ['A'] })];
    const by = { vessels: [pot('P', 1_000, [3, FOR_LONG])] };
    expect(placed(rows, by).A).toMatchObject({ day: null, heldUpBy: 'no-vessel' });
  });

  it('that a vessel which is free can be washed on no day', () => {
    expect(why(job('MINT', 2, { vesselKind: 'pot' }), { washing, vessels: [dirty('P')] })).toBe('washing');
    expect(why(pour('MINT', 2), { washing, vessels: [dirty('P'), dirty('Q', [0, FOR_LONG])] })).toBe('washing');
    expect(why(pour('MINT', 2), { washing, vessels: [dirty('P', [0, FOR_LONG])] })).toBe('no-vessel');
    // free on day 0 alone, when there are no minutes, or for less long than it rests
    expect(why(pour('MINT', 2), { washing, vessels: [dirty('P', [1, FOR_LONG])], ...full(0) })).toBe('no-vessel');
    expect(why(pour('MINT', 2), { washing, vessels: [dirty('P', [1, FOR_LONG])] })).toBe('washing');
    expect(why(pour('MINT', 2, { restDays: 1 }), { washing, vessels: [dirty('P', [1, FOR_LONG])] })).toBe('no-vessel');
    expect(why(pour('MINT', 2, { restDays: 1 }), { washing, vessels: [dirty('P', [2, FOR_LONG])] })).toBe('washing');
  });
});

describe('the last day that is looked at', () => {
  const openOn = (only: number) => ({ openMinutes: (day: number) => (day === only ? 120 : 0) });

  it('is two years from the first, less one', () => {
    expect(placed([job('A', 2)], openOn(729)).A!.day).toBe(729);
    expect(placed([job('A', 2)], openOn(730)).A).toMatchObject({ day: null, heldUpBy: 'bench-full' });
    const busy = { vessels: [pot('P', 1_000, [0, FOR_LONG])] };
    expect(placed([pour('A', 2)], { ...busy, ...openOn(729) }).A!.heldUpBy).toBe('no-vessel');
    expect(placed([pour('MINT', 2)], { washing, vessels: [dirty('P')], ...openOn(729) }).MINT!.heldUpBy).toBe(
      'washing',
    );
  });

  it('is that on which what it is made of is good, though its vessel is free only later', () => {
    const by = { vessels: [pot('P', 1_000, [0, 9])] };
    expect(placed([pour('A', 5, { goodUntil: 10 })], by).A!.day).toBe(10);
    expect(placed([pour('A', 5, { goodUntil: 9 })], by).A).toMatchObject({
      day: null,
      heldUpBy: 'expires',
      roomOn: 10,
    });
  });
});

it('tries the vessels it leaves to others last, the smallest first', () => {
  const vessels = (...busy: string[]) =>
    ['P', 'Q', 'R'].map((code, at) =>
      pot(code, 1_000 + at, ...(busy.includes(code) ? [[0, 99] as [number, number]] : [])),
    );
  const takes = (leaves: number, ...busy: string[]) =>
    guided([pour('A', 5)], { A: { leaves } }, { vessels: vessels(...busy) }).A!.vessel;
  expect([0, 1, 2, 3, 4].map((leaves) => takes(leaves))).toEqual(['P', 'Q', 'R', 'P', 'Q']);
  expect([0, 1, 2].map((leaves) => takes(leaves, 'R'))).toEqual(['P', 'Q', 'P']);
  expect([0, 1, 2].map((leaves) => takes(leaves, 'Q', 'R'))).toEqual(['P', 'P', 'P']);
  expect([0, 1, 2].map((leaves) => takes(leaves, 'P', 'R'))).toEqual(['Q', 'Q', 'Q']);
});
