import { readdir } from 'node:fs/promises';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { CONFIG, readConfig } from '../../src/config.js';
import type { Config } from '../../src/config.js';
import { Database } from '../../src/platform/database.js';
import type { CheckKindList, CheckPhoto, ChecksView } from '../../src/checks/checks.schema.js';
import { refuseUnchecked } from '../../src/checks/checks.service.js';
import { PhotoStore } from '../../src/checks/photo-store.js';
import type { KeptSample } from '../../src/checks/samples.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { exif, jpeg, png } from '../support/pictures.js';
import { shelfOf } from '../support/shelf.js';
import { openSmallShop } from '../support/small-shop.js';

const app = useTestApp();
const { done, get, refused, moves } = shelfOf(app);

/** A batch of an item with a formula, straight into the tables. */
async function batch(code: string, item: string, output: number, status = 'reserved'): Promise<void> {
  await app.database.query(
    `insert into batch (code, formula_id, item_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
     select $1, f.id, i.id, $3, '2026-02-02', '2026-02-09', '2026-02-09', $4::bigint, 0, 0
     from item i join formula f on f.item_id = i.id where i.code = $2`,
    [code, item, status, output],
  );
  await app.database.query(
    'insert into peg (batch_id, position, quantity) select id, 1, output from batch where code = $1',
    [code],
  );
}

const find = (view: ChecksView, kind: string) => view.checks.find(({ code }) => code === kind)!;
const check = (code: string, body: object) => done<ChecksView>(`/api/batches/${code}/checks`, body);

async function release(code: string): Promise<{ code: string; missing: string[]; failed: string[] } | 'released'> {
  const [row] = await app.database.query<{ id: number }>('select id from batch where code = $1', [code]);
  try {
    await app.app.get(Database).read((tx) => refuseUnchecked(tx, row!.id));
    return 'released';
  } catch (error) {
    const { code: said, extra } = error as { code: string; extra: { missing: string[]; failed: string[] } };
    return { code: said, ...extra };
  }
}

beforeAll(async () => {
  await openSmallShop(app);
  await batch('B-BULK', 'CEDAR-BULK', 2_000_000);
  await batch('B-FILL', 'CEDAR-100', 20);
  await batch('B-PLANNED', 'CEDAR-BULK', 1_000_000, 'planned');
  for (const [code, kind, family] of [
    ['CANDLE', 'product', 'candle'],
    ['SOAP', 'product', 'soap'],
    ['PLAIN', 'product', 'other'],
  ]) {
    await done('/api/items', { code, name: code, kind, measure: 'counted', family });
    await done(`/api/items/${code}/formulas`, { batchMin: 1, lines: [{ item: 'BOTTLE', basis: 'each', amount: 1 }] });
    await batch(`B-${code}`, code!, 12);
  }
});

