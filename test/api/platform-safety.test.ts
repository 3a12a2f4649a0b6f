import { once } from 'node:events';
import { Agent, request } from 'node:http';
import type { IncomingMessage } from 'node:http';
import { connect } from 'node:net';
import { text } from 'node:stream/consumers';
import { beforeAll, describe, expect, it } from 'vitest';
import { MIGRATIONS } from '../../src/platform/migrate.js';
import { useTestApp } from '../support/app.js';

const api = useTestApp({ isQuiet: true });

describe('who may ask', () => {
  const post = (headers: Record<string, string>) => api.request('POST', '/nowhere', {}, headers);

  // the rule and its cases: Go 1.25, net/http.CrossOriginProtection
  it.each([
    ['no browser', {}, 404],
    ['our own page', { 'sec-fetch-site': 'same-origin', origin: 'http://localhost:80' }, 404],
    ['the address bar', { 'sec-fetch-site': 'none' }, 404],
    ['another site', { 'sec-fetch-site': 'cross-site' }, 403],
    ['a sibling site', { 'sec-fetch-site': 'same-site' }, 403],
    ['an old browser on our page', { origin: 'http://localhost', host: 'localhost' }, 404],
    ['an old browser elsewhere', { origin: 'http://elsewhere.example', host: 'localhost' }, 403],
    ['a sandboxed page', { origin: 'null', host: 'localhost' }, 403],
  ])('changes something: %s', async (_, headers, status) => {
    expect((await post(headers)).status).toBe(status);
  });

  it('may only read from another site', async () => {
    expect((await api.request('GET', '/health/live', undefined, { 'sec-fetch-site': 'cross-site' })).status).toBe(200);
  });

  it('must call us by a name of this machine', async () => {
    for (const host of ['localhost:4300', '127.0.0.1:4300', '[::1]:4300']) {
      expect((await api.request('GET', '/health/live', undefined, { host })).status).toBe(200);
    }
    const foreign = await api.request('GET', '/health/live', undefined, { host: 'rebound.example:4300' });
    expect(foreign).toMatchObject({ status: 421, body: { code: 'wrong-host' } });
  });
});

describe('what every answer carries', () => {
  it.each(['/health/live', '/nowhere', '/api/docs', '/%zz'])('%s', async (url) => {
    const { headers } = await api.request('GET', url);
    expect(headers['content-security-policy']).toMatch(/default-src '(self|none)'/);
    expect(headers['content-security-policy']).toContain(`frame-ancestors 'none'`);
    expect(headers['content-security-policy']).not.toContain('unsafe');
    expect(headers).toMatchObject({ 'x-content-type-options': 'nosniff', 'referrer-policy': 'no-referrer' });
  });
});

describe('what tells of customers', () => {
  it.each(['/api/customers', '/api/orders', '/api/complaints', '/customers', '/orders', '/complaints', '/nowhere'])(
    'is kept by no browser: %s',
    async (url) => {
      expect((await api.request('GET', url)).headers['cache-control']).toBe('no-store');
    },
  );

  it('is told apart from styles, which are kept', async () => {
    expect((await api.request('GET', '/assets/style.css')).headers['cache-control']).toBe('public, max-age=300');
  });
});

