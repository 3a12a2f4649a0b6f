import { beforeAll, describe, expect, it } from 'vitest';
import type { BatchPage, BatchView, Weighed } from '../../src/bench/bench.schema.js';
import type { Corrected } from '../../src/stock/acts.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { idOf, orderLine, reserve } from '../support/promises.js';
import type { ProblemBody } from '../support/shelf.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, item, lot, moves, receive, refused } = shelfOf(app);

const weigh = (batch: string, body: Record<string, unknown>) =>
  done<Weighed>(`/api/batches/${batch}/weighings`, { position: 1, ...body });
const refuseWeigh = (batch: string, body: Record<string, unknown>) =>
  refused(`/api/batches/${batch}/weighings`, { position: 1, ...body });
const aside = (code: string, batch: string, position: number, quantity: number) =>
  done(`/api/lots/${code}/reservations`, { batch, position, quantity });
const correct = (id: number) => done<Corrected>(`/api/movements/${id}/correct`, { reason: 'typed wrong' });

beforeAll(async () => {
  await item('OIL', { measure: 'weighed', density: '0.95 g/ml' });
  await item('ALCOHOL', { measure: 'weighed' });
  await item('BOTTLE');
  await item('TAP', { measure: 'weighed', stocked: false });
});

describe('POST /api/batches/{code}/weighings', () => {
  it('uses what is set aside for the input on that lot, and moves the batch on when its first step is all weighed', async () => {
    await openBatch(app, 'W-1', [
      { item: 'OIL', quantity: 100 },
      { item: 'ALCOHOL', quantity: 900 },
      { item: 'TAP', quantity: 50 },
      { item: 'BOTTLE', quantity: 5, step: 'fill' },
    ]);
    const oil = await receive('OIL', 300, { costE4: 1000 });
    const alcohol = await receive('ALCOHOL', 5000, { costE4: 777 });
    await aside(oil, 'W-1', 1, 60);
    await aside(oil, 'W-1', 1, 40);
    const first = await weigh('W-1', { lot: oil, quantity: '0.1 g' });
    expect(first).toMatchObject({ foundMore: 0, freed: [], batch: { status: 'reserved' } });
    expect(first.movements).toHaveLength(2);
    // floor(1000 * 60 / 300), then floor(800 * 40 / 240)
    expect(await moves(oil)).toEqual([
      ['receipt', 300, 1000],
      ['consumption', -60, -200],
      ['consumption', -40, -133],
    ]);
    expect(await lot(oil)).toMatchObject({ onHand: 200, reserved: 0, valueE4: 667 });
    expect(first.batch.inputs[0]).toEqual({
      afterRest: false,
      position: 1,
      item: 'OIL',
      name: 'OIL',
      measure: 'weighed',
      stocked: true,
      family: 'other',
      flammable: false,
      step: 'make',
      needOn: '2026-03-04',
      quantity: 100,
      meant: 100,
      tolerance: 100,
      advice: [expect.stringContaining('below 0.5 g'), expect.stringContaining('larger batch')],
      reworkLot: null,
      reserved: [],
      fitting: [],
      weighed: 100,
      lots: [{ lot: oil, quantity: 100 }],
      done: true,
    });
    // from free stock, in two goes; tap water is in no lot and the bottles come at filling
    const half = await weigh('W-1', { position: 2, lot: alcohol, quantity: 450, on: TODAY });
    expect(half.batch).toMatchObject({ status: 'reserved', inputs: [{}, { weighed: 450, done: false }, {}, {}] });
    const again = { position: 2, lot: alcohol, quantity: 450 };
    const twice = await app.request<ProblemBody & { weighed: number; entries: unknown[] }>(
      'POST',
      '/api/batches/W-1/weighings',
      again,
    );
    expect(twice.body).toMatchObject({
      status: 409,
      code: 'already-weighed',
      weighed: 450,
      entries: [{ lot: alcohol, quantity: 450, by: 'workshop' }],
    });
    const whole = await weigh('W-1', { ...again, further: true });
    expect(whole.batch.status).toBe('weighed');
    const bottles = await receive('BOTTLE', 5);
    expect((await weigh('W-1', { position: 4, lot: bottles, quantity: 5 })).batch.status).toBe('weighed');
    const changes = await app.database.query(
      `select from_status, to_status from state_change s join batch b on b.id = s.subject_id
       where s.subject = 'batch' and b.code = 'W-1'`,
    );
    expect(changes).toEqual([{ from_status: 'reserved', to_status: 'weighed' }]);
  });

  it('takes an overweighing from the latest promises of others, and says whom that hurts', async () => {
    await openBatch(app, 'W-2', [{ item: 'OIL', quantity: 100 }]);
    await openBatch(app, 'W-2B', [{ item: 'OIL', quantity: 50, needOn: '2026-03-20' }]);
    const oil = await receive('OIL', 200);
    await aside(oil, 'W-2', 1, 100);
    await aside(oil, 'W-2B', 1, 50);
    const lotId = await idOf(app, 'lot', oil);
    const orderLineId = await orderLine(app, 'OIL', 40, '2026-03-10');
    await reserve(app, [{ lotId, orderLineId, quantity: 40, needOn: '2026-03-10' }]);
    // 100 are its own and 10 are free
    const { freed, movements } = await weigh('W-2', { lot: oil, quantity: 170 });
    expect(freed).toEqual([
      { item: 'OIL', quantity: 50, needOn: '2026-03-20', batch: 'W-2B', order: null },
      { item: 'OIL', quantity: 10, needOn: '2026-03-10', batch: null, order: expect.stringMatching(/^test /) },
    ]);
    expect(movements).toHaveLength(2);
    expect(await lot(oil)).toMatchObject({ onHand: 30, reserved: 30 });
  });

  it('posts what the book did not hold as found, worth nothing, and then takes it', async () => {
    await openBatch(app, 'W-3', [{ item: 'OIL', quantity: 100 }]);
    await openBatch(app, 'W-3B', [{ item: 'OIL', quantity: 20 }]);
    const oil = await receive('OIL', 90, { costE4: 333 });
    await aside(oil, 'W-3B', 1, 20);
    const { foundMore, freed } = await weigh('W-3', { lot: oil, quantity: 101, found: true });
    expect(foundMore).toBe(11);
    expect(freed).toEqual([{ item: 'OIL', quantity: 20, needOn: '2026-03-04', batch: 'W-3B', order: null }]);
    expect(await moves(oil)).toEqual([
      ['receipt', 90, 333],
      ['count', 11, 0],
      ['consumption', -101, -333],
    ]);
    expect(await lot(oil)).toMatchObject({ onHand: 0, reserved: 0, valueE4: 0 });
  });

  it('gives back what the input no longer lacks, on whatever lot', async () => {
    await openBatch(app, 'W-4', [{ item: 'OIL', quantity: 100 }]);
    const [mine, other] = [await receive('OIL', 100), await receive('OIL', 100)];
    await aside(mine, 'W-4', 1, 100);
    await weigh('W-4', { lot: other, quantity: 30 });
    expect(await lot(mine)).toMatchObject({ reserved: 70 });
    // stopped short, and that is all that goes in
    const short = await weigh('W-4', { lot: mine, quantity: 69, isAll: true, further: true });
    expect(await lot(mine)).toMatchObject({ onHand: 31, reserved: 0 });
    expect(short.batch).toMatchObject({ status: 'weighed', inputs: [{ weighed: 99, done: true }] });
  });

  it('refuses a wrong item, a lot that may not be used, and a batch nobody weighs into', async () => {
    await openBatch(app, 'W-5', [{ item: 'OIL', quantity: 100 }]);
    await openBatch(app, 'W-6', [{ item: 'OIL', quantity: 100 }], 'planned');
    const oil = await receive('OIL', 100, { expiresOn: TODAY });
    const old = await receive('OIL', 100, { receivedOn: '2026-01-05', expiresOn: '2026-03-01' });
    const held = await receive('OIL', 100);
    await done(`/api/lots/${held}/status`, { to: 'held', why: 'x' });
    const quantity = 10;
    expect(await refuseWeigh('W-5', { lot: await receive('ALCOHOL', 50), quantity })).toBe('409 other-item');
    expect(await refuseWeigh('W-5', { lot: held, quantity })).toBe('409 lot-not-released');
    expect(await refuseWeigh('W-5', { lot: old, quantity })).toBe('409 past-its-date');
    expect(await refuseWeigh('W-6', { lot: oil, quantity })).toBe('409 wrong-state');
    expect(await refuseWeigh('W-5', { lot: oil, quantity: 0 })).toBe('422 not-positive');
    expect(await refuseWeigh('W-5', { lot: oil, quantity, position: 2 })).toBe('422 unknown-line');
    expect(await refuseWeigh('W-5', { lot: 'NOBODY', quantity })).toBe('422 unknown-lot');
    expect(await refuseWeigh('W-5', { lot: oil, quantity, on: '2026-03-03' })).toBe('422 invalid');
    expect(await refuseWeigh('W-5', { lot: oil, quantity, on: '2026-03-01' })).toBe('422 invalid');
    expect(await refuseWeigh('NOBODY', { lot: oil, quantity })).toBe('404 not-found');
    expect(await moves(held)).toHaveLength(1);
    // it was still good on that day
    await weigh('W-5', { lot: old, quantity, on: '2026-03-01' });
    await weigh('W-5', { lot: oil, quantity, further: true });
  });

  it('lets two weigh the last of a lot at once, and neither loses what was really taken', async () => {
    for (let round = 0; round < 3; round++) {
      const codes = [`T-${round}A`, `T-${round}B`];
      for (const code of codes) await openBatch(app, code, [{ item: 'OIL', quantity: 60 }]);
      const oil = await receive('OIL', 100);
      const both = await Promise.all(codes.map((code) => weigh(code, { lot: oil, quantity: 60, found: true })));
      expect(both.map(({ foundMore }) => foundMore).toSorted()).toEqual([0, 20]);
      expect(await lot(oil)).toMatchObject({ onHand: 0 });
    }
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    await openBatch(app, 'W-BAD', [{ item: 'OIL', quantity: 100 }]);
    const oil = await receive('OIL', 1_000_000);
    const body = {
      position: 1,
      lot: oil,
      quantity: '1 g',
      on: TODAY,
      isAll: false,
      further: true,
      off: true,
      found: true,
    };
    expect(await faultsOnBadInput(app, 'POST', '/api/batches/W-BAD/weighings', body)).toEqual([]);
  });
});

