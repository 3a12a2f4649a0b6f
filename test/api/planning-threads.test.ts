import { setImmediate as othersTurn } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Piscina } from 'piscina';
import { Scheduler } from '../../src/kernel/plan/schedule.js';
import type { Committed, RunView } from '../../src/planning/planning.schema.js';
import { planned as plannedHere } from '../../src/planning/proposals.js';
import { PlanningThreads } from '../../src/planning/threads/planning-threads.js';
import { SweepService } from '../../src/reminders/sweep.service.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { type Other, otherConnection } from '../support/interleaved.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';
import { until } from '../support/until.js';
import { randomWorkshop } from '../support/workshop.js';

// whoever plans in the thread that answers requests gets nothing
const HELD_UP = 'this thread answers requests, and is held up by planning';

const WEEK = '2026-03-09';
const LINES = 3_000;

/** What a plan waits for before it says what it means for order lines, so that a test finds it under way. */
const HOLD = `select pg_advisory_xact_lock(hashtext('lotwright.line-cover'))`;

let shop: TestApp;

beforeEach(async () => {
  vi.spyOn(Scheduler.prototype, 'place').mockImplementation(() => {
    throw new Error(HELD_UP);
  });
  shop = await startTestApp({ filled: SMALL_SHOP, isQuiet: true, hasOwnThreads: true });
});

afterEach(() => {
  vi.restoreAllMocks();
  return shop.close();
});

const draft = () =>
  shop.request<RunView & { code?: string; detail?: string }>('POST', '/api/runs', { weekStart: WEEK });
const poolOf = (app: TestApp) => app.app.get<unknown, { pool?: Promise<Piscina> }>(PlanningThreads).pool;
const threadsOf = async () => (await poolOf(shop))?.threads ?? [];

describe('whoever asks for what is planned', () => {
  it('is answered by another thread: drafts, late lines, what to order, reminders, and what is set aside anew', async () => {
    await order(shop, '1002', 5, '2026-03-03');
    expect(() => plannedHere(randomWorkshop(1, { products: 3, lines: 3 }))).toThrow(HELD_UP);
    expect(await threadsOf()).toEqual([]);
    const first = await draft();
    expect(first.status, first.text).toBe(201);
    expect(first.headers['content-type']).toBe('application/json; charset=utf-8');
    expect(await shop.request('GET', `/api/runs/${first.body.id}`)).toMatchObject({ text: first.text });
    expect((await threadsOf()).length).toBe(1);

    const late = await shop.request('GET', `/api/late-lines/${encodeURIComponent('shop/1002/CEDAR-100#1')}`);
    expect(late.body).toMatchObject({ way: { now: { because: 'rest' } } });
    const list = await shop.request<{ rows: unknown[] }>('GET', '/api/reorder');
    expect(list.status, list.text).toBe(200);
    expect((await shop.request('GET', '/api/reorder/items/CEDAR')).body).toMatchObject({ history: [] });
    expect(await shop.app.get(SweepService).sweep()).toMatchObject({ found: expect.any(Number) });

    await order(shop, '1003', 5, '2026-03-19');
    expect((await shop.request('POST', `/api/runs/${first.body.id}/commit`)).body).toMatchObject({ code: 'stale' });
    const anew = await shop.request<Committed>('POST', `/api/runs/${first.body.id}/commit?replan=true`);
    expect(anew.status, anew.text).toBe(200);
    expect(anew.body.changed).toContainEqual({ what: 'lines', key: 'shop/1003/CEDAR-100#1', change: 'added' });
  });

  it('does not keep others waiting', async () => {
    await shop.database.query(
      `with placed as (
         insert into customer_order (channel, number, placed_on, status, created_by)
         select 'shop', 'M' || n, date '2026-03-01', 'confirmed', 'test' from generate_series(1, ${LINES}) n returning id)
       insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
       select placed.id, i.code, i.id, 1, date '2026-03-20' + (placed.id % 60)::int
       from placed, item i where i.code = 'CEDAR-100'`,
    );
    const answered = new AbortController();
    const planned = draft().finally(() => answered.abort());
    let between = 0;
    while (!answered.signal.aborted) {
      expect((await shop.request('GET', '/health/live')).status).toBe(200);
      if (!answered.signal.aborted) between++;
      // a request without a network is answered before anything else has its turn
      await othersTurn();
    }
    const { status, body } = await planned;
    expect([status, body.proposal.lines.length]).toEqual([201, LINES + 1]);
    expect(between).toBeGreaterThan(5);
  });

  it('has the same answer as whoever asks at the same time, though they are more than threads', async () => {
    const answers = await Promise.all([draft(), draft(), draft(), draft(), draft()]);
    expect(answers.map(({ status }) => status)).toEqual([201, 201, 201, 201, 201]);
    for (const { body } of answers) expect(body.proposal).toEqual(answers[0].body.proposal);
    expect((await threadsOf()).length).toBe(2);
    expect((await draft()).body.id).toBe(Math.max(...answers.map(({ body }) => body.id)));
  });

  it('is told what cannot be planned as ever', async () => {
    const late = await shop.request('GET', '/api/late-lines/none');
    expect(late).toMatchObject({
      status: 404,
      body: {
        code: 'not-found',
        detail: 'There is no order line to be planned called none.',
        instance: '/api/late-lines/none',
      },
    });
  });
});