describe('checks before release', () => {
  it('are those of what the batch makes', async () => {
    const names = async (code: string) =>
      (await get<ChecksView>(`/api/batches/${code}/checks`)).checks.map((one) => one.code);
    expect(await names('B-BULK')).toEqual(['spray-clear', 'spray-separation', 'spray-dry-down', 'spray-scent']);
    expect(await names('B-FILL')).toEqual(['spray-weights']);
    expect(await names('B-CANDLE')).toEqual([
      'candle-weights',
      'candle-flame',
      'candle-pool',
      'candle-soot',
      'candle-throw',
    ]);
    expect(await names('B-SOAP')).toEqual(['soap-cure', 'soap-zap', 'soap-ph', 'soap-weights']);
    expect(await names('B-PLAIN')).toEqual([]);
    expect(await release('B-PLAIN')).toBe('released');
  });

  it('refuse a release until all are there and good, naming what is not', async () => {
    expect(await release('B-BULK')).toEqual({
      code: 'unchecked',
      missing: ['Against a light', 'Separation', 'Dry-down on white paper', 'Scent against the kept sample'],
      failed: [],
    });
    await check('B-BULK', { kind: 'spray-clear', choice: 'hazy', note: 'a veil' });
    await check('B-BULK', { kind: 'spray-separation', choice: 'none' });
    await check('B-BULK', { kind: 'spray-dry-down', choice: 'no residue' });
    const view = await check('B-BULK', { kind: 'spray-scent', choice: 'no sample yet' });
    expect(view).toMatchObject({ missing: [], failed: ['Against a light'], isReleasable: false });
    expect(await release('B-BULK')).toMatchObject({ missing: [], failed: ['Against a light'] });
    const later = await app.request<ChecksView>(
      'POST',
      '/api/batches/B-BULK/checks',
      { kind: 'spray-clear', choice: 'clear', on: '2026-03-01' },
      { 'lotwright-person': 'Ada' },
    );
    expect(later.status).toBe(201);
    expect(later.body.isReleasable).toBe(true);
    expect(await release('B-BULK')).toBe('released');
    // the newest stands, what was found before stays
    expect(find(later.body, 'spray-clear')).toMatchObject({
      state: 'good',
      results: [
        { choice: 'clear', passes: true, createdBy: 'Ada', doneOn: '2026-03-01' },
        { choice: 'hazy', passes: false, createdBy: 'workshop', doneOn: TODAY, note: 'a veil' },
      ],
    });
    await expect(app.database.query(`update check_result set passes = true`)).rejects.toThrow(/only added to/);
    await expect(app.database.query(`delete from check_result`)).rejects.toThrow(/only added to/);
  });

  it('judge a number by limits, which a workshop may set', async () => {
    const flame = async (value: number | string) =>
      find(await check('B-CANDLE', { kind: 'candle-flame', value }), 'candle-flame').results[0]!.passes;
    expect([await flame('75'), await flame('75.001'), await flame(8), await flame('7.9')]).toEqual([
      true,
      false,
      true,
      false,
    ]);
    const { checkKinds } = await get<CheckKindList>('/api/check-kinds');
    const { code, lowestE3, highestE3, ...rest } = checkKinds.find((kind) => kind.code === 'candle-flame')!;
    expect([lowestE3, highestE3]).toEqual([8_000, 75_000]);
    const put = await app.request('PUT', `/api/check-kinds/${code}`, { ...rest, lowest: 12.5, highest: '60' });
    expect(put.status, put.text).toBe(200);
    const view = await check('B-CANDLE', { kind: 'candle-flame', value: 12 });
    expect(find(view, 'candle-flame')).toMatchObject({ lowestE3: 12_500, highestE3: 60_000, state: 'not-good' });
    // what was judged before keeps the limits it was judged by
    expect(find(view, 'candle-flame').results.at(-1)).toMatchObject({ highestE3: 75_000, passes: true });
    await expect(
      app.database.query(`insert into check_result (batch_id, kind, name, value_e3, highest_e3, passes, done_on)
        select id, 'x', 'x', 2, 1, true, '2026-03-02' from batch limit 1`),
    ).rejects.toThrow(/check/);
  });

  it('take either of two that say the same, and no bad one', async () => {
    await check('B-SOAP', { kind: 'soap-cure', choice: 'cured' });
    await check('B-SOAP', { kind: 'soap-ph', value: '9.6' });
    expect(await release('B-SOAP')).toMatchObject({ missing: ['Contents of filled units'], failed: [] });
    await check('B-SOAP', { kind: 'soap-zap', choice: 'zaps' });
    expect(await release('B-SOAP')).toMatchObject({ failed: ['Zap test'] });
  });

  it('judge filled units by what the label states and the rule that was chosen', async () => {
    const weights = Array<string>(12).fill('120 g');
    const body = { kind: 'candle-weights', weights };
    expect(await refused('/api/batches/B-CANDLE/checks', body)).toBe('422 no-net-contents');
    await app.database.query(
      `insert into item_label (item_id, net_mg) select id, 120000 from item where code = 'CANDLE'`,
    );
    const good = find(await check('B-CANDLE', body), 'candle-weights').results[0]!;
    expect(good).toMatchObject({ passes: true, judgement: { rule: 'nist-133', asked: 12, verdict: 'meets' } });
    expect(good.judgement!.notice).toBe('Judged by the rule you chose; local law decides.');
    // with the jar on the scale, and one short by more than 9 g
    const tared = { ...body, weights: ['300 g', ...Array<string>(11).fill('311 g')], tare: '190 g' };
    const short = find(await check('B-CANDLE', tared), 'candle-weights').results[0]!;
    expect(short).toMatchObject({ passes: false, judgement: { beyond: 1, verdict: 'fails' } });
    expect(short.weightsMg!.slice(0, 2)).toEqual([110_000, 121_000]);
    const rules = await get<Record<string, unknown>>('/api/bench-rules');
    const { leaveOnPpb, rinseOffPpb, ...said } = rules;
    const chosen = { ...said, leaveOn: leaveOnPpb, rinseOff: rinseOffPpb, netRule: 'eu-76-211' };
    expect((await app.request('PUT', '/api/bench-rules', chosen)).status).toBe(200);
    const eu = find(await check('B-CANDLE', body), 'candle-weights').results[0]!;
    expect(eu.judgement).toMatchObject({ rule: 'eu-76-211', allowedShort: 5_400, verdict: 'meets' });
    expect(await refused('/api/batches/B-CANDLE/checks', { ...body, tare: '1 kg' })).toBe('422 invalid');
  });

  it('turn weights into volumes by the density of what was filled', async () => {
    await app.database.query(`insert into item_label (item_id, net_ul, allowed_short)
      select id, 100000, 4500 from item where code = 'CEDAR-100'`);
    const body = { kind: 'spray-weights', weights: Array<string>(20).fill('85 g') };
    await app.database.query(`insert into batch_input (batch_id, position, item_id, step, need_on, quantity)
      select b.id, 1, i.id, 'fill', '2026-03-02', 90000 from batch b, item i where b.code = 'B-FILL' and i.code = 'CEDAR-BULK'`);
    expect(await refused('/api/batches/B-FILL/checks', body)).toBe('422 needs-density');
    await app.request('PATCH', '/api/items/CEDAR-BULK', { density: '0.85 g/ml' });
    const result = find(await check('B-FILL', body), 'spray-weights').results[0]!;
    expect(result.judgement).toMatchObject({ basis: 'volume', mean: 100_000, verdict: 'meets', lotSize: 20 });
    const few = find(await check('B-FILL', { ...body, weights: ['85 g'] }), 'spray-weights');
    expect(few).toMatchObject({ state: 'not-good', results: [{ judgement: { verdict: 'too-few' } }, {}] });
  });

  it('refuse what is not asked of the batch', async () => {
    const url = '/api/batches/B-BULK/checks';
    expect(await refused(url, { kind: 'candle-soot', choice: 'none' })).toBe('422 unknown-check');
    expect(await refused(url, { kind: 'spray-clear', choice: 'lovely' })).toBe('422 invalid');
    expect(await refused(url, { kind: 'spray-clear', value: 1 })).toBe('422 invalid');
    expect(await refused(url, { kind: 'spray-clear', choice: 'clear', on: '2026-03-03' })).toBe('422 invalid');
    expect(await refused('/api/batches/B-PLANNED/checks', { kind: 'spray-clear', choice: 'clear' })).toBe(
      '409 wrong-state',
    );
    expect(await refused('/api/batches/NONE/checks', { kind: 'spray-clear', choice: 'clear' })).toBe('404 not-found');
    expect(await faultsOnBadInput(app, 'POST', url, { kind: 'spray-clear', choice: 'clear', on: TODAY })).toEqual([]);
  });
});

