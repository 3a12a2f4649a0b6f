import { Client } from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import { TODAY, useTestApp } from '../support/app.js';
import type { Answer } from '../support/app.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';
import { openSmallShop } from '../support/small-shop.js';

const api = useTestApp();

interface ProblemBody {
  code: string;
}

const keyed = <Body = Record<string, unknown>>(key: string, url: string, body?: unknown, who = 'Ada') =>
  api.request<Body>('POST', url, body, { 'idempotency-key': key, 'lotwright-person': who });

/** As a person at a terminal sends it, without a key. */
const unkeyed = async (url: string, body: object) => {
  const { statusCode: status, headers, body: text } = await api.app.inject({ method: 'POST', url, payload: body });
  return { status, headers, text, body: {} };
};

const isHit = (answer: Answer<unknown>) => answer.headers['idempotency-hit'] === 'true';
const count = async (from: string, values: unknown[] = []) =>
  (await api.database.query<{ n: number }>(`select count(*)::int as n from ${from}`, values))[0]!.n;
const lot = (code: string, quantity: unknown = '1 kg') => ({ item: 'ALCOHOL', code, quantity });
const movementsOf = (code: string) => count('movement m join lot l on l.id = m.lot_id where l.code = $1', [code]);

beforeAll(() => openSmallShop(api));

describe('a request with a key', () => {
  it('is answered again when it comes again, to the byte, and done once', async () => {
    const first = await keyed('k-receive', '/api/lots', lot('TWICE'));
    expect(first.status).toBe(201);
    expect(first.headers).not.toHaveProperty('idempotency-hit');
    for (let again = 0; again < 3; again++) {
      const second = await keyed('k-receive', '/api/lots', lot('TWICE'));
      expect([second.status, second.text, second.headers['content-type']]).toEqual([
        201,
        first.text,
        first.headers['content-type'],
      ]);
      expect(isHit(second)).toBe(true);
    }
    expect(await movementsOf('TWICE')).toBe(1);
  });

  it('is refused with another body, or another query', async () => {
    expect((await keyed('k-other', '/api/lots', lot('OTHER'))).status).toBe(201);
    const other = await keyed<ProblemBody>('k-other', '/api/lots', lot('OTHER', '2 kg'));
    expect([other.status, other.body.code, isHit(other)]).toEqual([422, 'key-reused', false]);
    const query = await keyed<ProblemBody>('k-other', '/api/lots?x=1', lot('OTHER'));
    expect([query.status, query.body.code]).toEqual([422, 'key-reused']);
    expect(await movementsOf('OTHER')).toBe(1);
  });

  it('is another one for another person, another address, or without the key', async () => {
    const scrap = { quantity: '1 g', reason: 'spilt' };
    for (const code of ['SCOPE-1', 'SCOPE-2']) await keyed(`k-${code}`, '/api/lots', lot(code));
    const answers = [
      await keyed('k-scope', '/api/lots/SCOPE-1/scrap', scrap, 'Ada'),
      await keyed('k-scope', '/api/lots/SCOPE-1/scrap', scrap, 'Zoë'),
      await keyed('k-scope', '/api/lots/SCOPE-2/scrap', scrap, 'Ada'),
      await unkeyed('/api/lots/SCOPE-1/scrap', scrap),
      await unkeyed('/api/lots/SCOPE-1/scrap', scrap),
    ];
    expect(answers.map((answer) => [answer.status, isHit(answer)])).toEqual(answers.map(() => [201, false]));
    expect(isHit(await keyed('k-scope', '/api/lots/SCOPE-1/scrap', scrap, 'Zoë'))).toBe(true);
    expect(await movementsOf('SCOPE-1')).toBe(5);
    expect(await movementsOf('SCOPE-2')).toBe(2);
  });

  it('is the same one however its JSON and its key are spaced and quoted', async () => {
    const first = await keyed('k-space', '/api/lots', '{"item":"ALCOHOL","code":"SPACE","quantity":1000}');
    expect(first.status, first.text).toBe(415);
    const json = { 'content-type': 'application/json', 'lotwright-person': 'Ada' };
    const send = (body: string, key: string) =>
      api.request('POST', '/api/lots', body, { ...json, 'idempotency-key': key });
    expect((await send('{"item":"ALCOHOL","code":"SPACE","quantity":1000}', 'k-space')).status).toBe(201);
    expect(isHit(await send('{ "item": "ALCOHOL", "code": "SPACE", "quantity": 1000 }', '"k-space"'))).toBe(true);
  });

  it.each([
    ['empty', ''],
    ['empty in quotes', '""'],
    ['too long', 'x'.repeat(256)],
    ['not printable', 'a\tb'],
    ['not ASCII', 'schlüssel'],
    ['several', 'a, b'],
    ['an open quote', '"a'],
    ['a stray quote', 'a"b'],
    ['a wrong escape', '"a\\b"'],
    ['a parameter', '"a";b=1'],
  ])('is refused when its key is %s', async (_, key) => {
    const answer = await keyed<ProblemBody>(key, '/api/lots', lot('BAD-KEY'));
    expect([answer.status, answer.body.code]).toEqual([400, 'bad-key']);
    expect(await count(`lot where code = 'BAD-KEY'`)).toBe(0);
  });

  it('may have a key of 255 characters, with quotes and spaces in it', async () => {
    const long = 'x'.repeat(255);
    const spaced = '"a \\"key\\" \\\\ of ours"';
    for (const [key, code] of [
      [long, 'LONG'],
      [spaced, 'SPACED'],
    ] as const) {
      expect((await keyed(key, '/api/lots', lot(code))).status).toBe(201);
      expect(isHit(await keyed(key, '/api/lots', lot(code)))).toBe(true);
    }
    expect(await count('idempotency where key = $1', ['a "key" \\ of ours'])).toBe(1);
  });

  it('asks as before where it only looks, also when it looks by POST', async () => {
    const solve = { lines: [{ item: 'ALCOHOL', basis: 'qs', isBase: true }] };
    for (let again = 0; again < 2; again++) {
      const answer = await keyed('k-look', '/api/formulas/solve', solve);
      expect([answer.status, isHit(answer)]).toEqual([200, false]);
    }
    const get = await api.request('GET', '/api/lots', undefined, { 'idempotency-key': 'a\tb' });
    expect(get.status).toBe(200);
    expect(await count(`idempotency where key = 'k-look'`)).toBe(0);
  });
});

