import { describe, expect, it } from 'vitest';
import { days, type Drawing, guided, held, job, placed, pot } from '../support/schedule-rows.js';

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

describe('a pot', () => {
  it('stays with what else is filled from it, whatever is decanted for others', () => {
    // FILL has until day 8, so that the mix waits for the pot of A until day 9
    const rows = [pour('A', 3), pour('B', 4), job('FILL', 8, { held: ['A'] }), pour('MIX', 6, { held: ['A', 'B'] })];
    expect(placed(rows, { vessels: [pot('P', 1_000), pot('Q', 1_000)] })).toMatchObject({
      A: { day: 3, emptied: 8 },
      FILL: { day: 8 },
      MIX: { day: 9, vessel: 'P', heldUpBy: 'no-vessel' },
    });
  });

  it('is not kept for a filling that has no day', () => {
    // Z takes longer than any day, and so nothing is filled with it
    const rows = [
      pour('POUR', 2),
      job('Z', 4, { minutes: 121 }),
      job('FILL', 5, { held: ['POUR'], from: ['Z'] }),
      pour('NEXT', 6),
    ];
    expect(placed(rows, { vessels: [pot('P', 1_000)] })).toMatchObject({
      POUR: { day: 2, emptied: 3 },
      Z: { day: null, heldUpBy: 'too-long' },
      FILL: { day: null, heldUpBy: 'source' },
      NEXT: { day: 6, vessel: 'P' },
    });
  });

  it.each([0, 20])('and bench are free again after a try that failed, from day %d on', (start) => {
    // filled by day 6 before the pot is booked: FIRST would fit on day 5, SECOND would not, so both go after the booking
    const rows = [
      pour('POUR', start + 2, { restDays: 3 }),
      job('FIRST', start + 5, { held: ['POUR'] }),
      job('SECOND', start + 6, { held: ['POUR'], ...wholeDay }),
      job('X', start + 5),
    ];
    const usedMinutes = new Map([
      [start + 5, 60],
      [start + 6, 120],
    ]);
    const setting = { start, usedMinutes, vessels: [pot('P', 1_000, [start + 7, start + 9])] };
    expect(days(placed(rows, setting))).toEqual({
      POUR: start + 10,
      FIRST: start + 13,
      SECOND: start + 14,
      X: start + 5,
    });
  });
});

it('works on no closed day, though it took no minute', () => {
  expect(days(placed([job('A', 5, { minutes: 0 })], { closed: [5] }))).toEqual({ A: 4 });
});

