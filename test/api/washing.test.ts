import { beforeEach, describe, expect, it } from 'vitest';
import type { BatchView } from '../../src/bench/bench.schema.js';
import type { ChangedBatch, Committed, RunView } from '../../src/planning/planning.schema.js';
import type { WashingView } from '../../src/catalog/washing.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { carry, weighAll } from '../support/batch-acts.js';
import { benchOf } from '../support/bench.js';
import { pageText, sendForm } from '../support/page-forms.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  return () => app.close();
});

interface Problem {
  code: string;
  errors?: { pointer: string }[];
}

const put = (body: unknown) => app.request<WashingView & Problem>('PUT', '/api/washing', body);
const list = async () => (await app.request<{ washing: WashingView[] }>('GET', '/api/washing')).body.washing;
const WEEK = '2026-03-09';
const draft = async (): Promise<RunView> => (await app.request<RunView>('POST', '/api/runs', { weekStart: WEEK })).body;
const commit = (id: number) =>
  app.request<Committed & { changed: { what: string }[] }>('POST', `/api/runs/${id}/commit`);
const committed = async (): Promise<Committed> => {
  const answer = await commit((await draft()).id);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};
const change = (run: number, code: string, body: unknown) =>
  app.request<ChangedBatch>('POST', `/api/runs/${run}/batches/${code}/change`, body);

/** What committed batches in vessels have to wash, by item. */
const kept = () =>
  app.database.query(
    `select i.code as item, b.day, b.minutes, b.wash_minutes as washing, w.code as after
     from batch b join item i on i.id = b.item_id left join item w on w.id = b.wash_after_id
     where b.vessel_id is not null and b.status <> 'cancelled' order by b.day, i.code`,
  );

/** A light spray beside the cedar, which is heavy, in the same jug, and an order for it. */
async function withMint(): Promise<void> {
  const post = async (url: string, body: unknown): Promise<void> => {
    const { status, text } = await app.request('POST', url, body);
    expect(status, `${url} ${text}`).toBeLessThan(300);
  };
  const spray = { family: 'spray' };
  await post('/api/items', { code: 'MINT-BULK', name: 'Mint spray', kind: 'bulk', measure: 'weighed', ...spray });
  await post('/api/items', { code: 'MINT-100', name: 'Mint 100 ml', kind: 'product', measure: 'counted', ...spray });
  await post('/api/items/MINT-BULK/formulas', {
    vesselKind: 'jug',
    batchMin: '500 g',
    batchMultiple: '100 g',
    minutesBatch: 50,
    restDays: 0,
    lines: [{ item: 'ALCOHOL', basis: 'qs', isBase: true }],
  });
  await post('/api/items/MINT-100/formulas', {
    batchMin: 1,
    secondsUnit: 30,
    lines: [
      { item: 'MINT-BULK', basis: 'each', amount: '90 g' },
      { item: 'BOTTLE', basis: 'each', amount: 1 },
    ],
  });
  for (const [item, scent] of [
    ['MINT-BULK', 'Light'],
    ['CEDAR-BULK', ' heavy '],
  ])
    expect((await app.request('PATCH', `/api/items/${item}`, { scent })).status).toBe(200);
  const lines = [{ code: 'MINT-100', quantity: 5, shipBy: '2026-03-24' }];
  await post('/api/orders', { channel: 'shop', number: 'M1', customer: 'B. Customer', lines });
  // cedar cannot wait until mint is made, which would need no washing
  await app.database.query(`update order_line set ship_by = '2026-03-05' where shop_code = 'CEDAR-100'`);
}

const HEAVY_TO_LIGHT = { afterScent: 'heavy', beforeScent: 'light', minutes: 30 };

