import { beforeAll, describe, expect, it } from 'vitest';
import type { Rescaled, ReadyDays, Weighed } from '../../src/bench/bench.schema.js';
import type { BatchRecord } from '../../src/bench/record.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { benchOf, commitSmallShop } from '../support/bench.js';
import type { ProblemBody } from '../support/shelf.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const bench = benchOf(app);
const { get, receive } = shelfOf(app);
const { weigh, finish, refused } = bench;

let pour: string;
let fill: string;
beforeAll(async () => ({ pour, fill } = await commitSmallShop(app)));

const as = (who: string) => ({ 'lotwright-person': who });

describe('a lot that may not be used', () => {
  it('is refused with the reason and another lot that may', async () => {
    const post = (lot: string, batch = pour, position = 2) =>
      app.request<ProblemBody & { instead: { lot: string; free: number; place: string } | null }>(
        'POST',
        `/api/batches/${batch}/weighings`,
        { position, lot, quantity: '1 g' },
      );
    // what is set aside for the line comes first, though another keeps shorter
    const wrong = await post('ALC-1');
    expect([wrong.status, wrong.body.code]).toEqual([409, 'other-item']);
    expect(wrong.body.instead).toMatchObject({ lot: 'CED-OLD', free: 30_000, place: '' });
    const held = await receive('CEDAR', 1000);
    await bench.done(`/api/lots/${held}/status`, { to: 'held', why: 'smells odd' });
    const refusal = await post(held);
    expect([refusal.body.code, refusal.body.instead?.lot]).toEqual(['lot-not-released', 'CED-OLD']);
    const old = await receive('CEDAR', 1000, { receivedOn: '2026-02-01', expiresOn: '2026-03-01' });
    expect((await post(old)).body).toMatchObject({ code: 'past-its-date', instead: { lot: 'CED-OLD' } });
    expect((await post('NOBODY')).body).toMatchObject({ code: 'unknown-lot', instead: { lot: 'CED-OLD' } });
    // the bulk is not made yet: nothing fits
    expect((await post('ALC-1', fill, 1)).body).toMatchObject({ code: 'other-item', instead: null });
  });
});

describe('an overweighing', () => {
  it('says what it does to the formula, beside the limits of use, and offers to rescale the rest', async () => {
    await bench.done('/api/items/CEDAR/use-limits', {
      category: 'room spray',
      limit: '5 %',
      source: 'certificate of the invented supplier',
      dated: '2026-01-01',
    });
    const first = await weigh(pour, 2, 'CED-OLD', 30_000);
    expect(first.effect.canRescale).toBe(false);
    const over = await weigh(pour, 2, 'CED-NEW', 19_300, { further: true, off: true });
    // 49 300 of 906 400 instead of 42 900 of 900 000
    expect(over.effect.lines).toEqual([
      { position: 1, item: 'ALCOHOL', meantPpb: 952_333_333, sharePpb: 945_609_003 },
      { position: 2, item: 'CEDAR', meantPpb: 47_666_667, sharePpb: 54_390_997 },
    ]);
    expect(over.effect.fragrances).toEqual([
      { item: 'CEDAR', sharePpb: 54_390_997, limits: [{ category: 'room spray', limitPpb: 50_000_000, isOver: true }] },
    ]);
    expect(over.effect.canRescale).toBe(true);
  });

  it('rescales what is not weighed yet, keeps what was meant, and sets more aside', async () => {
    const { changed, effect, batch } = await bench.done<Rescaled>(`/api/batches/${pour}/rescale`, {
      why: 'too much cedar',
    });
    // 857 100 x 49 300 / 42 900 = 984 965.7, to the step of the scale
    expect(changed).toEqual([{ position: 1, from: 857_100, to: 985_000 }]);
    expect(effect.canRescale).toBe(false);
    expect(effect.fragrances[0]).toMatchObject({ limits: [{ isOver: false }] });
    expect(batch.inputs[0]).toMatchObject({
      quantity: 985_000,
      meant: 857_100,
      reserved: [{ quantity: 857_100 }, { quantity: 127_900 }],
    });
    expect(await refused(`/api/batches/${fill}/rescale`)).toBe('409 nothing-to-rescale');
  });

  it('gives back what the rest no longer takes', async () => {
    await openBatch(app, 'S-1', [
      { item: 'CEDAR', quantity: 10_000 },
      { item: 'ALCOHOL', quantity: 90_000 },
    ]);
    await bench.done('/api/lots/ALC-1/reservations', { batch: 'S-1', position: 2, quantity: 90_000 });
    await weigh('S-1', 1, 'CED-NEW', 9_000, { isAll: true, off: true });
    const { changed, batch } = await bench.done<Rescaled>('/api/batches/S-1/rescale');
    expect(changed).toEqual([{ position: 2, from: 90_000, to: 81_000 }]);
    expect(batch.inputs[1]!.reserved).toMatchObject([{ quantity: 81_000 }]);
    expect(await faultsOnBadInput(app, 'POST', '/api/batches/S-1/rescale', { why: 'x' })).toEqual([]);
  });
});