describe('a text that is shown', () => {
  const refused = async (name: string) => {
    const body = { code: 'NAMED', name, kind: 'material', measure: 'counted' };
    const answer = await api.request<{ errors?: { pointer: string; detail: string }[] }>('POST', '/api/items', body);
    return [answer.status, answer.body.errors?.[0]?.pointer, answer.body.errors?.[0]?.detail];
  };
  const SENTENCE = 'must not hold control characters, halves of characters or marks that turn the direction of text';

  it.each(['\ud83d', 'a\udca9b', '\ude00\ud83d', '\u202a', 'a\u202eb', '\u202c', '\u2066x', 'x\u2069'])(
    'is refused with half a character or a turned direction: %j',
    async (name) => {
      expect(await refused(name)).toEqual([422, '/name', SENTENCE]);
      const order = { channel: 'shop', number: 'X-1', customer: name, lines: [{ code: 'NAMED', quantity: 1 }] };
      const answer = await api.request<{ errors: { pointer: string }[] }>('POST', '/api/orders', order);
      expect([answer.status, answer.body.errors[0]!.pointer]).toEqual([422, '/customer']);
      const why = await api.request<{ errors: { pointer: string }[] }>('POST', '/api/complaints', {
        description: `It soots${name}\nand smokes`,
        harm: 'none',
      });
      expect([why.status, why.body.errors[0]!.pointer]).toEqual([422, '/description']);
    },
  );

  it('is taken with whole characters and words of any direction', async () => {
    expect(await refused('\u{1f56f} \u05e0\u05e8 \u0634\u0645\u0639\u0629 \u200f')).toEqual([
      201,
      undefined,
      undefined,
    ]);
  });

  it('is refused in a row of a file, too', async () => {
    await api.request('POST', '/api/channels', { code: 'shop', name: 'Shop' });
    const csv = 'order,sku,qty,date,customer\nX-1,NAMED,1,2026-03-20,Ro\u202ese\n';
    const headers = { 'content-type': 'text/csv' };
    const answer = await api.request<{ report: { problems: { code: string; column: string }[] } }>(
      'POST',
      '/api/orders/import?channel=shop',
      csv,
      headers,
    );
    expect(answer.status).toBe(422);
    expect(answer.body.report.problems[0]).toMatchObject({ column: 'customer', code: 'control-characters' });
  });
});

describe('over a real connection', () => {
  let port: number;
  beforeAll(async () => {
    await api.app.listen(0, '127.0.0.1');
    ({ port } = api.app.getHttpServer().address() as { port: number });
  });

  it('what is not HTTP is answered with a problem all the same', async () => {
    const socket = connect(port, '127.0.0.1');
    socket.write('GARBAGE\r\n\r\n');
    const [head = '', body = ''] = (await text(socket)).split('\r\n\r\n');
    expect(head).toMatch(/^HTTP\/1\.1 400 Bad Request\r\n/);
    expect(head).toContain('content-type: application/problem+json');
    expect(JSON.parse(body)).toMatchObject({ status: 400, code: 'malformed-request', title: 'Bad Request' });
  });

  it('who sends too much hears so, and is not just cut off', async () => {
    const agent = new Agent({ keepAlive: true, maxSockets: 1 });
    const body = Buffer.alloc(33 * 1024 * 1024, 'a');
    const upload = async (type: string) => {
      const headers = { 'content-type': type, 'content-length': body.length };
      const sending = request({ port, host: '127.0.0.1', agent, path: '/nowhere', method: 'POST', headers });
      const sent = once(sending, 'finish');
      sending.end(body);
      const [answer] = (await once(sending, 'response')) as [IncomingMessage];
      await text(answer);
      await sent;
      return { status: answer.statusCode, isSameConnection: sending.reusedSocket };
    };
    const types = ['application/json', 'text/csv', 'application/json'];
    const answers = [];
    for (const type of types) answers.push(await upload(type));
    agent.destroy();
    expect(answers).toEqual([
      { status: 413, isSameConnection: false },
      { status: 413, isSameConnection: true },
      { status: 413, isSameConnection: true },
    ]);
  });
});

describe('health', () => {
  it('tells that the process lives and the schema is the present one', async () => {
    expect((await api.request('GET', '/health/live')).body).toEqual({ status: 'ok' });
    expect(await api.request('GET', '/health/ready')).toMatchObject({
      status: 200,
      body: { status: 'ok', migrations: MIGRATIONS.length },
    });
  });

  it('tells when a migration is missing', async () => {
    const [last] = await api.database.query<{ id: number; timestamp: string; name: string }>(
      'delete from migrations where id = (select max(id) from migrations) returning *',
    );
    const answer = await api.request('GET', '/health/ready');
    await api.database.query('insert into migrations values ($1, $2, $3)', [last!.id, last!.timestamp, last!.name]);
    expect(answer).toMatchObject({
      status: 503,
      body: { code: 'schema-behind', detail: expect.stringContaining(last!.name) },
    });
  });
});