describe('twins at once', () => {
  it('have one effect between them, and each the same answer or word to wait', async () => {
    const answers = await Promise.all(
      Array.from({ length: 10 }, () => keyed<ProblemBody>('k-twin', '/api/lots', lot('TWIN'))),
    );
    const done = answers.filter((answer) => answer.status === 201);
    const fresh = done.filter((answer) => !isHit(answer));
    expect(fresh).toHaveLength(1);
    for (const answer of done) expect(answer.text).toBe(fresh[0]!.text);
    for (const answer of answers.filter((each) => each.status !== 201))
      expect([answer.status, answer.body.code]).toEqual([409, 'still-running']);
    expect(await movementsOf('TWIN')).toBe(1);
    expect(isHit(await keyed('k-twin', '/api/lots', lot('TWIN')))).toBe(true);
  });

  it('wait for one that is at work in another process, and take its answer once it is there', async () => {
    const own = `set_config('lotwright.who', 'other', true)`;
    const other = new Client({ connectionString: api.database.url });
    await other.connect();
    try {
      await other.query('begin');
      await other.query(`select ${own}, claim_key('Ada', 'POST /api/lots', 'k-away')`);
      const waiting = await keyed<ProblemBody>('k-away', '/api/lots', lot('AWAY'));
      expect([waiting.status, waiting.body.code]).toEqual([409, 'still-running']);
      expect((await keyed('k-here', '/api/lots', lot('HERE'))).status).toBe(201);
      await other.query('rollback');
    } finally {
      await other.end();
    }
    expect((await keyed('k-away', '/api/lots', lot('AWAY'))).status).toBe(201);
  });

  it('find what was committed between their look and their lock', async () => {
    // the second looks while the first has not committed, and takes the lock after it has: the row decides, not the look
    for (let round = 0; round < 20; round++) {
      const code = `RACE-${round}`;
      const first = keyed(`k-${code}`, '/api/lots', lot(code));
      await new Promise((resolve) => setTimeout(resolve, round % 7));
      const second = await keyed<ProblemBody>(`k-${code}`, '/api/lots', lot(code));
      const answer = await first;
      const outcomes = [answer, second].map((each) => each.status).sort();
      expect([
        [201, 201],
        [201, 409],
      ]).toContainEqual(outcomes);
      expect(await movementsOf(code)).toBe(1);
    }
  });
});

