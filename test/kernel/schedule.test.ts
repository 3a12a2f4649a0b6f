import { describe, expect, it } from 'vitest';
import { days, type Drawing, held, job, placed, pot, stock } from '../support/schedule-rows.js';

describe('the day of a batch', () => {
  it('is the latest safe one for customers and the earliest for stock, while there are minutes', () => {
    const rows = [job('A', 5), job('B', 5), job('C', 5), stock('S'), stock('T'), stock('U')];
    expect(days(placed(rows))).toEqual({ A: 5, B: 5, C: 4, S: 0, T: 0, U: 1 });
    expect(held(placed(rows))).toEqual({ A: null, B: null, C: null, S: null, T: null, U: null });
  });

  it('leaves out closed days and minutes that are given away', () => {
    expect(days(placed([job('A', 5)], { closed: [4, 5] }))).toEqual({ A: 3 });
    expect(days(placed([job('A', 5)], { usedMinutes: new Map([[5, 60]]) }))).toEqual({ A: 5 });
    expect(days(placed([job('A', 5)], { usedMinutes: new Map([[5, 61]]) }))).toEqual({ A: 4 });
    expect(days(placed([stock('S')], { closed: [0] }))).toEqual({ S: 1 });
  });

  it('is after the latest where nothing before is free, with the reason', () => {
    const full = { usedMinutes: new Map([0, 1, 2, 3].map((day) => [day, 120])) };
    expect(placed([job('A', 2)], full).A).toMatchObject({ day: 4, heldUpBy: 'bench-full' });
    expect(placed([job('A', -3)], full).A).toMatchObject({ day: 4, heldUpBy: 'bench-full' });
    expect(placed([job('A', -3)]).A).toMatchObject({ day: 0, heldUpBy: 'rest' });
    expect(placed([job('A', -3)], { closed: [0, 1] }).A).toMatchObject({ day: 2, heldUpBy: 'rest' });
    expect(placed([job('A', 2, { earliest: 6 })]).A).toMatchObject({ day: 6, heldUpBy: 'delivery' });
    expect(placed([job('A', 2, { earliest: 6, waitsFor: 'source' })]).A).toMatchObject({ day: 6, heldUpBy: 'source' });
  });

  it('is none for a batch longer than any day, and a whole day for one as long', () => {
    const rows = [job('A', 3, { minutes: 121 }), job('B', 3, { minutes: 120 })];
    expect(days(placed(rows))).toEqual({ A: null, B: 3 });
    expect(held(placed(rows))).toEqual({ A: 'too-long', B: null });
  });

  it('is what customers leave of the bench for what lacks something', () => {
    const rows = [job('LACKS', 2, { tier: 2, minutes: 120 }), job('A', 2, { minutes: 60 }), job('B', 1)];
    expect(days(placed(rows))).toEqual({ A: 2, B: 1, LACKS: 0 });
  });

  it('goes to who is due first, then by key', () => {
    expect(days(placed([job('B', 0, { minutes: 120 }), job('A', 0, { minutes: 120 })]))).toEqual({ A: 0, B: 1 });
    expect(days(placed([job('A', 1, { minutes: 120 }), job('B', 0, { minutes: 120 })]))).toEqual({ A: 1, B: 0 });
  });

  it('is none where the workshop never opens or no vessel is large enough', () => {
    expect(placed([job('A', 3)], { openMinutes: () => 0 }).A).toEqual({
      day: null,
      ready: null,
      vessel: null,
      emptied: null,
      heldUpBy: 'bench-full',
    });
    const rows = [job('A', 3, { vesselKind: 'pot', putInMg: 5_001 }), job('B', 6, { from: ['A'] })];
    expect(held(placed(rows, { vessels: [pot('P', 5_000)] }))).toEqual({ A: 'too-large', B: 'source' });
    const always = { vessels: [pot('P', 5_000, [0, 1_000])] };
    expect(held(placed([job('A', 3, { vesselKind: 'pot' })], always))).toEqual({ A: 'no-vessel' });
  });
});

