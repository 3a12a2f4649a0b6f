import { describe, expect, it } from 'vitest';
import { Washing } from '../../src/kernel/plan/washing.js';
import { type Drawing, guided, job, placed, pot } from '../support/schedule-rows.js';
import { wash, washingBy } from '../support/washing.js';

const HEAVY_FIRST = [wash('heavy', 'light', 45), wash('light', 'heavy', 10)];
const SCENTS = { MINT: 'light', FERN: 'light', SMOKE: 'heavy', EMBER: 'heavy', MIX: null, A: null, B: null };
const washing = (...rows: typeof HEAVY_FIRST) => new Washing(washingBy(rows, SCENTS));

const pour = (of: string, latest: number, rest: Partial<Drawing> = {}) =>
  job(of, latest, { vesselKind: 'pot', minutes: 60, ...rest });
/** Minutes that are taken already, of the 120 of a day. */
const taken = (minutes: Record<number, number>) => ({
  usedMinutes: new Map(Object.entries(minutes).map(([day, used]) => [Number(day), used])),
});

describe('a day of 120 minutes', () => {
  it('holds a pour and the washing after what stood there, and no minute less', () => {
    const vessels = [{ ...pot('P', 1_000), held: 'SMOKE' }];
    const rows = [pour('MINT', 3)];
    const by = { vessels, washing: washing(...HEAVY_FIRST) };
    expect(placed(rows, { ...by, ...taken({ 3: 15 }) })).toMatchObject({ MINT: { day: 3 } });
    expect(placed(rows, { ...by, ...taken({ 3: 16 }) })).toMatchObject({ MINT: { day: 2 } });
  });

  it('that is too full to wash one pot gives its pour another', () => {
    const vessels = [
      { ...pot('P', 1_000), held: 'SMOKE' },
      { ...pot('Q', 2_000), held: 'FERN' },
    ];
    const by = { vessels, washing: washing(...HEAVY_FIRST) };
    expect(placed([pour('MINT', 3)], { ...by, ...taken({ 3: 16 }) })).toMatchObject({ MINT: { day: 3, vessel: 'Q' } });
    // which it takes on an empty day too, since that needs no washing
    expect(placed([pour('MINT', 3)], by)).toMatchObject({ MINT: { day: 3, vessel: 'Q' } });
    expect(placed([pour('EMBER', 3)], by)).toMatchObject({ EMBER: { day: 3, vessel: 'P' } });
    // where both need as much, the smallest
    expect(placed([pour('MIX', 3)], by)).toMatchObject({ MIX: { day: 3, vessel: 'P' } });
  });

  it('leaves the smallest pot to others where the guide says so, washing or not', () => {
    const vessels = [
      { ...pot('P', 1_000), held: 'FERN' },
      { ...pot('Q', 2_000), held: 'SMOKE' },
    ];
    const by = { vessels, washing: washing(...HEAVY_FIRST) };
    expect(guided([pour('MINT', 3)], { MINT: { leaves: 1 } }, by)).toMatchObject({ MINT: { vessel: 'Q' } });
    expect(guided([pour('MINT', 3)], {}, by)).toMatchObject({ MINT: { vessel: 'P' } });
  });

  it('has no room on any day for what cannot be washed within one, and says so', () => {
    const by = { vessels: [{ ...pot('P', 1_000), held: 'SMOKE' }], washing: washing(wash('heavy', 'light', 61)) };
    expect(placed([pour('MINT', 3)], by)).toMatchObject({ MINT: { day: null, heldUpBy: 'washing' } });
    expect(placed([pour('EMBER', 3)], by)).toMatchObject({ EMBER: { day: 3, heldUpBy: null } });
  });

  it('makes a pour late for want of minutes to wash, and says so', () => {
    const by = { vessels: [{ ...pot('P', 1_000), held: 'SMOKE' }], washing: washing(...HEAVY_FIRST) };
    const found = placed([pour('MINT', 1)], { ...by, ...taken({ 0: 20, 1: 20, 2: 20 }) });
    expect(found).toMatchObject({ MINT: { day: 3, heldUpBy: 'washing' } });
    // on a bench that is full anyway, it is the bench
    const full = placed([pour('MINT', 1)], { ...by, ...taken({ 0: 100, 1: 100 }) });
    expect(full).toMatchObject({ MINT: { day: 2, heldUpBy: 'bench-full' } });
  });
});