describe('an act that failed', () => {
  it('keeps nothing, so the mended request may use its key', async () => {
    const refused = await keyed('k-mend', '/api/lots', lot('MEND', 'much'));
    expect(refused.status).toBe(422);
    expect((await keyed('k-mend', '/api/lots', lot('MEND'))).status).toBe(201);
    expect(isHit(await keyed('k-mend', '/api/lots', lot('MEND')))).toBe(true);
  });

  it('keeps nothing when the database took it back at the end', async () => {
    const before = await count('idempotency');
    const taken = { lot: 'ALC-1', quantity: '1 g' };
    const answer = await keyed<ProblemBody>('k-gone', '/api/lots/NO-SUCH/scrap', { ...taken, reason: 'x' });
    expect(answer.status).toBeGreaterThanOrEqual(400);
    const twice = await keyed<ProblemBody>('k-same-code', '/api/lots', lot('ALC-1'));
    expect([twice.status, twice.body.code]).toEqual([409, 'already-exists']);
    expect(await count('idempotency')).toBe(before);
  });

  it('keeps nothing of a look ahead that is taken back', async () => {
    const preview = () =>
      api.request<{ written: boolean }>(
        'POST',
        '/api/orders/import?channel=shop&preview=true',
        'Order,SKU,Qty,Ship by\n7001,CEDAR-100,1,2026-04-01',
        { 'content-type': 'text/csv', 'idempotency-key': 'k-preview' },
      );
    for (let again = 0; again < 2; again++) {
      const answer = await preview();
      expect([answer.status, answer.body.written, isHit(answer)]).toEqual([200, false, false]);
    }
    expect(await count(`idempotency where key = 'k-preview'`)).toBe(0);
  });
});

describe('the week', () => {
  it('is planned, committed and taken back once each', async () => {
    const week = { weekStart: '2026-03-09' };
    const draft = await keyed<{ id: number }>('k-draft', '/api/runs', week);
    const { id } = draft.body;
    const commit = () => keyed<{ batches: unknown[] }>('k-commit', `/api/runs/${id}/commit?replan=true`);
    const first = await commit();
    expect([first.status, first.body.batches.length > 0], first.text).toEqual([200, true]);
    const reserved = await count('reservation');
    const again = await commit();
    expect([again.status, again.text, isHit(again)]).toEqual([200, first.text, true]);
    expect(await count('reservation')).toBe(reserved);
    // the draft is gone, its answer is not
    expect((await keyed('k-draft', '/api/runs', week)).text).toBe(draft.text);
    const undo = () => keyed('k-undo', `/api/runs/${id}/undo`, { why: 'the kettle leaks' });
    const undone = await undo();
    expect([undone.status, (await undo()).text]).toEqual([200, undone.text]);
    // without the key it is what it is: no committed plan any more
    expect((await unkeyed(`/api/runs/${id}/undo`, { why: 'again' })).status).toBe(409);
  });

  it('gives an answer without a body again as it was', async () => {
    const { body } = await api.request<{ id: number }>('POST', '/api/runs', { weekStart: '2026-03-16' });
    const discard = () => api.request('DELETE', `/api/runs/${body.id}`, undefined, { 'idempotency-key': 'k-discard' });
    const first = await discard();
    const again = await discard();
    expect([first.status, again.status, again.text, isHit(again)]).toEqual([204, 204, '', true]);
    expect(again.headers['content-type']).toBe(first.headers['content-type']);
  });
});

