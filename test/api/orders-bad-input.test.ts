import * as fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import type { ShopCodePage } from '../../src/orders/orders.schema.js';
import { useTestApp } from '../support/app.js';
import { importCsv, openShops, rowCounts } from '../support/orders.js';
import { runs } from '../support/scale.js';

const shop = useTestApp();
beforeAll(() => openShops(shop));

const LINE = { code: 'LINEN-100', quantity: 1 };
const ORDER = { channel: 'webshop', number: 'B1', lines: [LINE] };
const CHANNEL = { code: 'popup', name: 'Pop-up' };
const SHOP_CODE = { channel: 'webshop', code: 'X', item: 'LINEN-100' };

const BAD: [string, string, unknown][] = [
  ['/api/orders', 'nothing', undefined],
  ['/api/orders', 'a list', []],
  ['/api/orders', 'no lines', { ...ORDER, lines: [] }],
  ['/api/orders', 'too many lines', { ...ORDER, lines: Array.from({ length: 501 }, () => LINE) }],
  ['/api/orders', 'an unknown field', { ...ORDER, colour: 'red' }],
  ['/api/orders', 'an unknown field in a line', { ...ORDER, lines: [{ ...LINE, price: 3 }] }],
  ['/api/orders', 'a number for text', { ...ORDER, number: 7 }],
  ['/api/orders', 'text for a flag', { ...ORDER, paid: 'yes' }],
  ['/api/orders', 'an empty number', { ...ORDER, number: ' ' }],
  ['/api/orders', 'a long number', { ...ORDER, number: 'x'.repeat(81) }],
  ['/api/orders', 'a NUL in the number', { ...ORDER, number: 'a\u0000b' }],
  ['/api/orders', 'a NUL in the customer', { ...ORDER, customer: 'a\u0000b' }],
  ['/api/orders', 'a NUL in a code', { ...ORDER, lines: [{ ...LINE, code: 'a\u0000' }] }],
  ['/api/orders', 'an unknown channel', { ...ORDER, channel: 'nowhere' }],
  ['/api/orders', 'a channel that is none', { ...ORDER, channel: 'No Where' }],
  ['/api/orders', 'an unknown code', { ...ORDER, lines: [{ ...LINE, code: 'SOAP-X' }] }],
  ['/api/orders', 'a quantity of 0', { ...ORDER, lines: [{ ...LINE, quantity: 0 }] }],
  ['/api/orders', 'a negative quantity', { ...ORDER, lines: [{ ...LINE, quantity: -1 }] }],
  ['/api/orders', 'half a unit', { ...ORDER, lines: [{ ...LINE, quantity: 1.5 }] }],
  ['/api/orders', 'a huge quantity', { ...ORDER, lines: [{ ...LINE, quantity: 1e15 }] }],
  ['/api/orders', 'a quantity past all numbers', { ...ORDER, lines: [{ ...LINE, quantity: 1e300 }] }],
  ['/api/orders', 'a quantity in grams', { ...ORDER, lines: [{ ...LINE, quantity: '5 g' }] }],
  ['/api/orders', 'a quantity of words', { ...ORDER, lines: [{ ...LINE, quantity: 'many' }] }],
  ['/api/orders', 'a quantity of nothing', { ...ORDER, lines: [{ ...LINE, quantity: null }] }],
  ['/api/orders', 'a day that is none', { ...ORDER, placedOn: '2026-02-30' }],
  ['/api/orders', 'a day in another order', { ...ORDER, placedOn: '02.03.2026' }],
  ['/api/orders', 'a day past the calendar', { ...ORDER, placedOn: '9999-12-31' }],
  ['/api/orders', 'a day before all orders', { ...ORDER, placedOn: '0000-01-01' }],
  ['/api/orders', 'a ship-by past the calendar', { ...ORDER, lines: [{ ...LINE, shipBy: '9999-12-31' }] }],
  ['/api/orders', 'a ship-by that is none', { ...ORDER, lines: [{ ...LINE, shipBy: 'soon' }] }],
  ['/api/orders', 'a weight past all', { ...ORDER, weight: 101 }],
  ['/api/orders', 'a weight in grams', { ...ORDER, weight: '5 g' }],
  ['/api/orders', 'an urgency of words', { ...ORDER, urgent: 'very' }],
  ['/api/channels', 'nothing', undefined],
  ['/api/channels', 'a code that is none', { ...CHANNEL, code: 'Pop Up' }],
  ['/api/channels', 'a code in use', { ...CHANNEL, code: 'webshop' }],
  ['/api/channels', 'too many days', { ...CHANNEL, promiseDays: 366 }],
  ['/api/channels', 'negative days', { ...CHANNEL, promiseDays: -1 }],
  ['/api/channels', 'huge days', { ...CHANNEL, promiseDays: 1e20 }],
  ['/api/channels', 'days as text', { ...CHANNEL, promiseDays: '5' }],
  ['/api/channels', 'a weight of 0', { ...CHANNEL, weight: 0 }],
  ['/api/channels', 'a weight of nothing', { ...CHANNEL, weight: null }],
  ['/api/channels', 'a NUL', { ...CHANNEL, name: '\u0000' }],
  ['/api/channels', 'an unknown field', { ...CHANNEL, id: 1 }],
  ['/api/shop-codes', 'nothing', undefined],
  ['/api/shop-codes', 'an unknown channel', { ...SHOP_CODE, channel: 'nowhere' }],
  ['/api/shop-codes', 'an unknown item', { ...SHOP_CODE, item: 'SOAP-X' }],
  ['/api/shop-codes', 'a weighed item', { ...SHOP_CODE, item: 'BULK-LINEN' }],
  ['/api/shop-codes', 'no units', { ...SHOP_CODE, units: 0 }],
  ['/api/shop-codes', 'too many units', { ...SHOP_CODE, units: 100_001 }],
  ['/api/shop-codes', 'half a unit', { ...SHOP_CODE, units: 1.5 }],
  ['/api/shop-codes', 'a NUL', { ...SHOP_CODE, code: 'a\u0000' }],
  ['/api/shop-codes', 'a long code', { ...SHOP_CODE, code: 'x'.repeat(121) }],
  ['/api/shop-codes', 'an unknown field', { ...SHOP_CODE, note: '' }],
  ['/api/orders/import', 'JSON', ORDER],
  ['/api/orders/import?channel=webshop', 'no body', undefined],
];

