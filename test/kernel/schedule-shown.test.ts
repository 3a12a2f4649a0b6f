import { describe, expect, it } from 'vitest';
import { days, guided, job, pot } from '../support/schedule-rows.js';

describe('a batch that was shown on a day', () => {
  const shownOn = (day: number, rest: Parameters<typeof job>[2] = {}) =>
    guided([job('A', 5, rest)], { A: { pin: { day, vessel: null } } }).A!;

  it('stays there, though it could be later', () => {
    expect(shownOn(2)).toMatchObject({ day: 2, ready: 2, vessel: null, heldUpBy: null });
    expect(guided([job('A', 5)], {}).A!.day).toBe(5);
  });

  it('stays there from the first day that all is there to the last that it keeps, and else goes as it is due', () => {
    expect(shownOn(3, { earliest: 3 }).day).toBe(3);
    expect(shownOn(2, { earliest: 3 }).day).toBe(5);
    expect(shownOn(7, { goodUntil: 7 }).day).toBe(7);
    expect(shownOn(8, { goodUntil: 7 }).day).toBe(5);
  });

  it('says why where that is later than is safe', () => {
    expect(shownOn(6)).toMatchObject({ day: 6, heldUpBy: 'as-shown' });
    expect(shownOn(5)).toMatchObject({ day: 5, heldUpBy: null });
    const full = { usedMinutes: new Map([0, 1, 2, 3, 4, 5].map((day) => [day, 61])) };
    const shown = (rest: Parameters<typeof job>[2], setting = {}) =>
      guided([job('A', 5, rest)], { A: { pin: { day: 6, vessel: rest?.vesselKind ? 'P' : null } } }, setting).A!
        .heldUpBy;
    expect(shown({}, full)).toBe('bench-full');
    // on the fifth day alone there is room
    full.usedMinutes.set(5, 60);
    expect(shown({}, full)).toBe('as-shown');
    expect(shown({ vesselKind: 'pot' }, { vessels: [pot('P', 5_000, [0, 5])] })).toBe('no-vessel');
    expect(shown({ vesselKind: 'pot' }, { vessels: [pot('P', 5_000, [0, 4])] })).toBe('as-shown');
    expect(shown({ vesselKind: 'pot', restDays: 1 }, { vessels: [pot('P', 5_000, [0, 4])] })).toBe('no-vessel');
  });

  it('goes elsewhere where others have its minutes', () => {
    const rows = [job('A', 5), job('B', 2, { minutes: 120 })];
    // B comes first
    expect(days(guided(rows, { A: { pin: { day: 2, vessel: null } } }))).toEqual({ A: 5, B: 2 });
  });

  it('keeps its vessel, though another would be taken first, and goes into that one where it is busy', () => {
    const row = job('A', 5, { vesselKind: 'pot' });
    const by = { A: { pin: { day: 2, vessel: 'Q' } } };
    const shown = (...busy: [number, number][]) =>
      guided([row], by, { vessels: [pot('P', 5_000), pot('Q', 5_000, ...busy)] }).A!;
    expect(shown()).toMatchObject({ day: 2, vessel: 'Q', emptied: 2 });
    expect(shown([2, 2])).toMatchObject({ day: 5, vessel: 'P' });
  });

  it('has its vessel until what was shown later is filled from it', () => {
    const rows = [job('FILL', 3, { held: ['POUR'] }), job('POUR', 3, { vesselKind: 'pot' })];
    const by = { POUR: { pin: { day: 1, vessel: 'P' } }, FILL: { pin: { day: 6, vessel: null } } };
    const shown = (...busy: [number, number][]) => guided(rows, by, { vessels: [pot('P', 5_000, ...busy)] });
    expect(shown()).toMatchObject({ POUR: { day: 1, emptied: 6 }, FILL: { day: 6 } });
    expect(shown([7, 9])).toEqual(shown());
  });
});