describe('a table of orders', () => {
  const rows = (quantity: number) => `Order,SKU,Qty,Ship by\n7100,CEDAR-100,${quantity},2026-04-01`;
  const send = (key: string, body: string, channel = 'shop') =>
    api.request<{ rows: { added?: number } } & ProblemBody>('POST', `/api/orders/import?channel=${channel}`, body, {
      'content-type': 'text/csv',
      'idempotency-key': key,
    });

  it('is taken in once, and the report is given again', async () => {
    const first = await send('k-import', rows(2));
    expect(first.status, first.text).toBe(200);
    const again = await send('k-import', rows(2));
    expect([again.status, again.text, isHit(again)]).toEqual([200, first.text, true]);
    const other = await send('k-import', rows(3));
    expect([other.status, other.body.code]).toEqual([422, 'key-reused']);
    expect(await count(`order_line l join customer_order o on o.id = l.order_id where o.number = '7100'`)).toBe(1);
  });

  it('has one effect when it is sent ten times at once', async () => {
    const big = `Order,SKU,Qty,Ship by\n${Array.from({ length: 500 }, (_, i) => `72${i},CEDAR-100,1,2026-04-01`).join('\n')}`;
    const answers = await Promise.all(Array.from({ length: 10 }, () => send('k-import-twin', big)));
    const done = answers.filter((answer) => answer.status === 200);
    expect(new Set(done.map((answer) => answer.text)).size).toBe(1);
    expect(done.filter((answer) => !isHit(answer))).toHaveLength(1);
    expect(answers.every((answer) => answer.status === 200 || answer.body.code === 'still-running')).toBe(true);
  });
});

describe('what is kept', () => {
  it('goes after two days, a few at a time', async () => {
    await api.database.query(`insert into idempotency (who, route, key, request_hash, status, created_at)
      select 'old', 'POST /api/lots', 'old-' || n, repeat('0', 64), 204, now() - interval '49 hours'
      from generate_series(1, 25) n`);
    await api.database.query(`insert into idempotency (who, route, key, request_hash, status, created_at)
      values ('old', 'POST /api/lots', 'young', repeat('0', 64), 204, now() - interval '47 hours')`);
    const left = () => count(`idempotency where who = 'old'`);
    // the two statements above took ten each as well
    expect(await left()).toBe(6);
    await keyed('k-prune', '/api/lots', lot('PRUNE'));
    expect(await api.database.query(`select key from idempotency where who = 'old'`)).toEqual([{ key: 'young' }]);
  });

  it('is neither changed nor taken away by the application', async () => {
    const client = new Client({ connectionString: api.database.url });
    await client.connect();
    try {
      for (const sql of ['update idempotency set status = 200', 'delete from idempotency', 'truncate idempotency'])
        await expect(client.query(sql)).rejects.toMatchObject({ code: '42501' });
    } finally {
      await client.end();
    }
  });
});

describe('a server that was started again', () => {
  let files: TestDatabase;
  beforeAll(async () => void (files = await testDatabase()));
  afterAll(() => files.drop());

  it('gives the answers of the one before', async () => {
    const config = { ...readConfig({}), today: TODAY, demo: false };
    const headers = { 'idempotency-key': 'k-restart', 'content-type': 'application/json' };
    const texts = [];
    for (let start = 0; start < 2; start++) {
      const app = await makeApplication(config, files.url, { logger: false });
      const payload = JSON.stringify({ code: 'shop', name: 'Own shop' });
      const answer = await app.inject({ method: 'POST', url: '/api/channels', headers, payload });
      texts.push([answer.statusCode, answer.body, answer.headers['idempotency-hit']]);
      await app.close();
    }
    expect(texts).toEqual([
      [201, texts[0]![1], undefined],
      [201, texts[0]![1], 'true'],
    ]);
  });
});
