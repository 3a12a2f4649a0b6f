import { beforeEach, describe, expect, it } from 'vitest';
import type { ChangedBatch, Committed, RunView, Undone } from '../../src/planning/planning.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  return () => app.close();
});

const draft = async (weekStart: string): Promise<RunView> =>
  (await app.request<RunView>('POST', '/api/runs', { weekStart })).body;
const commit = (id: number, query = '') => app.request<Committed>('POST', `/api/runs/${id}/commit${query}`);
const committed = async (weekStart: string) => {
  const answer = await commit((await draft(weekStart)).id);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};
const change = (run: number, code: string, body: unknown) =>
  app.request<ChangedBatch & { code: string }>('POST', `/api/runs/${run}/batches/${code}/change`, body);
const undo = (id: number) => app.request<Undone>('POST', `/api/runs/${id}/undo`, { why: 'a change of mind' });
const reserved = () =>
  app.database.query(
    `select coalesce(l.code, b.code) as source, r.open from reservation r left join lot l on l.id = r.lot_id
     left join batch b on b.id = r.batch_id where r.open > 0 order by 1, 2`,
  );

describe('a draft whose stock has changed', () => {
  it('is answered with what changed, and nothing is written', async () => {
    const run = await draft('2026-03-09');
    await app.request('POST', '/api/lots', { item: 'CEDAR', code: 'CED-MORE', quantity: '50 g', expiresOn: null });
    await app.request('POST', '/api/lots/CED-OLD/status', { to: 'held', why: 'smells odd' });
    await order(app, '1002', 2, '2026-03-20');
    expect(await commit(run.id)).toMatchObject({
      status: 409,
      body: {
        code: 'stale',
        changed: [
          { what: 'lots', key: 'CED-MORE', change: 'added' },
          { what: 'lots', key: 'CED-OLD', change: 'gone' },
          { what: 'lines', key: 'shop/1002/CEDAR-100#1', change: 'added' },
        ],
      },
    });
    expect(await reserved()).toEqual([]);
  });

  it('is planned again in the same call where asked for', async () => {
    const run = await draft('2026-03-09');
    await app.request('POST', '/api/lots/CED-OLD/status', { to: 'held', why: 'smells odd' });
    const answer = await commit(run.id, '?replan=true');
    expect(answer.body).toMatchObject({
      id: run.id,
      status: 'committed',
      changed: [{ what: 'lots', key: 'CED-OLD', change: 'gone' }],
    });
    expect(await reserved()).toEqual([
      { source: 'ALC-1', open: 857_100 },
      { source: 'CED-NEW', open: 42_900 },
    ]);
  });

  it('names the fields that differ', async () => {
    const run = await draft('2026-03-09');
    await app.request('PATCH', '/api/items/CEDAR-100', { policy: 'to-stock', target: 12 });
    expect((await commit(run.id)).body).toMatchObject({
      changed: [
        {
          what: 'items',
          key: 'CEDAR-100',
          change: 'changed',
          was: { policy: 'to-order', target: 0 },
          now: { policy: 'to-stock', target: 12 },
        },
      ],
    });
  });
});

describe('POST /api/runs/{id}/undo', () => {
  it('gives back everything and cancels the batches', async () => {
    const run = await committed('2026-03-09');
    expect(await undo(run.id)).toMatchObject({
      status: 200,
      body: { status: 'undone', cancelled: ['B26071-01'], freed: 3, broken: [] },
    });
    expect(await reserved()).toEqual([]);
    const again = await draft('2026-03-09');
    expect(again.proposal.batches.map((batch) => batch.item)).toEqual(['CEDAR-BULK', 'CEDAR-100']);
    expect((await undo(run.id)).body).toMatchObject({ code: 'not-committed' });
  });

  it('says what of later plans waits for its batches in vain', async () => {
    const pour = await committed('2026-03-09');
    await committed('2026-03-16');
    const answer = await undo(pour.id);
    expect(answer.body.broken).toEqual([
      { item: 'CEDAR-BULK', quantity: 900_000, needOn: '2026-03-19', batch: 'B26078-01', order: null },
    ]);
  });
});

