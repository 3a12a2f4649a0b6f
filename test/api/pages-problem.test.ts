import { describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { pageRoutes } from '../support/page-routes.js';

const app = useTestApp();
const BROWSER = { accept: 'text/html,application/xhtml+xml,*/*;q=0.8' };

it('the address that is printed at the start leads to the week', async () => {
  const answer = await app.request('GET', '/', undefined, BROWSER);
  expect(answer).toMatchObject({ status: 302, headers: { location: '/week' } });
});

describe('a problem', () => {
  it.each([
    ['/nowhere', 404, 'There is no page at this address.'],
    ['/week/2026-13-01', 422, 'start: Say a day, like 2026-03-02.'],
    ['/why/batch/77/B-1', 404, 'There is no'],
  ])('is a page in our frame at %s', async (path, status, sentence) => {
    const answer = await app.request('GET', path, undefined, BROWSER);
    expect(answer.status).toBe(status);
    expect(answer.headers['content-type']).toBe('text/html; charset=utf-8');
    expect(answer.text).toContain(sentence);
    expect(answer.text).toContain('href="/week"');
    expect(answer.text).toContain('<html lang="en">');
  });

  it('shows what was asked for as text', async () => {
    const answer = await app.request('GET', '/week/%3Cimg%20src=x%20onerror=alert(1)%3E', undefined, BROWSER);
    expect(answer.status).toBe(422);
    expect(answer.text).not.toContain('<img');
  });

  it('is a piece of a page where a page asked for a piece', async () => {
    const answer = await app.request('GET', '/nowhere', undefined, { ...BROWSER, 'hx-request': 'true' });
    expect(answer.status).toBe(404);
    expect(answer.text).toMatch(/^<div class="note bad" role="alert">/);
  });

  it.each([
    ['/api/orders/shop/1', BROWSER],
    ['/health/nothing', BROWSER],
    ['/assets/nothing.js', BROWSER],
    ['/nowhere', { accept: 'application/json' }],
    ['/nowhere', {}],
  ])('is JSON for a program at %s', async (path, headers) => {
    const answer = await app.request('GET', path, undefined, headers);
    expect(answer.status).toBe(404);
    expect(answer.headers['content-type']).toContain('application/problem+json');
    expect(answer.body).toMatchObject({ status: 404, instance: path });
  });

  it('of an order file sent as a form is a sentence, not a fault', async () => {
    const answer = await app.request('POST', '/api/orders/import?channel=shop', '--x\r\n', {
      'content-type': 'multipart/form-data; boundary=x',
    });
    expect(answer.status).toBe(415);
  });
});

/** Where a way begins that has no page of its own at its first step. */
const BEGINS: Record<string, string> = {
  batches: '/bench',
  'order-files': '/orders/import',
  trace: '/complaints',
  why: '/week',
};

describe('a page for something that is not there', () => {
  it('leads back to where one came from, whichever page it is', async () => {
    const routes = pageRoutes(app.app);
    const withParameter = routes.filter(({ path }) => path.includes(':') && !path.startsWith('/assets/'));
    expect(withParameter.length).toBeGreaterThan(70);
    const faults: string[] = [];
    const reached = new Set<string>();
    for (const { method, path } of withParameter) {
      const first = path.split('/')[1]!;
      const url = path.replaceAll(/:\w+/g, 'no_such.thing~');
      const answer = await app.request(method, url, undefined, BROWSER);
      const back = /<a class="button main" href="([^"]*)">/.exec(answer.text)?.[1];
      const wanted = BEGINS[first] ?? `/${first}`;
      if (answer.status < 400 || back !== wanted)
        faults.push(`${method} ${url}: ${answer.status}, back to ${back}, not ${wanted}`);
      reached.add(wanted);
    }
    expect(faults).toEqual([]);
    for (const path of reached) {
      let answer = await app.request('GET', path, undefined, BROWSER);
      // the week leads on to the one that is planned
      if (answer.status === 302)
        answer = await app.request('GET', String(answer.headers['location']), undefined, BROWSER);
      expect(answer.status, path).toBe(200);
    }
  });
});
