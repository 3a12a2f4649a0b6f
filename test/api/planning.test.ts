import { beforeEach, describe, expect, it } from 'vitest';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Committed, RunView } from '../../src/planning/planning.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  return () => app.close();
});

const draft = async (weekStart = '2026-03-09'): Promise<RunView> => {
  const answer = await app.request<RunView>('POST', '/api/runs', { weekStart });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const commit = (id: number) => app.request<Committed & { code?: string }>('POST', `/api/runs/${id}/commit`);
const lot = async (code: string) =>
  (await app.request<{ onHand: number; reserved: number }>('GET', `/api/lots/${code}`)).body;
const reservations = () =>
  app.database.query<{ source: string; open: number }>(
    `select coalesce(l.code, b.code) as source, r.open from reservation r left join lot l on l.id = r.lot_id
   left join batch b on b.id = r.batch_id where r.open > 0 order by 1`,
  );

describe('POST /api/runs', () => {
  it('drafts the week from orders, formulas and lots, and reserves nothing', async () => {
    const run = await draft();
    expect(run).toMatchObject({ status: 'draft', weekStart: '2026-03-09', plannedOn: '2026-03-02' });
    const pour = run.proposal.batches.find((batch) => batch.item === 'CEDAR-BULK')!;
    // ship by Friday 20, one day of slack: filled on the 19th, matured seven days: poured on the 12th
    expect(pour).toMatchObject({
      day: '2026-03-12',
      readyOn: '2026-03-19',
      vessel: 'JUG',
      output: 900_000,
      short: false,
    });
    expect(pour.inputs.map((input) => [input.item, input.quantity, input.taken.map((taken) => taken.key)])).toEqual([
      ['ALCOHOL', 857_100, ['ALC-1']],
      ['CEDAR', 42_900, ['CED-OLD', 'CED-NEW']],
    ]);
    expect(await reservations()).toEqual([]);
  });

  it('plans the coming Monday, or today if it is one, where no week is named', async () => {
    const answer = await app.request<RunView>('POST', '/api/runs', {});
    expect(answer.body.weekStart).toBe('2026-03-02');
  });

  it('answers the same draft as long as nothing changes', async () => {
    const first = await draft();
    expect((await draft()).id).toBe(first.id);
    await order(app, '1002', 1, '2026-03-20');
    expect((await draft()).id).not.toBe(first.id);
  });

  it('answers no older draft where all is again as it was before the last', async () => {
    const first = await draft();
    await order(app, '1002', 1, '2026-03-20');
    const second = await draft();
    await app.request('POST', '/api/orders/shop/1002/cancel');
    const third = await draft();
    // the week shows the last draft that was made
    expect(third.id).toBeGreaterThan(second.id);
    expect(third.proposal).toEqual(first.proposal);
  });

  it('keeps the proposal as it was made', async () => {
    const run = await draft();
    const again = await app.request<RunView>('GET', `/api/runs/${run.id}`);
    expect(again.body).toEqual(run);
    const list = await app.request<{ runs: { id: number }[] }>('GET', '/api/runs');
    expect(list.body.runs.map((row) => row.id)).toEqual([run.id]);
  });

  it('refuses a week that is over, one too far ahead, and no day at all', async () => {
    for (const weekStart of ['2026-02-20', '2029-01-01', '2026-02-30', 7, null]) {
      const answer = await app.request('POST', '/api/runs', { weekStart });
      expect([400, 422]).toContain(answer.status);
      expect(answer.body).toMatchObject({ errors: [{ pointer: '/weekStart' }] });
    }
  });

  it('refuses bad input', async () => {
    expect(await faultsOnBadInput(app, 'POST', '/api/runs', { weekStart: '2026-03-09' })).toEqual([]);
  });
});

describe('the parts of a run', () => {
  it('answers needs, shortfalls and what is at risk', async () => {
    await order(app, '1002', 60, '2026-03-20');
    const run = await draft();
    const needs = await app.request<Pick<Proposal, 'needs'>>('GET', `/api/runs/${run.id}/needs`);
    expect(needs.body.needs.find((need) => need.item === 'CEDAR')).toMatchObject({
      quantity: 304_800,
      missing: 174_800,
    });
    const short = await app.request<Pick<Proposal, 'shortfalls'>>('GET', `/api/runs/${run.id}/shortfalls`);
    expect(short.body.shortfalls.map((row) => row.item)).toEqual(['CEDAR', 'BOTTLE']);
    expect(short.body.shortfalls[0]).toMatchObject({
      quantity: 174_800,
      needOn: '2026-03-12',
      orderBy: '2026-03-01',
      tooLate: true,
      packs: [{ key: 'OILS/C-118', count: 2 }],
      costE4: 420_000,
      // there is enough for the ten of 1001
      hurts: { lines: ['shop/1002/CEDAR-100#1'] },
    });
  });

  it('says of a lot that will expire unused where it could still go', async () => {
    await app.request('POST', '/api/orders/shop/1001/cancel');
    const run = await draft();
    const risk = await app.request<Pick<Proposal, 'atRisk'>>('GET', `/api/runs/${run.id}/at-risk`);
    // there is no history to say whether anything would use it
    expect(risk.body.atRisk).toEqual([
      {
        lot: 'CED-OLD',
        item: 'CEDAR',
        expiresOn: '2026-03-20',
        left: null,
        freeAfterPlan: 30_000,
        valueE4: null,
        usableIn: ['CEDAR-BULK'],
      },
    ]);
  });

  it('answers 404 for a run there is not, 422 for what is no id', async () => {
    for (const path of ['', '/needs', '/shortfalls', '/at-risk']) {
      expect((await app.request('GET', `/api/runs/999${path}`)).status).toBe(404);
      expect((await app.request('GET', `/api/runs/abc${path}`)).status).toBe(422);
      expect((await app.request('GET', `/api/runs/99999999999999999999${path}`)).status).toBe(422);
    }
  });
});

describe('POST /api/runs/{id}/commit', () => {
  it('writes the batches and sets their lots aside', async () => {
    const run = await draft();
    const answer = await commit(run.id);
    expect(answer.body).toMatchObject({
      status: 'committed',
      batches: [{ key: 'CEDAR-BULK/1', code: 'B26071-01', item: 'CEDAR-BULK', day: '2026-03-12' }],
      leftOut: [],
    });
    expect(await reservations()).toEqual([
      { source: 'ALC-1', open: 857_100 },
      { source: 'CED-NEW', open: 12_900 },
      { source: 'CED-OLD', open: 30_000 },
    ]);
    expect(await lot('CED-OLD')).toMatchObject({ onHand: 30_000, reserved: 30_000 });
    expect((await app.request<RunView>('GET', `/api/runs/${run.id}`)).body.status).toBe('committed');
  });

  it('plans what is left on top of it: nothing twice', async () => {
    await commit((await draft()).id);
    const next = await draft('2026-03-16');
    expect(next.proposal.batches.map((batch) => batch.item)).toEqual(['CEDAR-100']);
    expect(next.proposal.batches[0]).toMatchObject({ day: '2026-03-19', short: false });
    expect(next.proposal.batches[0]!.inputs[0]!.taken).toEqual([
      { from: 'making', key: 'B26071-01', quantity: 900_000 },
    ]);
    expect(await commit(next.id)).toMatchObject({ status: 200, body: { reservations: 3 } });
    const after = await draft('2026-03-16');
    expect(after.proposal.batches).toEqual([]);
    expect(after.proposal.lines).toEqual([]);
  });

  it('refuses a second time, and a draft whose stock has changed', async () => {
    const first = await draft();
    const second = await draft('2026-03-10');
    expect((await commit(first.id)).status).toBe(200);
    expect(await commit(first.id)).toMatchObject({ status: 409, body: { code: 'not-a-draft' } });
    expect(await commit(second.id)).toMatchObject({ status: 409, body: { code: 'stale' } });
    expect((await reservations()).length).toBe(3);
  });

  it('lets exactly one of two makers who commit at once win', async () => {
    const drafts = await Promise.all(['2026-03-06', '2026-03-07', '2026-03-08', '2026-03-09'].map(draft));
    const answers = await Promise.all(drafts.map((run) => commit(run.id)));
    expect(answers.map((answer) => answer.status).sort()).toEqual([200, 409, 409, 409]);
    expect((await reservations()).length).toBe(3);
  });

  it('leaves out a batch that is short, and says so', async () => {
    await app.request('POST', '/api/orders/shop/1001/cancel');
    await order(app, '1002', 40, '2026-03-20');
    const answer = await commit((await draft()).id);
    // 3.6 kg want 172 g of cedar, and there are 130 g
    expect(answer.body).toMatchObject({ batches: [], leftOut: ['CEDAR-BULK/1'], reservations: 0 });
  });

  it('gives jug and material of what is short to a pour that can be made', async () => {
    await order(app, '1002', 60, '2026-03-20');
    const answer = await commit((await draft()).id);
    // for the ten of 1001 there is cedar, and not for sixty
    expect(answer.body).toMatchObject({ batches: [{ key: 'CEDAR-BULK/1', day: '2026-03-12' }], leftOut: [] });
  });
});

describe('DELETE /api/runs/{id}', () => {
  it('throws a draft away, never what was committed', async () => {
    const run = await draft();
    expect((await app.request('DELETE', `/api/runs/${run.id}`)).status).toBe(204);
    expect((await app.request('GET', `/api/runs/${run.id}`)).status).toBe(404);
    const kept = await draft();
    await commit(kept.id);
    expect((await app.request('DELETE', `/api/runs/${kept.id}`)).status).toBe(409);
  });
});

describe('GET /api/reorder', () => {
  it('says what runs out, and what to order by when', async () => {
    await order(app, '1002', 60, '2026-03-20');
    const answer = await app.request<{ rows: { item: string }[] }>('GET', '/api/reorder');
    expect(answer.body.rows.find((row) => row.item === 'CEDAR')).toMatchObject({
      free: 130_000,
      onTheWay: 0,
      wanted: 174_800,
      runsOutOn: '2026-03-12',
      orderBy: '2026-03-01',
      overdue: true,
      packs: [{ key: 'OILS/C-118', count: 2 }],
    });
    expect(answer.body.rows.find((row) => row.item === 'ALCOHOL')).toBeUndefined();
  });
});