describe('the washing table', () => {
  it('keeps one row for one thing: said again, the newer minutes stand', async () => {
    expect(await list()).toEqual([]);
    const first = await put({ ...HEAVY_TO_LIGHT, afterScent: ' Heavy' });
    expect(first).toMatchObject({
      status: 200,
      body: { vessel: null, kind: null, afterFamily: null, afterScent: 'heavy', beforeScent: 'light', minutes: 30 },
    });
    const again = await put({ ...HEAVY_TO_LIGHT, minutes: 45 });
    expect(again.body).toEqual({ ...first.body, minutes: 45 });
    await put({ ...HEAVY_TO_LIGHT, vessel: 'JUG', minutes: 10 });
    await put({ ...HEAVY_TO_LIGHT, kind: 'jug', minutes: 20 });
    await put({ minutes: 0 });
    // anything last, and the vessel before its kind before any
    expect((await list()).map(({ minutes }) => minutes)).toEqual([10, 20, 45, 0]);
  });

  it('takes a row away once', async () => {
    const { body } = await put(HEAVY_TO_LIGHT);
    expect((await app.request('DELETE', `/api/washing/${body.id}`)).status).toBe(204);
    expect((await app.request('DELETE', `/api/washing/${body.id}`)).status).toBe(404);
    expect(await list()).toEqual([]);
  });

  it.each([
    ['/minutes', { ...HEAVY_TO_LIGHT, minutes: 1441 }],
    ['/minutes', { ...HEAVY_TO_LIGHT, minutes: -1 }],
    ['/vessel', { ...HEAVY_TO_LIGHT, vessel: 'TUB' }],
    ['/kind', { ...HEAVY_TO_LIGHT, vessel: 'JUG', kind: 'jug' }],
    ['/afterScent', { ...HEAVY_TO_LIGHT, afterFamily: 'spray' }],
    ['/beforeScent', { ...HEAVY_TO_LIGHT, beforeFamily: 'spray' }],
    ['/afterFamily', { afterFamily: 'perfume', minutes: 5 }],
    ['/afterScent', { afterScent: 'x'.repeat(41), minutes: 5 }],
    ['/beforeScent', { beforeScent: ' ', minutes: 5 }],
  ])('refuses what is wrong at %s', async (pointer, body) => {
    const answer = await put(body);
    expect(answer.status).toBe(422);
    expect(answer.body.errors!.map((error) => error.pointer)).toEqual([pointer]);
    expect(await list()).toEqual([]);
  });

  it('is held by the database too', async () => {
    const insert = (columns: string, values: string) =>
      app.database.query(
        `select set_config('lotwright.who', 'somebody', true); insert into washing (${columns}) values (${values})`,
      );
    await expect(insert('minutes', '1441')).rejects.toMatchObject({ code: '23514' });
    await expect(insert('after_family, after_scent, minutes', `'spray', 'heavy', 5`)).rejects.toMatchObject({
      code: '23514',
    });
    await put({ minutes: 5 });
    await expect(insert('minutes', '7')).rejects.toMatchObject({ code: '23505' });
  });
});

describe('a workshop that says nothing of washing', () => {
  it('has plans that say nothing of it either, whatever scents its things have', async () => {
    const before = await draft();
    await app.request('PATCH', '/api/items/CEDAR-BULK', { scent: 'heavy' });
    // nothing that it is planned from is different
    expect((await draft()).id).toBe(before.id);
    expect(JSON.stringify(before.proposal)).not.toMatch(/wash/);
    expect(await app.database.query(`select snapshot ? 'washing' as said from run`)).toEqual([{ said: false }]);
  });
});

describe('a plan by a washing table', () => {
  beforeEach(async () => {
    await withMint();
    await put(HEAVY_TO_LIGHT);
  });

  it('washes on the day of the next pour, and says so wherever its minutes are', async () => {
    const run = await draft();
    const pours = run.proposal.batches.filter(({ vessel }) => vessel !== null);
    const [cedar, mint] = ['CEDAR-BULK', 'MINT-BULK'].map((of) => pours.find(({ item }) => item === of)!);
    expect([cedar!.day! < mint!.day!, cedar!.vessel, mint!.vessel]).toEqual([true, 'JUG', 'JUG']);
    expect(cedar).toMatchObject({ minutes: 40 });
    expect(cedar!.wash).toBeUndefined();
    // it rests seven days in the jug, so that the mint is poured in a later week
    expect(mint).toMatchObject({ minutes: 80, wash: { minutes: 30, after: 'CEDAR-BULK' } });
  });

  it('is stale once anything else is said of it', async () => {
    const run = await draft();
    await put({ ...HEAVY_TO_LIGHT, minutes: 31 });
    expect(await commit(run.id)).toMatchObject({
      status: 409,
      body: { changed: [{ what: 'washing', key: 'washing', change: 'changed' }] },
    });
    await draft();
    const compared = await pageText(app, `/week/${WEEK}/compare`);
    expect(compared).toContain('What is said of washing, or stands in a vessel: changed');
  });
});

