import { beforeAll, describe, expect, it } from 'vitest';
import { PURCHASE_FORMS } from '../../src/pages/reorder/purchase-forms.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;
let file: string;
const bought: Record<string, string> = {};
const FORM = 'application/x-www-form-urlencoded';
beforeAll(async () => {
  app = await startTestApp({ isQuiet: true, filled: SMALL_SHOP });
  for (const state of ['draft', 'sent', 'confirmed'] as const) bought[state] = await buy(state);
  file = await upload('order,sku,qty,date\nX-1,WHAT-100,2,2026-03-01\n');
  return () => app.close();
});

/** A purchase order that has come so far; answers its code. */
async function buy(state: 'draft' | 'sent' | 'confirmed'): Promise<string> {
  const { body } = await app.request<{ code: string }>('POST', '/api/purchase-orders', {
    supplier: 'OILS',
    lines: [{ pack: 'C-118', packs: 2 }],
  });
  const path = `/api/purchase-orders/${body.code}`;
  if (state !== 'draft') await app.request('POST', `${path}/send`, { sentBy: 'web' });
  if (state === 'confirmed') await app.request('POST', `${path}/confirm`, { expectedOn: '2026-03-12' });
  return body.code;
}

/** Sends a file as a browser's form does; answers where its look is. */
async function upload(csv: string): Promise<string> {
  const part = (name: string, more: string, body: string) =>
    `--b\r\ncontent-disposition: form-data; name="${name}"${more}\r\n\r\n${body}\r\n`;
  const body = `${part('channel', '', 'shop')}${part('file', '; filename="a.csv"', csv)}--b--\r\n`;
  const answer = await app.request('POST', '/orders/import', body, {
    'content-type': 'multipart/form-data; boundary=b',
  });
  expect(answer.status, answer.text).toBe(303);
  return String(answer.headers['location']);
}

const paths = (): string[] => [
  '/orders/new',
  '/orders/channels',
  '/orders/channels/shop',
  '/orders/channels/none',
  '/orders/import',
  '/orders/shop/1001/confirm',
  '/orders/shop/1001/precedence',
  '/orders/shop/none/precedence',
  '/orders/shop/none/cancel',
  `${file}/settings`,
  `${file}/codes`,
  `${file}/take`,
  '/order-files/999999/take',
  '/order-files/99999999999999999999/settings',
  '/reorder/drafts',
  ...Object.values(bought).flatMap((code) => PURCHASE_FORMS.map((form) => `/purchase-orders/${code}/${form}`)),
  '/purchase-orders/PO99-0001/change',
  '/suppliers',
  '/suppliers/OILS',
  '/suppliers/NOBODY',
  '/suppliers/OILS/packs',
  '/suppliers/OILS/packs/C-118',
  '/bench/settings/rules',
  '/bench/settings/checks',
  '/bench/settings/checks/spray-clear',
  '/bench/settings/sheets',
  '/bench/settings/sheets/a4-70x37',
  '/start/settings',
  '/start/vessel',
  '/start/items',
  '/start/lot',
  '/start/remove',
  '/start/washing',
  '/start/washing/scent',
  '/start/washing/gone',
  '/start/people',
  '/start/people/gone',
];

const LONG = 'x'.repeat(200_000);
const BODIES: [string, string, string | Buffer][] = [
  ['nothing', FORM, ''],
  ['fields nobody knows', FORM, 'a=1&b=2&__proto=3'],
  ['a prototype', FORM, '__proto__=1&constructor=2'],
  [
    'NUL bytes',
    FORM,
    'number=%00&name=%00&text=a%00b&lines/0/code=%00&lines/0/quantity=%00&codes/0/item=%00&word=%00&delivery=PO26-0003&lines/0/lot=%00&note=%00&to=%00',
  ],
  ['half a pair', FORM, 'name=%ED%A0%80&text=%ED%A0%80&number=%FF'],
  [
    'huge numbers',
    FORM,
    'rows=9e99&lines/0/code=CEDAR-100&lines/0/quantity=99999999999999999999&lines/0/packs=999999&lines/0/price=999999999.9999&freight=9e99&delivery=PO26-0003&promiseDays=1e400&quantity=9e99&weight=9e99',
  ],
  ['a long text', FORM, `name=${LONG}&text=${LONG}`],
  ['too much', FORM, `text=${'y'.repeat(2_000_000)}`],
  ['many rows', FORM, `text=${'A%09B%0A'.repeat(5_000)}`],
  ['many fields', FORM, Array.from({ length: 5_000 }, (_, i) => `lines/${i}/code=A`).join('&')],
  ['JSON of another shape', 'application/json', '{"lines": {"a": [1]}, "name": {"b": null}}'],
  ['a list', 'application/json', '[1, 2]'],
  ['JSON that breaks off', 'application/json', '{"a'],
  [
    'a form that breaks off',
    'multipart/form-data; boundary=b',
    '--b\r\ncontent-disposition: form-data; name="file"; filename="a"\r\n\r\nabc',
  ],
  ['a form without its border', 'multipart/form-data', 'abc'],
  ['a form of nothing', 'multipart/form-data; boundary=b', '--b--\r\n'],
  ['a stream', 'text/csv', 'a,b\n'],
  ['bytes', 'application/octet-stream', Buffer.from([0, 255, 254])],
];

describe('what no page sends', () => {
  it.each(BODIES)('is refused in words: %s', async (_, type, body) => {
    for (const path of paths()) {
      const answer = await app.request('POST', path, body, { 'content-type': type, accept: 'text/html' });
      expect(answer.status, `${path}: ${answer.text.slice(0, 300)}`).toBeLessThan(500);
      if (answer.status >= 400) expect(answer.headers['content-type'], path).toContain('text/html');
    }
  });

  it.each([
    '/orders?status=lost',
    '/orders?after=%00',
    '/orders?search=%00',
    '/orders?limit=9999',
    '/orders/shop/%00',
    '/orders/SHOP/1',
    '/purchase-orders?after=%00',
    '/purchase-orders/%00',
    '/purchase-orders/PO26-0001?said=hacked',
    '/reorder?supplier=%00',
    '/find?q=%00',
    `/find?q=${'x'.repeat(500)}`,
    '/order-files/0',
    '/order-files/x',
    '/order-files/77',
    '/start?said=hacked',
  ])('is refused in an address: %s', async (path) => {
    const answer = await app.request('GET', path, undefined, { accept: 'text/html' });
    expect(answer.status).toBeGreaterThanOrEqual(400);
    expect(answer.status).toBeLessThan(500);
  });

  it('takes nothing of a file', async () => {
    const seen = await app.request('GET', file, undefined, { accept: 'text/html' });
    expect(seen.status).toBe(200);
    expect(seen.text).toContain('no column is the channel');
    expect(await app.database.query('select report from order_file')).toEqual([{ report: null }]);
  });
});