describe('a weight below the smallest of the scale', () => {
  it('is advised against on the sheet', async () => {
    await openBatch(app, 'S-2', [{ item: 'CEDAR', quantity: 400 }]);
    expect((await bench.batch('S-2')).inputs[0]!.advice.join(' ')).toMatch(/finer scale.*predilution.*larger batch/);
    expect((await bench.batch(pour)).inputs[0]!.advice).toEqual([]);
  });
});

describe('a pause', () => {
  it('stops weighing and closing until somebody resumes', async () => {
    await openBatch(app, 'P-1', [{ item: 'ALCOHOL', quantity: 100 }]);
    expect(await refused('/api/batches/P-1/pause', { note: 'lunch' })).toBe('409 wrong-state');
    expect(await refused('/api/batches/P-1/resume')).toBe('409 not-paused');
    await weigh('P-1', 1, 'ALC-1', 60);
    const paused = await app.request('POST', '/api/batches/P-1/pause', { note: 'lunch' }, as('Ann'));
    expect([paused.status, paused.body.isPaused]).toEqual([200, true]);
    const rest = { position: 1, lot: 'ALC-1', quantity: 40, further: true };
    expect(await refused('/api/batches/P-1/weighings', rest)).toBe('409 paused');
    expect(await refused('/api/batches/P-1/finish', { made: 100 })).toBe('409 paused');
    expect(await refused('/api/batches/P-1/pause', { note: 'again' })).toBe('409 paused');
    expect((await app.request('POST', '/api/batches/P-1/resume', {}, as('Ben'))).status).toBe(200);
    await weigh('P-1', 1, 'ALC-1', 40, { further: true });
    const { pauses } = await get<BatchRecord>('/api/batches/P-1/record');
    expect(pauses).toMatchObject([{ note: 'lunch', by: 'Ann', resumed: { by: 'Ben' } }]);
    expect(await faultsOnBadInput(app, 'POST', '/api/batches/P-1/pause', { note: 'x' })).toEqual([]);
  });
});

describe('tap water', () => {
  it('is written down at the batch, taken back there, and counts as planned where nobody weighed it', async () => {
    await shelfOf(app).item('TAP', { measure: 'weighed', stocked: false });
    const lines = [
      { item: 'ALCOHOL', quantity: 1000 },
      { item: 'TAP', quantity: 500 },
    ];
    await openBatch(app, 'T-1', lines);
    const url = '/api/batches/T-1/weighings';
    expect(await refused(url, { position: 2, lot: 'ALC-1', quantity: 1 })).toBe('422 not-stocked');
    expect(await refused(url, { position: 1, quantity: 1 })).toBe('422 no-lot');
    const water = (quantity: number, rest = {}) => bench.done<Weighed>(url, { position: 2, quantity, ...rest });
    await water(700, { off: true });
    expect(await refused(url, { position: 2, quantity: 1 })).toBe('409 already-weighed');
    expect(await refused(url, { position: 2, quantity: 701, takesBack: true })).toBe('409 not-enough');
    await water(700, { takesBack: true });
    const { batch } = await water(520);
    expect(batch.inputs[1]).toMatchObject({ weighed: 520, done: true });
    await weigh('T-1', 1, 'ALC-1', 1000);
    expect((await finish('T-1', 1520)).closing).toMatchObject({ putInMg: 1520, unbookedMg: 520, lossMg: 0 });
    await openBatch(app, 'T-2', lines);
    await weigh('T-2', 1, 'ALC-1', 1000);
    expect((await finish('T-2', 1500)).closing).toMatchObject({ putInMg: 1500, unbookedMg: 500 });
  });
});