describe('POST /api/runs/{id}/batches/{code}/change', () => {
  it('moves a batch, keeps the lots that still fit and replaces the one that would expire', async () => {
    await app.request('POST', '/api/lots', {
      item: 'CEDAR',
      code: 'CED-MID',
      quantity: '40 g',
      expiresOn: '2026-04-30',
    });
    const run = await committed('2026-03-09');
    const before = await reserved();
    // the old lot is good until the 20th: on the 24th its part comes from the next to expire
    const answer = await change(run.id, 'B26071-01', { day: '2026-03-24', preview: true });
    expect(answer.body).toMatchObject({
      day: '2026-03-24',
      readyOn: '2026-03-31',
      taken: [
        { item: 'CEDAR', lot: 'CED-MID', quantity: 27_100 },
        { item: 'CEDAR', lot: 'CED-NEW', quantity: 2_900 },
      ],
      freed: [{ item: 'CEDAR', lot: 'CED-OLD', quantity: 30_000 }],
    });
    expect(await reserved()).toEqual(before);
    expect((await change(run.id, 'B26071-01', { day: '2026-03-24' })).status).toBe(200);
    expect(await reserved()).toEqual([
      { source: 'ALC-1', open: 857_100 },
      { source: 'CED-MID', open: 12_900 },
      { source: 'CED-MID', open: 27_100 },
      { source: 'CED-NEW', open: 2_900 },
    ]);
  });

  it('refuses a day before the bulk is ready, one after it is needed, and one that is over', async () => {
    const pour = await committed('2026-03-09');
    const fill = await committed('2026-03-16');
    expect((await change(fill.id, 'B26078-01', { day: '2026-03-18' })).body).toMatchObject({ code: 'not-ready' });
    expect((await change(pour.id, 'B26071-01', { day: '2026-03-13' })).body).toMatchObject({ code: 'needed-earlier' });
    expect((await change(pour.id, 'B26071-01', { day: '2026-02-27' })).status).toBe(422);
    expect((await change(pour.id, 'B26071-01', { day: '2026-03-10' })).body).toMatchObject({ readyOn: '2026-03-17' });
  });

  it('says which orders a later filling makes late', async () => {
    await committed('2026-03-09');
    const fill = await committed('2026-03-16');
    expect((await change(fill.id, 'B26078-01', { day: '2026-03-23' })).body).toMatchObject({
      late: [{ order: 'shop 1001', shipBy: '2026-03-20', readyOn: '2026-03-23' }],
      minutesUsed: 5,
      minutesOpen: 480,
    });
  });

  it('makes more or less of it, taking and giving back the difference only', async () => {
    const run = await committed('2026-03-09');
    const more = await change(run.id, 'B26071-01', { output: '1.1 kg' });
    // 1100 g at 5 % on the base: 1047.6 g and 52.4 g; 190.5 g and 9.5 g more than for 900 g
    expect(more.body).toMatchObject({
      output: 1_100_000,
      taken: [
        { item: 'ALCOHOL', lot: 'ALC-1', quantity: 190_500 },
        { item: 'CEDAR', lot: 'CED-NEW', quantity: 9_500 },
      ],
      freed: [],
    });
    const less = await change(run.id, 'B26071-01', { output: '900 g' });
    expect(less.body.taken).toEqual([]);
    expect(less.body.freed.reduce((sum, row) => sum + row.quantity, 0)).toBe(200_000);
    expect((await change(run.id, 'B26071-01', { output: '6 kg' })).body).toMatchObject({ code: 'vessel-too-small' });
    expect((await change(run.id, 'B26071-01', { output: '4 kg' })).body).toMatchObject({ code: 'short' });
  });

  it('never makes less than is promised', async () => {
    const pour = await committed('2026-03-09');
    await committed('2026-03-16');
    expect((await change(pour.id, 'B26071-01', { output: '500 g' })).body).toMatchObject({ code: 'promised' });
  });

  it('refuses a vessel that another batch is in', async () => {
    const run = await committed('2026-03-09');
    await order(app, '1002', 6, '2026-04-10');
    const next = await committed('2026-03-30');
    const pour = next.batches.find((batch) => batch.item === 'CEDAR-BULK')!;
    expect((await change(next.id, pour.code, { day: '2026-03-16' })).body).toMatchObject({
      code: 'vessel-taken',
      batch: run.batches[0]!.code,
    });
  });

  it('cancels one batch and says whom it leaves waiting', async () => {
    const pour = await committed('2026-03-09');
    const fill = await committed('2026-03-16');
    const answer = await change(fill.id, 'B26078-01', { cancel: true });
    expect(answer.body).toMatchObject({
      status: 'cancelled',
      broken: [{ item: 'CEDAR-100', quantity: 10, order: 'shop 1001', batch: null }],
      freed: [
        { lot: 'BOT-1', quantity: 10 },
        { lot: 'B26071-01', quantity: 900_000 },
      ],
    });
    expect((await change(fill.id, 'B26078-01', { day: '2026-03-19' })).body).toMatchObject({ code: 'begun' });
    expect((await change(pour.id, 'B99999-01', { cancel: true })).status).toBe(404);
  });

  it('refuses bad input', async () => {
    const run = await committed('2026-03-09');
    const url = `/api/runs/${run.id}/batches/B26071-01/change`;
    expect(await faultsOnBadInput(app, 'POST', url, { day: '2026-03-11', preview: true })).toEqual([]);
    expect(await faultsOnBadInput(app, 'POST', `/api/runs/${run.id}/undo`, { why: 'x' })).toEqual([]);
    expect((await change(run.id, 'B26071-01', {})).status).toBe(422);
  });
});