describe('a kept sample', () => {
  it('is taken from the lot of its batch, stands somewhere, and is thrown away once its time is over', async () => {
    await app.database.query(
      `with made as (insert into lot (code, item_id, status, came_on, batch_id)
         select 'KEPT-1', b.item_id, 'quarantine', '2026-02-10', b.id from batch b where b.code = 'B-FILL' returning id)
       insert into movement (lot_id, cause, quantity, value_e4, done_on) select id, 'count', 20, 200, '2026-02-10' from made`,
    );
    const body = { lot: 'KEPT-1', quantity: 2, place: 'cabinet 3', discardOn: '2028-03-02' };
    const url = '/api/batches/B-FILL/samples';
    const { samples } = await done<{ samples: KeptSample[] }>(url, body);
    expect(samples).toMatchObject([
      { batch: 'B-FILL', lot: 'KEPT-1', quantity: 2, place: 'cabinet 3', keptOn: TODAY, discardedOn: null },
    ]);
    expect((await moves('KEPT-1')).at(-1)).toEqual(['sample', -2, -20]);
    expect(await refused(url, { ...body, lot: 'ALC-1', quantity: '1 g' })).toBe('409 other-batch');
    expect(await refused(url, { ...body, lot: undefined })).toBe('409 wrong-state');
    expect(await refused(url, { ...body, quantity: 19 })).toBe('409 not-enough');
    expect(await refused(url, { ...body, discardOn: TODAY })).toBe('422 invalid');
    const due = async (day: string) =>
      (await get<{ samples: KeptSample[] }>(`/api/kept-samples?dueBy=${day}`)).samples.length;
    expect([await due('2028-03-01'), await due('2028-03-02')]).toEqual([0, 1]);
    const discard = `/api/kept-samples/${samples[0]!.id}/discard`;
    expect(await done<KeptSample>(discard, {})).toMatchObject({ discardedOn: TODAY, discardedBy: 'workshop' });
    expect(await refused(discard, {})).toBe('409 already-so');
    expect(await due('2028-03-02')).toBe(0);
    await expect(app.database.query(`update kept_sample set place = 'elsewhere'`)).rejects.toThrow(/nothing else/);
    await expect(app.database.query('delete from kept_sample')).rejects.toThrow(/only added to/);
    expect(await faultsOnBadInput(app, 'POST', url, { ...body, on: TODAY })).toEqual([]);
  });
});