describe('GET /api/batches/{code}/record', () => {
  it('holds everything: formula, lots, weights, people, times, corrections, deviations, yield, cost, release', async () => {
    const over = await app.request<Weighed>(
      'POST',
      `/api/batches/${pour}/weighings`,
      { position: 1, lot: 'ALC-1', quantity: '98.5 g' },
      as('Ann'),
    );
    await bench.done(`/api/movements/${over.body.movements[0]}/correct`, { reason: 'typed wrong' });
    await weigh(pour, 1, 'ALC-1', '985 g');
    await finish(pour, '1030 g', { density: '0.83 g/ml' });
    await bench.check(pour);
    await bench.release(pour, { why: 'the fair' });
    const record = await get<BatchRecord>(`/api/batches/${pour}/record`);
    expect(record).toMatchObject({
      batch: pour,
      status: 'released',
      item: 'CEDAR-BULK',
      name: 'Cedar spray',
      formulaVersion: 1,
      vessel: 'JUG',
      madeFor: [{ for: 'shop 1001', quantity: 900_000 }],
      people: ['Ann', 'workshop'],
      closing: { putInMg: 1_034_300, made: 1_030_000, lossMg: 4_300, densityUgPerMl: 830_000, by: 'workshop' },
      outputs: [{ kind: 'made', item: 'CEDAR-BULK', quantity: 1_030_000, status: 'released', usedIn: [] }],
      bestBefore: { keepsUntil: null, materialsUntil: '2026-03-20', expiresOn: null },
      checks: { missing: [], failed: [], isReleasable: true },
    });
    expect(record.lines[0]).toMatchObject({ meant: 857_100, target: 985_000, weighed: 985_000, isOff: false });
    expect(record.lines[0]!.entries).toMatchObject([
      { lot: 'ALC-1', quantity: 98_500, by: 'Ann', doneOn: TODAY, takenBack: { why: 'typed wrong', by: 'workshop' } },
      { lot: 'ALC-1', quantity: 857_100, by: 'workshop', takenBack: null },
      { lot: 'ALC-1', quantity: 127_900, takenBack: null },
    ]);
    expect(record.lines[1]).toMatchObject({ target: 42_900, weighed: 49_300, isOff: true });
    expect(record.deviations).toMatchObject([
      {
        position: 2,
        note: '49.3 g of Cedar oil went in instead of 42.9 g, 6.4 g too much; 42.5 to 43.3 g is good',
        by: 'workshop',
        at: record.lines[1]!.entries.at(-1)!.at,
      },
      { note: 'rest of the batch rescaled: too much cedar', targets: [{ position: 1, from: 857_100, to: 985_000 }] },
    ]);
    expect(record.states.map(({ from, to, why }) => [from, to, why])).toEqual([
      ['planned', 'reserved', ''],
      ['reserved', 'weighed', ''],
      ['weighed', 'resting', ''],
      ['resting', 'released', 'the fair'],
    ]);
    const { totalE4, materialsE4, labourE4, perUnitE4 } = record.cost!;
    expect([totalE4, labourE4]).toEqual([materialsE4, 0]);
    expect(perUnitE4).toBe(Math.round((totalE4 * 1_000_000) / 1_030_000));
    expect((await app.request('GET', '/api/batches/NOBODY/record')).status).toBe(404);
  });
});

describe('GET /api/batches/ready', () => {
  it('lists what becomes ready each day', async () => {
    await openBatch(app, 'RD-1', [{ item: 'ALCOHOL', quantity: 100 }]);
    const { days } = await get<ReadyDays>(`/api/batches/ready?from=2026-03-01&to=2026-03-31`);
    expect(days.map(({ day }) => day)).toEqual([TODAY, '2026-03-09', '2026-03-19']);
    expect(days[1]!.batches).toContainEqual({
      code: 'RD-1',
      item: 'BULK',
      name: 'Bulk',
      family: 'other',
      status: 'reserved',
      quantity: 1000,
      promised: 0,
      lot: null,
    });
    expect(days[2]!.batches).toMatchObject([{ code: fill, item: 'CEDAR-100', quantity: 10, promised: 10 }]);
    expect((await app.request('GET', '/api/batches/ready?from=2026-03-02&to=2026-03-01')).status).toBe(422);
    expect((await app.request('GET', '/api/batches/ready?from=1926-03-02&to=2026-03-01')).status).toBe(422);
  });
});