describe('a committed week', () => {
  let run: Committed;
  const batchOf = (item: string) => run.batches.find((batch) => batch.item === item)!;

  beforeEach(async () => {
    await withMint();
    await put(HEAVY_TO_LIGHT);
    // both within one week
    await app.request('POST', '/api/items/CEDAR-BULK/formulas', {
      vesselKind: 'jug',
      batchMin: '500 g',
      batchMultiple: '100 g',
      minutesBatch: 40,
      restDays: 0,
      lines: [
        { item: 'ALCOHOL', basis: 'qs', isBase: true },
        { item: 'CEDAR', basis: 'load', amount: '5 %' },
      ],
    });
    await app.database.query(`select set_config('lotwright.who', 'test', false);
      update order_line set ship_by = '2026-03-09'
        where order_id = (select id from customer_order where number = '1001');
      update order_line set ship_by = '2026-03-14' where order_id = (select id from customer_order where number = 'M1')`);
    run = await committed();
  });

  const CEDAR = { item: 'CEDAR-BULK', minutes: 40, washing: 0, after: null };
  const MINT = { item: 'MINT-BULK', minutes: 80, washing: 30, after: 'CEDAR-BULK' };

  it('keeps the minutes of washing with the batch they are for', async () => {
    expect(await kept()).toMatchObject([CEDAR, MINT]);
    const { day } = batchOf('MINT-BULK');
    const [used] = await app.database.query<{ minutes: number }>(
      'select sum(minutes)::int as minutes from batch where day = $1',
      [day],
    );
    const week = await pageText(app, `/week/${WEEK}`);
    expect(week).toContain('Wash JUG first: 30 minutes, after Cedar spray.');
    expect(week).toContain(`${used!.minutes} of 480 bench minutes</a><span>, 30 of them for washing`);
    expect(await pageText(app, `/why/bench/${day}`)).toContain('Wash JUG first: 30 minutes, after Cedar spray.');
    // the next plan counts them, and promises none of these minutes to others
    const [making] = await app.database.query<{ washing: unknown; minutes: number }>(
      `select snapshot -> 'washing' -> 'making' as washing,
         (select (m ->> 'minutes')::int from jsonb_array_elements(snapshot -> 'making') m
          where m ->> 'item' = 'MINT-BULK') as minutes from run where id = $1`,
      [(await draft()).id],
    );
    expect(making).toEqual({ washing: [{ code: batchOf('MINT-BULK').code, minutes: 30 }], minutes: 80 });
  });

  it('is told at the bench, on the sheet and in the answer, until something is in', async () => {
    const { code } = batchOf('MINT-BULK');
    const batch = await app.request<BatchView>('GET', `/api/batches/${code}`);
    expect(batch.body.wash).toEqual({ minutes: 30, after: 'Cedar spray' });
    const words = 'Wash JUG first: 30 minutes, after Cedar spray.';
    expect(await pageText(app, `/batches/${code}`)).toContain(words);
    const sheet = await pageText(app, `/batches/${code}/sheet`);
    expect(sheet.indexOf(words)).toBeGreaterThan(0);
    expect(sheet.indexOf(words)).toBeLessThan(sheet.indexOf('What goes in'));
    await weighAll(benchOf(app), code);
    expect(await pageText(app, `/batches/${code}`)).not.toContain(words);
    expect((await app.request<BatchView>('GET', `/api/batches/${batchOf('CEDAR-BULK').code}`)).body.wash).toBeNull();
  });

  it('washes for what follows now, where a batch is cancelled, moved or given another vessel', async () => {
    const mint = batchOf('MINT-BULK');
    const cedar = batchOf('CEDAR-BULK');
    // another jug, in which nothing stood
    await app.request('POST', '/api/vessels', { code: 'JUG-2', kind: 'jug', capacity: '5 kg' });
    const preview = await change(run.id, mint.code, { vessel: 'JUG-2', preview: true });
    expect(preview.body).toMatchObject({ vessel: 'JUG-2', wash: null });
    expect(await kept()).toMatchObject([CEDAR, MINT]);
    expect((await change(run.id, mint.code, { vessel: 'JUG-2' })).status).toBe(200);
    expect(await kept()).toMatchObject([CEDAR, { ...MINT, minutes: 50, washing: 0, after: null }]);
    const back = await change(run.id, mint.code, { vessel: 'JUG' });
    expect(back.body.wash).toEqual({ minutes: 30, after: 'CEDAR-BULK' });
    expect(await kept()).toMatchObject([CEDAR, MINT]);
    // as large again, it needs as much washing
    await change(run.id, mint.code, { output: '600 g' });
    expect(await kept()).toMatchObject([CEDAR, MINT]);
    await change(run.id, cedar.code, { cancel: true });
    expect(await kept()).toMatchObject([{ ...MINT, minutes: 50, washing: 0, after: null }]);
  });

  it('can wash no longer than it takes, and after something', async () => {
    const update = (what: string) => app.database.query(`update batch set ${what} where run_id = ${run.id}`);
    await expect(update('wash_minutes = minutes + 1, wash_after_id = item_id')).rejects.toMatchObject({
      code: '23514',
    });
    await expect(update('wash_minutes = 5, wash_after_id = null')).rejects.toMatchObject({ code: '23514' });
    await expect(update('wash_minutes = 0, wash_after_id = item_id')).rejects.toMatchObject({ code: '23514' });
  });

  it('is washed for what was emptied out of its vessel last, once that is made', async () => {
    await carry(benchOf(app), batchOf('CEDAR-BULK').code);
    const mint = batchOf('MINT-BULK');
    const moved = await change(run.id, mint.code, { day: '2026-03-12' });
    expect(moved.body.wash).toEqual({ minutes: 30, after: 'CEDAR-BULK' });
    await draft();
    const held = await app.database.query(
      `select snapshot -> 'washing' -> 'held' as held from run order by id desc limit 1`,
    );
    expect(held).toEqual([{ held: [{ vessel: 'JUG', item: 'CEDAR-BULK' }] }]);
  });

  it('needs no washing after what a plan had made that is taken back', async () => {
    await put({ afterScent: 'light', beforeScent: 'heavy', minutes: 10 });
    await order(app, '1003', 5, '2026-03-19');
    const later = await app.request<RunView>('POST', '/api/runs', { weekStart: '2026-03-16' });
    expect((await commit(later.body.id)).status).toBe(200);
    expect(await kept()).toMatchObject([CEDAR, MINT, { ...CEDAR, minutes: 50, washing: 10, after: 'MINT-BULK' }]);
    expect((await app.request('POST', `/api/runs/${run.id}/undo`, { why: 'a change of mind' })).status).toBe(200);
    expect(await kept()).toMatchObject([CEDAR]);
  });
});

