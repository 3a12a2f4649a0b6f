import { describe, expect, it } from 'vitest';
import { days, type Drawing, held, job, placed, pot } from '../support/schedule-rows.js';

const pour = (key: string, latest: number, rest: Partial<Drawing> = {}) =>
  job(key, latest, { vesselKind: 'pot', restDays: 1, ...rest });
const full = (...on: number[]) => ({ usedMinutes: new Map(on.map((day) => [day, 120])) });
const wholeDay = { minutes: 120 };

describe('what stands in the way of what is made with it', () => {
  const pots = { vessels: [pot('P', 1_000), pot('Q', 1_000)] };

  it('is decanted once it is ready, as far as the mix needs its pot', () => {
    // A in P and B in Q: the mix takes P on day 6, and B stays where it is until then
    const rows = [pour('A', 3), pour('B', 4), pour('MIX', 6, { held: ['A', 'B'] })];
    expect(placed(rows, pots)).toMatchObject({
      A: { day: 3, vessel: 'P', emptied: 4 },
      B: { day: 4, vessel: 'Q', emptied: 6 },
      MIX: { day: 6, vessel: 'P', heldUpBy: null },
    });
  });

  it('is decanted on the same day where the mix waits for something else as well', () => {
    const rows = [
      pour('A', 3),
      pour('B', 4),
      job('C', 8),
      pour('MIX', 9, { held: ['A', 'B'], from: ['C'] }),
      job('FILL', 10, { held: ['MIX'] }),
    ];
    expect(placed(rows, pots)).toMatchObject({
      A: { day: 3, emptied: 4 },
      B: { day: 4, emptied: 9 },
      MIX: { day: 9, vessel: 'P', emptied: 10 },
      FILL: { day: 10 },
    });
  });

  it('stays where there is another pot', () => {
    const rows = [pour('A', 3), pour('B', 4), pour('MIX', 6, { held: ['A', 'B'] })];
    expect(placed(rows, { vessels: [...pots.vessels, pot('R', 1_000)] })).toMatchObject({
      A: { emptied: 6 },
      B: { emptied: 6 },
      MIX: { vessel: 'R', day: 6 },
    });
  });
});

describe('what is made of something that is over', () => {
  it('has no day, and says on which there would be room', () => {
    const row = job('A', 2, { goodUntil: 3 });
    expect(placed([row]).A).toMatchObject({ day: 2, heldUpBy: null });
    expect(placed([row], full(0, 1, 2)).A).toMatchObject({ day: 3, heldUpBy: 'bench-full' });
    expect(placed([row], full(0, 1, 2, 3)).A).toEqual({
      day: null,
      ready: null,
      vessel: null,
      emptied: null,
      heldUpBy: 'expires',
      roomOn: 4,
    });
    // with no room at all it is that which is said
    expect(placed([row], { openMinutes: () => 0 }).A).toMatchObject({ heldUpBy: 'bench-full' });
  });

  it('finds room in a pot that is booked later on', () => {
    const setting = { ...full(0, 1, 2, 3), vessels: [pot('P', 1_000, [20, 25])] };
    expect(placed([pour('A', 2, { goodUntil: 3 })], setting).A).toMatchObject({ heldUpBy: 'expires', roomOn: 4 });
  });

  it('does not keep from its day what is poured for others too', () => {
    // poured on day 2 it keeps until day 4, and a whole day for the filling is free on day 5 only
    const half = { usedMinutes: new Map([2, 3, 4].map((day) => [day, 60])), vessels: [pot('P', 1_000)] };
    const rows = [pour('POUR', 2, { keepsDays: 2 }), job('FILL', 4, { held: ['POUR'], ...wholeDay })];
    expect(placed(rows, half)).toMatchObject({
      POUR: { day: 2, vessel: 'P', emptied: 3 },
      FILL: { day: null, heldUpBy: 'expires', roomOn: 5 },
    });
  });
});

describe('fillings of one pour', () => {
  const setting = { vessels: [pot('P', 1_000)] };
  const fill = (key: string, latest: number) => job(key, latest, { held: ['POUR'], ...wholeDay });

  it('have their days by when they are due, then by key', () => {
    // A may wait until day 7, on which nobody works; B is due on day 6 and has it
    expect(days(placed([pour('POUR', 2), fill('A', 7), fill('B', 6)], { ...setting, closed: [7] }))).toEqual({
      POUR: 2,
      A: 5,
      B: 6,
    });
    expect(days(placed([pour('POUR', 2), fill('B', 6), fill('A', 6)], setting))).toEqual({ POUR: 2, A: 6, B: 5 });
  });

  it('go into a vessel that is booked later on, if they leave it before', () => {
    const vat = (...busy: [number, number][]) => ({ ...pot('V', 1_000, ...busy), kind: 'vat' });
    const rows = [
      pour('POUR', 2),
      pour('MIX', 8, { held: ['POUR'], vesselKind: 'vat' }),
      job('FILL', 9, { held: ['MIX'] }),
    ];
    expect(placed(rows, { vessels: [pot('P', 1_000), vat([20, 25])] })).toMatchObject({
      MIX: { day: 8, vessel: 'V', emptied: 9 },
      FILL: { day: 9 },
    });
    // filled on day 9 it would be out in time, but the bench is full: both go after the booking
    expect(placed(rows, { vessels: [pot('P', 1_000), vat([10, 12])], ...full(8, 9) })).toMatchObject({
      MIX: { day: 13, emptied: 14 },
      FILL: { day: 14 },
    });
  });
});

describe('who comes first', () => {
  it('is who is due first, whatever it is called', () => {
    // on day 1 nobody works, and a day holds one of them
    const rows = [job('A', 1, wholeDay), job('B', 0, wholeDay)];
    expect(days(placed(rows, { closed: [1] }))).toEqual({ A: 2, B: 0 });
  });

  it('is not what draws on an early batch, if it need not be filled from its vessel', () => {
    const rows = [job('A', 2), job('Z', 9, { from: ['A'], ...wholeDay }), job('X', 8, wholeDay)];
    expect(days(placed(rows, { closed: [9] }))).toEqual({ A: 2, X: 8, Z: 7 });
    expect(held(placed(rows, { closed: [9] }))).toEqual({ A: null, X: null, Z: null });
  });
});
