import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Finished } from '../../src/bench/finish.schema.js';
import type { BatchView, Weighed } from '../../src/bench/bench.schema.js';
import type { BatchRecord } from '../../src/bench/record.schema.js';
import { startTestApp, TODAY } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { startServerProcess } from '../support/server-process.js';
import type { ServerProcess } from '../support/server-process.js';
import { openBatch, shelfOf } from '../support/shelf.js';

interface Device {
  post<Body>(url: string, body: unknown, key?: string): Promise<{ status: number; body: Body }>;
}

const ROUNDS = 12;
/** A gram and a half as it stands on each scale. */
const PORTION = 1500;

let app: TestApp;
let servers: ServerProcess[];
let devices: [Device, Device];

/** Each device speaks to a server process of its own; both are on one database. */
beforeAll(async () => {
  app = await startTestApp();
  const env = { DATABASE_URL: app.database.ownerUrl, LOTWRIGHT_TODAY: TODAY, LOTWRIGHT_DEMO: '0' };
  servers = [startServerProcess({ env }), startServerProcess({ env })];
  const addresses = await Promise.all(servers.map((server) => server.serving()));
  devices = [deviceAt(addresses[0]!, 'Ann'), deviceAt(addresses[1]!, 'Ben')];
  await shelfOf(app).item('OIL', { measure: 'weighed' });
}, 300_000);

afterAll(async () => {
  await Promise.all((servers ?? []).map((server) => server.interrupt()));
  await app?.close();
});

function deviceAt(address: string, who: string): Device {
  return {
    post: async <Body>(url: string, body: unknown, key: string = randomUUID()) => {
      const answer = await fetch(address + url, {
        method: 'POST',
        headers: { 'content-type': 'application/json', 'lotwright-person': who, 'idempotency-key': key },
        body: JSON.stringify(body),
      });
      return { status: answer.status, body: (await answer.json()) as Body };
    },
  };
}

const weighed = async (code: string): Promise<number> => {
  const rows = await app.database.query<{ total: number }>(
    `select coalesce(-sum(m.quantity), 0)::bigint as total from movement m join batch b on b.id = m.batch_id
       where b.code = $1 and m.cause = 'consumption'`,
    [code],
  );
  return rows[0]!.total;
};

/** A batch with one line, and a lot that has more than enough. */
async function begin(
  code: string,
): Promise<{ url: string; body: { position: number; lot: string; quantity: number } }> {
  await openBatch(app, code, [{ item: 'OIL', quantity: 2 * PORTION }]);
  const lot = await shelfOf(app).receive('OIL', 10 * PORTION, { costE4: 12_345 });
  return { url: `/api/batches/${code}/weighings`, body: { position: 1, lot, quantity: PORTION } };
}

describe('two devices on one batch at once', () => {
  it('weighing the same line: one is written down, the other is told what is in already', async () => {
    for (let round = 0; round < ROUNDS; round++) {
      const { url, body } = await begin(`D-${round}`);
      const answers = await Promise.all(
        devices.map((device) => device.post<Weighed & { code?: string; weighed?: number }>(url, body)),
      );
      expect(answers.map(({ status }) => status).toSorted()).toEqual([201, 409]);
      const told = answers.find(({ status }) => status === 409)!;
      expect(told.body).toMatchObject({ code: 'already-weighed', weighed: PORTION, entries: [{ quantity: PORTION }] });
      expect(await weighed(`D-${round}`)).toBe(PORTION);
    }
  });

  it('weighing a further portion each: both are written down', async () => {
    for (let round = 0; round < ROUNDS; round++) {
      const { url, body } = await begin(`E-${round}`);
      const both = await Promise.all(devices.map((device) => device.post<Weighed>(url, { ...body, further: true })));
      expect(both.map(({ status }) => status)).toEqual([201, 201]);
      expect(await weighed(`E-${round}`)).toBe(2 * PORTION);
    }
  });

  it('sending one weighing again from where the answer never came: it is written down once', async () => {
    for (let round = 0; round < ROUNDS; round++) {
      const { url, body } = await begin(`F-${round}`);
      const key = randomUUID();
      const [first] = devices;
      const sent = await Promise.all([
        first.post(url, body, key),
        first.post(url, body, key),
        first.post(url, body, key),
      ]);
      // whoever comes while the first is under way is asked to come again
      expect(sent.filter(({ status }) => status === 201).length).toBeGreaterThan(0);
      expect(sent.every(({ status }) => status === 201 || status === 409)).toBe(true);
      expect((await first.post(url, body, key)).status).toBe(201);
      expect(await weighed(`F-${round}`)).toBe(PORTION);
    }
  });

  it('one pauses while the other weighs, and the other resumes: nothing is lost or doubled', async () => {
    const [ann, ben] = devices;
    for (let round = 0; round < ROUNDS; round++) {
      const code = `G-${round}`;
      const { url, body } = await begin(code);
      expect((await ann.post(url, body)).status).toBe(201);
      const [pause, weigh] = await Promise.all([
        ann.post<BatchView>(`/api/batches/${code}/pause`, { note: 'the bell' }),
        ben.post<Weighed & { code?: string }>(url, { ...body, further: true }),
      ]);
      expect(pause.status).toBe(200);
      expect([201, 409]).toContain(weigh.status);
      if (weigh.status === 409) expect(weigh.body.code).toBe('paused');
      expect((await ben.post(`/api/batches/${code}/resume`, {})).status).toBe(200);
      if (weigh.status === 409) expect((await ben.post(url, { ...body, further: true })).status).toBe(201);
      expect(await weighed(code)).toBe(2 * PORTION);
      const record = await app.request<BatchRecord>('GET', `/api/batches/${code}/record`);
      expect(record.body.pauses).toMatchObject([{ by: 'Ann', resumed: { by: 'Ben' } }]);
    }
  });

  it('one closes the batch while the other still weighs: what is in the lot is what was weighed', async () => {
    const [ann, ben] = devices;
    for (let round = 0; round < ROUNDS; round++) {
      const code = `H-${round}`;
      const { url, body } = await begin(code);
      expect((await ann.post(url, { ...body, quantity: 2 * PORTION })).status).toBe(201);
      const [finish] = await Promise.all([
        ann.post<Finished>(`/api/batches/${code}/finish`, { made: 2 * PORTION, lossReason: 'counted later' }),
        ben.post(url, { ...body, further: true }),
      ]);
      expect(finish.status).toBe(201);
      expect(finish.body.closing.putInMg).toBe(await weighed(code));
      expect(await app.database.violations()).toEqual([]);
    }
  });

  it('both close it, or both release it: it is done once', async () => {
    const { url, body } = await begin('I-1');
    const [ann] = devices;
    expect((await ann.post(url, { ...body, quantity: 2 * PORTION })).status).toBe(201);
    const acts: [string, object, number][] = [
      ['finish', { made: 2 * PORTION }, 201],
      ['release', { why: 'no rest' }, 200],
    ];
    for (const [act, sent, status] of acts) {
      const answers = await Promise.all(devices.map((device) => device.post(`/api/batches/I-1/${act}`, sent)));
      expect(answers.map((answer) => answer.status).toSorted()).toEqual([status, 409]);
    }
    expect(await app.database.violations()).toEqual([]);
  });
});
