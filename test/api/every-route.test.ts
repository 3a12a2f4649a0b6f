import { beforeAll, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';

interface OpenApi {
  paths: Record<string, Record<string, { requestBody?: { content?: Record<string, unknown> } }>>;
}

const JSON_TYPE = { 'content-type': 'application/json' };

/** What nobody should send, to any route: as a JSON body, word for word. */
const BODIES: [string, string][] = [
  ['nothing', ''],
  ['broken JSON', '{"a":'],
  ['null', 'null'],
  ['a list', '[]'],
  ['a number', '1e400'],
  ['an unknown field', '{"surprise":1}'],
  ['a prototype', '{"__proto__":{"polluted":true},"constructor":{"prototype":{}}}'],
  [
    'NUL bytes',
    JSON.stringify({ code: 'a\u0000b', name: '\u0000', why: '\u0000', reason: '\u0000', quantity: '\u0000' }),
  ],
  ['lone surrogates', '{"name":"\\ud800","why":"\\udfff"}'],
  ['huge numbers', '{"quantity":1e308,"output":1e30,"weekStart":99999999999999999999,"costE4":9007199254740993}'],
  ['wrong types', '{"quantity":{},"lines":"x","item":[],"day":7,"to":false,"weekStart":{},"code":5}'],
  ['deep nesting', `${'{"a":'.repeat(2000)}1${'}'.repeat(2000)}`],
  ['ten megabytes', JSON.stringify({ filler: 'z'.repeat(10 * 1024 * 1024) })],
];

const PATH_VALUES = ['X', '1', '999999999999', '%00', 'a%00b', '..%2f..', '%F0%9F%A7%BC', 'x'.repeat(150)];

describe('every route that takes something', () => {
  const app = useTestApp();
  let routes: [string, string][] = [];

  beforeAll(async () => {
    const { body } = await app.request<OpenApi>('GET', '/api/openapi.json');
    routes = Object.entries(body.paths).flatMap(([path, methods]) =>
      Object.keys(methods).map((method): [string, string] => [method.toUpperCase(), path]),
    );
  });

  it('answers nonsense in the body with 4xx problem details, never with 5xx', async () => {
    const taking = routes.filter(([method]) => method !== 'GET');
    expect(taking.length).toBeGreaterThan(25);
    for (const [method, path] of taking)
      for (const [what, text] of BODIES) {
        const answer = await app.request(method, path.replaceAll(/\{[^}]+\}/g, '1'), text, JSON_TYPE);
        const where = `${method} ${path} with ${what}: ${answer.status} ${answer.text.slice(0, 200)}`;
        expect(answer.status, where).toBeLessThan(500);
        if (what === 'ten megabytes') expect(answer.status, where).toBe(413);
        if (answer.status >= 400) expect(answer.headers['content-type'], where).toContain('application/problem+json');
      }
  }, 120_000);

  it('answers nonsense in the address with 4xx problem details, never with 5xx', async () => {
    const withValues = routes.filter(([, path]) => path.includes('{'));
    expect(withValues.length).toBeGreaterThan(15);
    for (const [method, path] of withValues)
      for (const value of PATH_VALUES) {
        const body = method === 'GET' || method === 'DELETE' ? undefined : '{}';
        const url = path.replaceAll(/\{[^}]+\}/g, value);
        const answer = await app.request(method, url, body, body ? JSON_TYPE : {});
        const where = `${method} ${url}: ${answer.status} ${answer.text.slice(0, 200)}`;
        expect(answer.status, where).toBeLessThan(500);
      }
  }, 120_000);

  it('answers what it does not know in the query with 4xx, or leaves it aside', async () => {
    for (const [method, path] of routes.filter(([m]) => m === 'GET')) {
      const url = `${path.replaceAll(/\{[^}]+\}/g, '1')}?limit=1e9&after=%00&asOf=2026-99-99&from=x&surprise[]=1`;
      const answer = await app.request(method, url);
      expect(answer.status, `${method} ${url}: ${answer.text.slice(0, 200)}`).toBeLessThan(500);
    }
  });
});