describe('what a batch is made for', () => {
  it('follows the batch that takes less of it, or none', async () => {
    const demo = await startTestApp({ today: '2026-11-25', filled: DEMONSTRATION });
    try {
      const { body: run } = await demo.request<RunView>('POST', '/api/runs', {});
      expect((await demo.request('POST', `/api/runs/${run.id}/commit`)).status).toBe(200);
      const fed = await demo.database.query<{ id: number; code: string; output: number }>(
        `select distinct b.id, b.code, b.output from batch b join peg p on p.for_batch_id = b.id
         where b.promised * 4 <= b.output * 3 order by b.id`,
      );
      expect(fed.length).toBeGreaterThan(1);
      for (const [at, { id, code, output }] of fed.entries()) {
        const before = await pegsOf(demo, id);
        const body = at % 2 ? { cancel: true } : { output: Math.ceil((output * 3) / 4) };
        const answer = await demo.request('POST', `/api/runs/${run.id}/batches/${code}/change`, {
          ...body,
          why: 'less',
        });
        expect(answer.status, answer.text).toBe(200);
        const after = await pegsOf(demo, id);
        expect(after.pegged).toBeLessThan(before.pegged);
        expect(after.pegged).toBe(after.promised);
        expect(after.stock - before.stock).toBe(before.pegged - after.pegged);
      }
    } finally {
      await demo.close();
    }
  });
});

/** What other batches are to make for this one, what they promised it, and what all batches are to make for stock. */
async function pegsOf(demo: TestApp, batch: number): Promise<{ pegged: number; promised: number; stock: number }> {
  const rows = await demo.database.query<{ pegged: number; promised: number; stock: number }>(
    `select (select coalesce(sum(quantity), 0) from peg where for_batch_id = $1)::bigint as pegged,
       (select coalesce(sum(r.open), 0) from reservation r join batch_input i on i.id = r.batch_input_id
         where i.batch_id = $1 and r.batch_id is not null)::bigint as promised,
       (select coalesce(sum(quantity), 0) from peg where num_nonnulls(order_line_id, for_batch_id) = 0
         and batch_id <> $1)::bigint as stock`,
    [batch],
  );
  return rows[0]!;
}