describe('bad input is answered with problem details and leaves nothing behind', () => {
  it.each(BAD)('POST %s with %s', async (url, _what, body) => {
    const before = await rowCounts(shop);
    const answer = await shop.request('POST', url, body);
    expect(answer.status).toBeGreaterThanOrEqual(400);
    expect(answer.status).toBeLessThan(500);
    expect(answer.headers['content-type']).toBe('application/problem+json; charset=utf-8');
    expect(answer.body).toMatchObject({ status: answer.status, code: expect.any(String), detail: expect.any(String) });
    expect(await rowCounts(shop)).toEqual(before);
  });

  it.each([
    'dates=ymd',
    'take=some',
    'preview=yes',
    'channel=No',
    'colour=red',
    'preview=true&preview=false',
    'channel=a%00b',
  ])('POST /api/orders/import?%s', async (query) => {
    const csv = 'order,code,quantity,placed\n1,LINEN-100,1,2026-03-01\n';
    const before = await rowCounts(shop);
    const answer = await shop.request('POST', `/api/orders/import?${query}`, csv, { 'content-type': 'text/csv' });
    expect(answer.status).toBe(422);
    expect(await rowCounts(shop)).toEqual(before);
  });

  it('POST /api/orders/import of 40 MB', async () => {
    const csv = Buffer.alloc(40 * 1024 * 1024, 'order,code,quantity,placed\n');
    const answer = await importCsv<{ code: string }>(shop, csv, { channel: 'webshop' });
    expect([answer.status, answer.body.code]).toEqual([413, 'too-large']);
  });

  it('POST /api/orders of 10 MB', async () => {
    const answer = await shop.request('POST', '/api/orders', { ...ORDER, customer: 'x'.repeat(10_000_000) });
    expect(answer.status).toBe(413);
  });

  it('any JSON at all', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom('/api/orders', '/api/channels', '/api/shop-codes'),
        fc.jsonValue(),
        async (url, body) => {
          const { status } = await shop.request('POST', url, body);
          expect(status).toBeGreaterThanOrEqual(400);
          expect(status).toBeLessThan(500);
        },
      ),
      { numRuns: runs(100, 2_000) },
    );
  });

  it('any values in the fields of an order', async () => {
    const odd = fc.oneof(
      fc.string({ unit: 'binary' }),
      fc.double(),
      fc.maxSafeInteger(),
      fc.constantFrom(null, true, 'LINEN-100', 'webshop', '2026-03-01', '275760-09-13', '0000-01-01', 1e308, -0),
    );
    const body = fc.record(
      {
        channel: fc.oneof(fc.constant('webshop'), odd),
        number: odd,
        customer: odd,
        placedOn: odd,
        weight: odd,
        urgent: odd,
        lines: fc.array(
          fc.record(
            { code: fc.oneof(fc.constant('LINEN-100'), odd), quantity: odd, shipBy: odd },
            { requiredKeys: ['code', 'quantity'] },
          ),
          { maxLength: 3 },
        ),
      },
      { requiredKeys: ['channel', 'number', 'lines'] },
    );
    await fc.assert(
      fc.asyncProperty(body, async (sent) => {
        const { status } = await shop.request('POST', '/api/orders', sent);
        expect(status).toBeLessThan(500);
      }),
      { numRuns: runs(150, 3_000) },
    );
  });
});