describe('what was late for washing that another pour made needless', () => {
  it('says so, for the bench has room on its day now', () => {
    // MINT needs 45 minutes on day 5 after SMOKE, so that PACK goes on day 6; FERN then comes between
    const rows = [pour('MINT', 5), job('PACK', 5, { earliest: 5 }), pour('FERN', 9, { tier: 1 })];
    const by = { vessels: [{ ...pot('P', 1_000), held: 'SMOKE' }], washing: washing(...HEAVY_FIRST) };
    expect(placed(rows, by)).toMatchObject({
      MINT: { day: 5 },
      FERN: { day: 0 },
      PACK: { day: 6, heldUpBy: 'washing' },
    });
    expect(placed(rows.slice(0, 2), by)).toMatchObject({ PACK: { day: 6, heldUpBy: 'bench-full' } });
  });
});

describe('a pour in between', () => {
  const making = (minutes: number, on: number) => ({ from: on, to: on, key: 'B1', item: 'FERN', washing: minutes });

  it('takes the minutes from the one that follows it in the plan', () => {
    // MINT is placed first, on day 5; EMBER then stands before it, so that MINT needs 45 minutes on day 5
    const rows = [pour('MINT', 5), pour('EMBER', 6, { latest: 6, tier: 1 })];
    const by = { vessels: [pot('P', 1_000)], washing: washing(...HEAVY_FIRST) };
    expect(placed(rows, by)).toMatchObject({ MINT: { day: 5 }, EMBER: { day: 0 } });
    // with 16 minutes taken there, MINT could not be washed for on day 5: EMBER comes after it
    expect(placed(rows, { ...by, ...taken({ 5: 16 }) })).toMatchObject({ MINT: { day: 5 }, EMBER: { day: 6 } });
    expect(placed(rows, { ...by, ...taken({ 5: 15 }) })).toMatchObject({ MINT: { day: 5 }, EMBER: { day: 0 } });
  });

  it('gives back what the one that follows needs no more', () => {
    // SMOKE stood there: MINT needs 45 minutes on day 5 until FERN, of its scent, stands between, which takes them on day 0
    const vessels = [{ ...pot('P', 1_000), held: 'SMOKE' }];
    const rows = [
      pour('MINT', 5),
      pour('FERN', 9, { tier: 1 }),
      job('LABELS', 5, { tier: 2, minutes: 60, earliest: 5 }),
    ];
    const by = { vessels, washing: washing(...HEAVY_FIRST) };
    expect(placed(rows, by)).toMatchObject({ MINT: { day: 5 }, FERN: { day: 0 }, LABELS: { day: 5 } });
    expect(placed([rows[0]!, rows[2]!], by)).toMatchObject({ MINT: { day: 5 }, LABELS: { day: 6 } });
  });

  it('needs room on the day of a batch in the making that then needs more than it was promised', () => {
    const rows = [pour('EMBER', 3)];
    const by = { vessels: [{ ...pot('P', 1_000, [5, 5]), busy: [making(5, 5)] }], washing: washing(...HEAVY_FIRST) };
    expect(placed(rows, { ...by, ...taken({ 5: 80 }) })).toMatchObject({ EMBER: { day: 3 } });
    expect(placed(rows, { ...by, ...taken({ 5: 81 }) })).toMatchObject({ EMBER: { day: 6, heldUpBy: 'washing' } });
    // and leaves it what it was promised where it needs less
    const less = { ...by, vessels: [{ ...pot('P', 1_000), held: 'SMOKE', busy: [making(45, 5)] }] };
    const after = [pour('MINT', 3), job('LABELS', 5, { minutes: 30, earliest: 5 })];
    expect(placed(after, { ...less, ...taken({ 5: 105 }) })).toMatchObject({ MINT: { day: 3 }, LABELS: { day: 6 } });
  });

  it('is taken back with all its minutes, where what is filled from it finds no day', () => {
    // EMBER is tried on day 4 before MINT, which then takes 45 minutes of day 5; its filling has no day before 7
    const rows = [
      pour('MINT', 5),
      pour('EMBER', 7),
      job('FILL', 7, { held: ['EMBER'], earliest: 7 }),
      job('LABELS', 5, { tier: 2, minutes: 60, earliest: 5 }),
    ];
    const by = { vessels: [pot('P', 1_000)], washing: washing(...HEAVY_FIRST), ...taken({ 6: 120, 7: 120 }) };
    expect(guided(rows, { FILL: { early: true } }, by)).toMatchObject({
      MINT: { day: 5 },
      EMBER: { day: 8 },
      LABELS: { day: 5 },
    });
    // without that filling EMBER stays on day 4, and leaves no room for the labels
    const others = rows.filter(({ key }) => key !== 'FILL');
    expect(placed(others, by)).toMatchObject({ MINT: { day: 5 }, EMBER: { day: 4 }, LABELS: { day: 8 } });
  });
});