describe('what a batch is made from', () => {
  it('is ready before it', () => {
    const rows = [job('FILL', 9, { from: ['POUR'] }), job('POUR', 2, { restDays: 7 })];
    expect(placed(rows)).toMatchObject({ POUR: { day: 2, ready: 9 }, FILL: { day: 9, heldUpBy: null } });
    const late = [job('FILL', 5, { from: ['POUR'] }), job('POUR', -2, { restDays: 7 })];
    expect(placed(late)).toMatchObject({ POUR: { day: 0, ready: 7 }, FILL: { day: 7, heldUpBy: 'source' } });
  });
});

describe('a vessel', () => {
  const pour = (key: string, latest: number, rest: Partial<Drawing> = {}) =>
    job(key, latest, { vesselKind: 'pot', restDays: 3, ...rest });

  it('is the smallest that holds the batch and is free for all of its stay', () => {
    const vessels = [pot('BIG', 9_000), pot('SMALL', 1_000), pot('OTHER', 1_000)];
    expect(placed([pour('A', 5)], { vessels }).A).toMatchObject({ vessel: 'OTHER', day: 5, ready: 8, emptied: 8 });
    expect(placed([pour('A', 5, { putInMg: 1_001 })], { vessels }).A!.vessel).toBe('BIG');
    expect(placed([pour('A', 5)], { vessels: [pot('P', 1_000, [8, 9])] }).A!.day).toBe(4);
    expect(placed([pour('A', 5)], { vessels: [pot('P', 1_000, [0, 4])] }).A!.day).toBe(5);
    expect(placed([pour('A', 5)], { vessels: [pot('P', 1_000, [0, 5])] }).A).toMatchObject({
      day: 6,
      heldUpBy: 'no-vessel',
    });
  });

  it('is free the day after it is emptied', () => {
    const rows = [pour('A', 5), pour('B', 9)];
    expect(placed(rows, { vessels: [pot('P', 1_000)] })).toMatchObject({ A: { day: 5, emptied: 8 }, B: { day: 9 } });
    const close = [pour('A', 5), pour('B', 8)];
    // B would be in it on the 8th still: it goes before
    expect(placed(close, { vessels: [pot('P', 1_000)] })).toMatchObject({ A: { day: 5 }, B: { day: 1, emptied: 4 } });
  });

  it('is busy until the last filling that draws from it', () => {
    const rows = [
      pour('POUR', 2),
      job('FILL-1', 6, { held: ['POUR'] }),
      job('FILL-2', 8, { held: ['POUR'] }),
      job('LATER', 20, { from: ['POUR'] }),
    ];
    expect(placed(rows, { vessels: [pot('P', 1_000)] })).toMatchObject({
      POUR: { day: 2, ready: 5, emptied: 8 },
      'FILL-1': { day: 6 },
      'FILL-2': { day: 8 },
      LATER: { day: 20 },
    });
  });

  it('comes free for the next once its fillings have their day, and they stay before that', () => {
    // the fillings want to wait until the 20th, but the second pour is booked from the 7th
    const vessels = [pot('P', 1_000, [7, 9])];
    const rows = [pour('POUR', 2), job('FILL', 20, { held: ['POUR'] })];
    expect(placed(rows, { vessels })).toMatchObject({ POUR: { day: 10 }, FILL: { day: 20 } });
  });

  it('is taken later where what is filled from it would find no day while it stands there', () => {
    // filled on the 5th or 6th it would be empty before the next stay, but the bench is full on both
    const setting = { vessels: [pot('P', 1_000, [7, 9])], usedMinutes: new Map([5, 6].map((day) => [day, 120])) };
    const rows = [pour('POUR', 2), job('FILL', 6, { held: ['POUR'] })];
    expect(placed(rows, setting)).toMatchObject({
      POUR: { day: 10, ready: 13, emptied: 13, heldUpBy: 'no-vessel' },
      FILL: { day: 13, heldUpBy: 'source' },
    });
  });

  it('is not kept waiting for a second one that others would take: both are settled together', () => {
    // A and MIX are filled together; C is due between them, and would leave MIX no vessel until the 7th
    const rows = [pour('A', 2), pour('C', 3), pour('MIX', 4), job('FILL', 7, { held: ['A', 'MIX'] })];
    const placings = placed(rows, { vessels: [pot('P', 1_000), pot('Q', 1_000)] });
    expect(days(placings)).toEqual({ A: 2, C: 0, MIX: 4, FILL: 7 });
    expect([placings.A!.emptied, placings.MIX!.emptied]).toEqual([7, 7]);
  });
});