describe('channels and shop codes', () => {
  it('are added and listed', async () => {
    const made = await shop.request('POST', '/api/channels', { code: 'fair', name: 'Spring fair', promiseDays: 0 });
    expect([made.status, made.body]).toEqual([
      201,
      { code: 'fair', name: 'Spring fair', promiseDays: 0, weight: 1, sends: 'lines' },
    ]);
    const { body } = await shop.request<{ channels: unknown[] }>('GET', '/api/channels');
    expect(body.channels).toContainEqual({
      code: 'fair',
      name: 'Spring fair',
      promiseDays: 0,
      weight: 1,
      sends: 'lines',
    });
    expect((await shop.request('POST', '/api/channels', { code: 'stall', name: 'Stall' })).body['promiseDays']).toBe(5);
  });

  it('say what a code stands for, and may say it anew', async () => {
    const set = (item: string, units?: number) =>
      shop.request('POST', '/api/shop-codes', { channel: 'market', code: 'a/b', item, ...(units && { units }) });
    expect((await set('LINEN-100')).body).toEqual({ channel: 'market', code: 'a/b', item: 'LINEN-100', units: 1 });
    expect((await set('LINEN-250', 6)).status).toBe(201);
    await shop.request('POST', '/api/shop-codes', { channel: 'market', code: 'c', item: 'GIFT-DUO', units: 2 });
    const first = await shop.request<ShopCodePage>('GET', '/api/shop-codes?channel=market&limit=1');
    expect(first.body).toEqual({
      shopCodes: [{ channel: 'market', code: 'a/b', item: 'LINEN-250', units: 6 }],
      next: 'market/a/b',
    });
    const second = await shop.request<ShopCodePage>('GET', '/api/shop-codes?channel=market&limit=1&after=market/a/b');
    expect(second.body).toMatchObject({ shopCodes: [{ code: 'c', item: 'GIFT-DUO', units: 2 }], next: null });
    expect((await shop.request<ShopCodePage>('GET', '/api/shop-codes')).body.shopCodes).toHaveLength(3);
    expect((await shop.request('GET', '/api/shop-codes?after=x')).status).toBe(422);
  });
});