describe('the page', () => {
  it('writes rows down and takes them away, in plain words', async () => {
    await withMint();
    const sent = await sendForm(app, '/start/washing', {
      after: 'scent:heavy',
      before: 'scent:light',
      where: 'kind:jug',
      minutes: '30',
    });
    expect(sent).toMatchObject({ status: 303, location: '/start/washing?said=row' });
    await sendForm(app, '/start/washing', { after: 'family:candle', before: '', where: 'vessel:JUG', minutes: '0' });
    const page = await pageText(app, '/start/washing?said=row');
    expect(page).toContain('After a heavy scent, before a light one, in any jug: 30 minutes.');
    expect(page).toContain('After a candle, before anything, in JUG: no washing.');
    expect(page).toContain('heavy: Cedar spray');
    const [row] = await list();
    expect(await sendForm(app, '/start/washing/gone', { id: String(row!.id) })).toMatchObject({ status: 303 });
    expect(await list()).toHaveLength(1);
    expect(await pageText(app, '/start')).toContain('href="/start/washing"');
  });

  it('says beside its field what is wrong', async () => {
    const row = { after: '', before: '', where: 'vessel:TUB', minutes: '20' };
    const refused = await sendForm(app, '/start/washing', row);
    expect(refused.status).toBe(422);
    expect(refused.text).toContain('There is no vessel TUB.');
    const long = await sendForm(app, '/start/washing', { ...row, where: '', minutes: '2000' });
    expect(long.status).toBe(422);
    expect(long.text).toContain('id="row-minutes-fault"');
    expect(await list()).toEqual([]);
  });

  it('writes down what a thing smells of, and forgets it', async () => {
    const scentOf = async () => (await app.request<{ scent: string }>('GET', '/api/items/CEDAR-BULK')).body.scent;
    await sendForm(app, '/start/washing/scent', { item: 'cedar-bulk', scent: 'Heavy' });
    expect(await scentOf()).toBe('heavy');
    const nobody = await sendForm(app, '/start/washing/scent', { item: 'NOBODY', scent: 'heavy' });
    expect(nobody.status).toBe(422);
    expect(nobody.text).toContain('There is nothing called NOBODY.');
    await sendForm(app, '/start/washing/scent', { item: 'CEDAR-BULK', scent: '' });
    expect(await scentOf()).toBeNull();
  });
});