it('plans on another connection where its own was cut', async () => {
  const first = await draft();
  const cut = await shop.database.query(
    `select pg_terminate_backend(pid) from pg_stat_activity
     where datname = current_database() and application_name = 'lotwright'`,
  );
  expect(cut.length).toBeGreaterThan(0);
  await until(
    () => shop.request('GET', '/health/ready'),
    ({ status }) => status === 200,
  );
  const [thread] = await threadsOf();
  await order(shop, '1002', 1, '2026-03-20');
  const second = await draft();
  expect(second.status, second.text).toBe(201);
  expect(second.body.proposal.lines.length).toBe(first.body.proposal.lines.length + 1);
  expect(await threadsOf()).toEqual([thread]);
});

describe('a thread', () => {
  let other: Other;

  beforeEach(async () => {
    other = await otherConnection(shop);
    await other.query('begin');
    await other.query(HOLD);
  });

  afterEach(() => other.end());

  /** What was to be kept is given up, and the next plan is made as if nothing had been. */
  const goesOn = async (): Promise<void> => {
    await other.query('rollback');
    const next = await draft();
    expect(next.status, next.text).toBe(201);
    expect(next.body.proposal.lines).toMatchObject([{ key: 'shop/1001/CEDAR-100#1', missing: 0 }]);
    const runs = await shop.database.query('select id from run');
    expect(runs).toEqual([{ id: next.body.id }]);
  };

  it('that ends while it plans is told of, and the next plan is made by another', async () => {
    const planned = draft();
    await other.waiting(1);
    await (await threadsOf())[0]!.terminate();
    expect(await planned).toMatchObject({
      status: 503,
      body: {
        code: 'cannot-plan-now',
        detail: 'What was planning it has stopped, so there is no plan just now. Try again.',
      },
    });
    expect(await threadsOf()).toEqual([]);
    await goesOn();
  });

  it('knows which request it acts for: its twin is told that it is under way, and later what was answered', async () => {
    const headers = { 'idempotency-key': 'twin' };
    const asked = () => shop.request<{ code?: string }>('POST', '/api/runs', { weekStart: WEEK }, headers);
    const planned = asked();
    await other.waiting(1);
    expect(await asked()).toMatchObject({ status: 409, body: { code: 'still-running' } });
    await other.query('rollback');
    const { status, text } = await planned;
    expect(status, text).toBe(201);
    expect(await asked()).toMatchObject({ status: 201, text, headers: { 'idempotency-hit': 'true' } });
  });

  it('that plans for too long is ended', async () => {
    const late = new AbortController();
    const timeout = vi.spyOn(AbortSignal, 'timeout').mockReturnValueOnce(late.signal);
    const planned = draft();
    await other.waiting(1);
    expect(timeout).toHaveBeenCalledOnce();
    timeout.mockRestore();
    late.abort();
    expect(await planned).toMatchObject({
      status: 503,
      body: { code: 'cannot-plan-now', detail: 'It took too long, so there is no plan just now. Try again.' },
    });
    await goesOn();
  });

  it('ends with the application, and none starts any more', async () => {
    const planned = draft();
    await other.waiting(1);
    const ended = Promise.all((await threadsOf()).map((each) => new Promise((resolve) => each.once('exit', resolve))));
    await shop.app.close();
    expect(await ended).toHaveLength(1);
    expect((await planned).status).toBe(503);
    expect(await threadsOf()).toEqual([]);
    const asked = shop.app.get(PlanningThreads).ask({ name: 'draft', answer: async () => {} }, {});
    await expect(asked).rejects.toMatchObject({ status: 503 });
    await other.query('rollback');
    const open = () =>
      shop.database.query(
        `select from pg_stat_activity where datname = current_database() and application_name = 'lotwright'`,
      );
    await until(open, (rows) => rows.length === 0);
  });
});