describe('correcting a weighing', () => {
  it('restores the input, the promise it used, and the state of the batch', async () => {
    await openBatch(app, 'C-1', [{ item: 'OIL', quantity: 100 }]);
    const oil = await receive('OIL', 300, { costE4: 1000 });
    await aside(oil, 'C-1', 1, 100);
    const { movements, batch } = await weigh('C-1', { lot: oil, quantity: 100, isAll: true });
    expect(batch.status).toBe('weighed');
    await correct(movements[0]!);
    expect(await get<BatchView>('/api/batches/C-1')).toMatchObject({
      status: 'reserved',
      inputs: [{ weighed: 0, done: false, lots: [], reserved: [{ source: oil, quantity: 100 }] }],
    });
    expect(await lot(oil)).toMatchObject({ onHand: 300, reserved: 100, valueE4: 1000 });
    expect((await weigh('C-1', { lot: oil, quantity: 100 })).batch.status).toBe('weighed');
  });

  it('leaves the promise freed where the lot may no longer keep it', async () => {
    await openBatch(app, 'C-2', [{ item: 'OIL', quantity: 100 }]);
    const oil = await receive('OIL', 300);
    await aside(oil, 'C-2', 1, 100);
    const { movements } = await weigh('C-2', { lot: oil, quantity: 40 });
    await done(`/api/lots/${oil}/status`, { to: 'held', why: 'x' });
    await correct(movements[0]!);
    expect(await lot(oil)).toMatchObject({ onHand: 300, reserved: 0 });
    const rows = await app.database.query(
      `select r.open, r.consumed, r.freed from reservation r join lot l on l.id = r.lot_id where l.code = $1`,
      [oil],
    );
    expect(rows).toEqual([{ open: 0, consumed: 0, freed: 100 }]);
  });

  it('is refused once the batch has gone on', async () => {
    await openBatch(app, 'C-3', [{ item: 'OIL', quantity: 100 }]);
    const oil = await receive('OIL', 300);
    const { movements } = await weigh('C-3', { lot: oil, quantity: 100 });
    await done('/api/batches/C-3/finish', { made: 100 });
    const url = `/api/movements/${movements[0]}/correct`;
    expect(await refused(url, { reason: 'x' })).toBe('409 wrong-state');
    expect(await lot(oil)).toMatchObject({ onHand: 200 });
  });
});