it('gives up what is over for good, wherever its source goes in the end', () => {
  // OLD is good until day 2; the other filling finds no whole day before the pot is booked, so that the pour waits for that
  const rows = [
    pour('POUR', 2),
    job('OLD', 3, { held: ['POUR'], goodUntil: 2 }),
    job('FILL', 4, { held: ['POUR'], ...wholeDay }),
  ];
  const usedMinutes = new Map([
    [2, 60],
    [3, 60],
  ]);
  const placings = placed(rows, { usedMinutes, vessels: [pot('P', 1_000, [4, 6])] });
  expect(days(placings)).toEqual({ POUR: 7, OLD: null, FILL: 8 });
  expect(placings).toMatchObject({ OLD: { heldUpBy: 'expires' }, POUR: { emptied: 8 } });
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

it('keeps its pot for a mix that was tried on another day before', () => {
  // MIX is tried in Q on day 3, and FILL has no day before Q is booked: only Q is free for it later, P holds A
  const rows = [
    job('A', 2, { vesselKind: 'pot' }),
    job('MIX', 3, { vesselKind: 'pot', held: ['A'] }),
    job('FILL', 4, { held: ['MIX'], earliest: 8 }),
  ];
  expect(placed(rows, { vessels: [pot('P', 1_000), pot('Q', 1_000, [6, 6])] })).toMatchObject({
    A: { day: 2, vessel: 'P', emptied: 7 },
    MIX: { day: 7, vessel: 'Q', emptied: 8 },
    FILL: { day: 8 },
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

describe('a guide', () => {
  const pots = { vessels: [pot('P', 1_000), pot('Q', 1_000), pot('R', 2_000)] };

  it('leaves the smallest vessels to others, so many of them, as long as a larger one is free', () => {
    const vessel = (leaves: number, setting = pots) => guided([pour('A', 5)], { A: { leaves } }, setting).A!.vessel;
    expect([0, 1, 2, 3, 4].map((leaves) => vessel(leaves))).toEqual(['P', 'Q', 'R', 'P', 'Q']);
    expect([0, 1].map((leaves) => vessel(leaves, { vessels: [pot('P', 1_000), pot('Q', 1_000)] }))).toEqual(['P', 'Q']);
    expect(vessel(1, { vessels: [pot('P', 1_000)] })).toBe('P');
    expect(vessel(1, { vessels: [pot('P', 1_000), pot('Q', 1_000, [0, 99])] })).toBe('P');
  });

  it('makes a batch as early as there is room, or so many days after', () => {
    const day = (waits: number, rest: Partial<Drawing> = {}) =>
      guided([job('A', 9, { earliest: 2, ...rest })], { A: { early: true, waits } }).A!.day;
    expect([day(0), day(3)]).toEqual([2, 5]);
    // as long as what it is made of is good
    expect([day(3, { goodUntil: 4 }), day(9, { goodUntil: 4 })]).toEqual([4, 4]);
    expect(guided([job('A', 9)], { A: { early: true } }, full(0, 1)).A).toMatchObject({ day: 2, heldUpBy: null });
  });

  it('lets what is filled early leave its vessel early', () => {
    // filled on day 8 as usual, the pour must stand there until then, and the pot is booked from day 5 to day 9
    const rows = [pour('POUR', 2), job('FILL', 8, { held: ['POUR'] })];
    const setting = { vessels: [pot('P', 1_000, [5, 9])] };
    expect(days(placed(rows, setting))).toEqual({ POUR: 10, FILL: 11 });
    expect(days(guided(rows, { FILL: { early: true } }, setting))).toEqual({ POUR: 2, FILL: 3 });
    // what only draws on it later from another container does not keep it
    const drawn = [pour('POUR', 2), job('DRAW', 8, { from: ['POUR'] })];
    expect(days(placed(drawn, setting))).toEqual({ POUR: 2, DRAW: 8 });
  });
});

describe('how long what is drawn keeps', () => {
  it('counts from its day until it is taken, which may be after the day of the batch', () => {
    const rows = (after: number) => [
      job('BASE', 2, { keepsDays: 5 }),
      job('PACK', 9, { from: ['BASE'], after, ...wholeDay }),
    ];
    // from day 2 it is good until day 7
    expect(days(placed(rows(0)))).toEqual({ BASE: 2, PACK: 7 });
    expect(days(placed(rows(3)))).toEqual({ BASE: 2, PACK: 4 });
    expect(placed(rows(3), full(3, 4)).PACK).toMatchObject({ day: null, heldUpBy: 'expires', roomOn: 9 });
  });
});

it('is late by what kept it from its day: nobody works, no vessel, no room at the bench', () => {
  // the day after its latest, on which the bench is free, is the first the pot is
  expect(placed([pour('A', 2)], { vessels: [pot('P', 1_000, [0, 2])] }).A).toMatchObject({
    day: 3,
    heldUpBy: 'no-vessel',
  });
  expect(placed([job('A', 2)], full(0, 1, 2)).A).toMatchObject({ day: 3, heldUpBy: 'bench-full' });
  expect(placed([job('A', -1)], { closed: [0, 1, 2] }).A).toMatchObject({ day: 3, heldUpBy: 'rest' });
  expect(placed([job('A', 3, { minutes: 120 })]).A).toMatchObject({ day: 3, heldUpBy: null });
});

describe('how far ahead a day is looked for', () => {
  const long = (count: number) =>
    Array.from({ length: count }, (_, n) => pour(`A${String(n).padStart(2, '0')}`, 0, { restDays: 399 }));
  const others = [1, 2, 3, 4, 5].map((n) => ({ ...pot(`V${n}`, 1_000), kind: 'vat' }));

  it('is two years, and longer for what stands long in one pot, one after the other', () => {
    expect(Object.values(days(placed(long(3), { vessels: [pot('P', 1_000), ...others] })))).toEqual([0, 400, 800]);
    expect(placed([job('A', 0)], { openMinutes: (day) => (day < 729 ? 0 : 120) }).A!.day).toBe(729);
    expect(placed([job('A', 0)], { openMinutes: (day) => (day < 730 ? 0 : 120) }).A!.day).toBeNull();
  });

  it('is twice as long as all of them take, in as many pots as there are', () => {
    // three of 400 days in one pot are 2,400, and six in two as well
    const first = (count: number, codes: string[], until: number) =>
      placed(long(count), { vessels: [...codes.map((code) => pot(code, 1_000, [0, until])), ...others] })['A00']!.day;
    expect([first(3, ['P'], 2_398), first(3, ['P'], 2_399)]).toEqual([2_399, null]);
    expect([first(6, ['P', 'Q'], 2_398), first(6, ['P', 'Q'], 2_399)]).toEqual([2_399, null]);
  });

  it('is 4,000 days at most', () => {
    const found = Object.values(placed(long(11), { vessels: [pot('P', 1_000)] }));
    expect(found.map(({ day }) => day)).toEqual([0, 400, 800, 1_200, 1_600, 2_000, 2_400, 2_800, 3_200, 3_600, null]);
    expect(found.at(-1)!.heldUpBy).toBe('no-vessel');
  });
});
