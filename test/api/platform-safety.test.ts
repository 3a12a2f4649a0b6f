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