describe('a batch that is begun', () => {
  it('is neither taken back nor planned anew, not even past the service', async () => {
    await openBatch(app, 'G-1', [{ item: 'OIL', quantity: 100 }]);
    await weigh('G-1', { lot: await receive('OIL', 50), quantity: 10 });
    for (const sql of [
      `update batch set status = 'cancelled' where code = 'G-1'`,
      `update batch set status = 'planned' where code = 'G-1'`,
      `update batch set output = 2000 where code = 'G-1'`,
      `update batch_input set quantity = 5 where weighed > 0`,
    ])
      await expect(app.database.query(sql), sql).rejects.toThrow(/begun|weighed already/);
  });
});

describe('GET /api/batches', () => {
  it('lists them by code and status, page by page', async () => {
    for (const code of ['L-1', 'L-2', 'L-3']) await openBatch(app, code, [{ item: 'OIL', quantity: 1 }], 'planned');
    const page = (query: string) => get<BatchPage>(`/api/batches?${query}`);
    const first = await page('status=planned&after=L&limit=2');
    expect([first.batches.map(({ code }) => code), first.next]).toEqual([['L-1', 'L-2'], 'L-2']);
    const second = await page('status=planned&after=L-2&limit=1');
    expect(second.batches).toEqual([
      {
        code: 'L-3',
        item: 'BULK',
        status: 'planned',
        day: TODAY,
        readyOn: '2026-03-09',
        vessel: null,
        wash: null,
        output: 1000,
        made: null,
        isPaused: false,
        onHold: [],
      },
    ]);
    expect((await app.request('GET', '/api/batches?status=lost')).status).toBe(422);
    expect((await app.request('GET', '/api/batches/NOBODY')).status).toBe(404);
  });
});