describe('photos of a check', () => {
  const SECRET = 'lat 51.5 lon 0.1';
  const send = (id: number, body: Buffer, type = 'image/jpeg') =>
    app.request<CheckPhoto & { code: string }>('POST', `/api/batches/B-BULK/checks/${id}/photos`, body, {
      'content-type': type,
    });
  const resultId = async () =>
    find(await check('B-BULK', { kind: 'spray-clear', choice: 'clear' }), 'spray-clear').results[0]!.id;

  it('are kept without what the camera wrote, and served so that a browser runs nothing', async () => {
    const id = await resultId();
    const sent = await send(id, jpeg(exif(6, true, SECRET)), 'image/png');
    expect(sent.status, sent.text).toBe(201);
    // its content decides, not what it was called
    expect(sent.body.type).toBe('image/jpeg');
    const answer = await app.app.inject({ method: 'GET', url: `/api/check-photos/${sent.body.id}` });
    expect(answer.rawPayload.includes(SECRET)).toBe(false);
    expect(answer.rawPayload.length).toBe(sent.body.bytes);
    expect(answer.headers).toMatchObject({
      'content-type': 'image/jpeg',
      'x-content-type-options': 'nosniff',
      'content-security-policy': "default-src 'none'; sandbox",
      'content-disposition': `inline; filename="check-${sent.body.id}.jpeg"`,
    });
    const view = await get<ChecksView>('/api/batches/B-BULK/checks');
    expect(find(view, 'spray-clear').results[0]!.photos).toEqual([sent.body]);
    const { home } = app.app.get<Config>(CONFIG);
    const folders = await readdir(join(home, 'photos'));
    expect(folders).toHaveLength(1);
  });

  it('are refused when they are no picture, broken, too large, of nothing, or there already', async () => {
    const id = await resultId();
    const said = async (answer: ReturnType<typeof send>) => `${(await answer).status} ${(await answer).body.code}`;
    expect(await said(send(id, Buffer.from('<svg onload="alert(1)"/>')))).toBe('415 unsupported-media-type');
    expect(await said(send(id, jpeg().subarray(0, 40)))).toBe('422 broken-photo');
    expect(await said(send(id, Buffer.concat([jpeg(), Buffer.alloc(10 * 1024 * 1024)])))).toBe('413 too-large');
    expect(await said(send(999_999, png()))).toBe('404 not-found');
    expect((await send(id, png())).status).toBe(201);
    expect(await said(send(id, png()))).toBe('409 already-exists');
    expect((await app.request('GET', '/api/check-photos/999999')).status).toBe(404);
    const json = await app.request('POST', `/api/batches/B-BULK/checks/${id}/photos`, {});
    expect(json.status).toBe(415);
  });

  it('go to storage that speaks S3 where that is set, signed', async () => {
    const seen: { method: string; url: string; signed: boolean; body: Buffer }[] = [];
    const server = createServer((request, reply) => {
      const chunks: Buffer[] = [];
      request.on('data', (chunk: Buffer) => chunks.push(chunk));
      request.on('end', () => {
        const signed = /^AWS4-HMAC-SHA256 Credential=KEY\/\d{8}\/eu-test-1\/s3\/aws4_request/.test(
          request.headers.authorization ?? '',
        );
        seen.push({ method: request.method!, url: request.url!, signed, body: Buffer.concat(chunks) });
        const found = seen.find(({ method, url }) => method === 'PUT' && url === request.url);
        if (request.method === 'GET' && found) return reply.end(found.body);
        reply.statusCode = request.url!.includes('forbidden') ? 403 : request.method === 'PUT' ? 200 : 404;
        reply.end('<Error>no</Error>');
      });
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    try {
      const { port } = server.address() as AddressInfo;
      const store = (bucket: string) =>
        new PhotoStore(
          readConfig({
            LOTWRIGHT_PHOTOS_URL: `http://127.0.0.1:${port}/${bucket}`,
            LOTWRIGHT_PHOTOS_KEY_ID: 'KEY',
            LOTWRIGHT_PHOTOS_SECRET: 'SECRET',
            LOTWRIGHT_PHOTOS_REGION: 'eu-test-1',
          }),
        );
      await store('photos').put('abc', png(), 'image/png');
      expect(await store('photos').get('abc')).toEqual(png());
      expect(seen.map(({ method, url, signed }) => [method, url, signed])).toEqual([
        ['PUT', '/photos/abc', true],
        ['GET', '/photos/abc', true],
      ]);
      await expect(store('photos').get('other')).rejects.toMatchObject({ status: 404 });
      await expect(store('forbidden').put('abc', png(), 'image/png')).rejects.toMatchObject({
        status: 503,
        code: 'photos-unavailable',
      });
    } finally {
      server.close();
    }
  });
});
