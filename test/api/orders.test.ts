import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { OrderPage, OrderView } from '../../src/orders/orders.schema.js';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops } from '../support/orders.js';

const shop = useTestApp();

beforeAll(() => openShops(shop));
beforeEach(() => forgetOrders(shop));

const create = (number: string, rest: Record<string, unknown> = {}) =>
  shop.request<OrderView>('POST', '/api/orders', {
    channel: 'webshop',
    number,
    lines: [{ code: 'LINEN-100', quantity: 2 }],
    ...rest,
  });

describe('POST /api/orders', () => {
  it('adds an order with lines of items and of shop codes', async () => {
    const { status, body } = await create('A/1 ß', {
      customer: 'Ann Example',
      placedOn: '2026-03-01',
      lines: [
        { code: 'linen-100', quantity: '3 dozen', shipBy: '2026-03-20', notBefore: '2026-03-18' },
        { code: 'linen-3pack', quantity: 2 },
        { code: 'linen-3pack', quantity: 1, notBefore: '2026-03-30' },
      ],
    });
    expect(status).toBe(201);
    const line = { shipped: 0, cancelled: 0, item: 'LINEN-100' };
    const expected = {
      channel: 'webshop',
      number: 'A/1 ß',
      customer: 'Ann Example',
      placedOn: '2026-03-01',
      status: 'confirmed',
      weight: null,
      sends: null,
      sentAs: 'lines',
      countsAs: 1,
      urgent: false,
      lines: [
        {
          ...line,
          code: 'linen-100',
          occurrence: 1,
          quantity: 36,
          open: 36,
          shipBy: '2026-03-20',
          notBefore: '2026-03-18',
        },
        { ...line, code: 'linen-3pack', occurrence: 1, quantity: 6, open: 6, shipBy: '2026-03-06', notBefore: null },
        {
          ...line,
          code: 'linen-3pack',
          occurrence: 2,
          quantity: 3,
          open: 3,
          shipBy: '2026-03-30',
          notBefore: '2026-03-30',
        },
      ],
    };
    expect(body).toEqual(expected);
    const got = await shop.request('GET', `/api/orders/webshop/${encodeURIComponent('A/1 ß')}`);
    expect([got.status, got.body]).toEqual([200, expected]);
  });

  it('places it today and lets it wait when it is not paid', async () => {
    const { body } = await create('2', { paid: false });
    expect(body).toMatchObject({ placedOn: '2026-03-02', status: 'waiting', customer: null });
    expect(body.lines[0]!.shipBy).toBe('2026-03-07');
  });

  it('knows a customer by name, whatever the case', async () => {
    await create('1', { customer: 'Ann Example' });
    expect((await create('2', { customer: 'ANN example' })).body.customer).toBe('Ann Example');
    expect(await shop.database.query('select count(*) as n from customer')).toEqual([{ n: 1 }]);
  });

  it('is one with what an import brings', async () => {
    await create('1', { placedOn: '2026-03-01' });
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed'],
      ['1', 'LINEN-100', '2', '2026-03-01'],
    ]);
    expect((await importCsv(shop, csv, { channel: 'webshop' })).body.rows).toMatchObject({ known: 1, new: 0 });
  });

  it('refuses a number in use with 409, and keeps the first', async () => {
    await create('1');
    const { status, body } = await create('1', { lines: [{ code: 'GIFT-DUO', quantity: 1 }] });
    expect([status, (body as { code?: string }).code]).toEqual([409, 'already-exists']);
    expect((await shop.request<OrderView>('GET', '/api/orders/webshop/1')).body.lines).toMatchObject([
      { code: 'LINEN-100' },
    ]);
  });

  it('points at every line it cannot take', async () => {
    const { status, body } = await shop.request<{ errors: { pointer: string; code: string }[] }>(
      'POST',
      '/api/orders',
      {
        channel: 'webshop',
        number: '9',
        lines: [
          { code: 'SOAP-X', quantity: 1 },
          { code: 'LINEN-100', quantity: 1 },
          { code: 'OIL-FIG', quantity: 1 },
          { code: 'LINEN-100', quantity: 1, shipBy: '2026-03-10', notBefore: '2026-03-11' },
          { code: 'linen-3pack', quantity: 999_999_999 },
        ],
      },
    );
    expect(status).toBe(422);
    expect(body.errors.map(({ pointer, code }) => [pointer, code])).toEqual([
      ['/lines/0/code', 'unknown-code'],
      ['/lines/2/code', 'weighed-item'],
      ['/lines/3/notBefore', 'dates-cross'],
      ['/lines/4/quantity', 'too-large'],
    ]);
  });
});

describe('GET /api/orders', () => {
  it('lists the newest first, page by page', async () => {
    for (let at = 1; at <= 5; at++) await create(`N-${at}`, { lines: [{ code: 'LINEN-100', quantity: at }] });
    const seen: string[] = [];
    let next: string | null = '';
    for (let pages = 0; next !== null && pages < 9; pages++) {
      const url: string = `/api/orders?limit=2${next && `&after=${next}`}`;
      const { status, body } = await shop.request<OrderPage>('GET', url);
      expect(status).toBe(200);
      seen.push(...body.orders.map(({ number }) => number));
      next = body.next;
    }
    expect(seen).toEqual(['N-5', 'N-4', 'N-3', 'N-2', 'N-1']);
  });

  it('finds by status, number, customer, shop code and item', async () => {
    await create('100%', { paid: false, customer: 'Ann Example' });
    await create('200', { lines: [{ code: 'linen-3pack', quantity: 1 }] });
    await create('300', { lines: [{ code: 'GIFT-DUO', quantity: 1 }] });
    const find = async (query: string) =>
      (await shop.request<OrderPage>('GET', `/api/orders?${query}`)).body.orders.map(({ number }) => number);
    expect(await find('status=waiting')).toEqual(['100%']);
    expect(await find('search=example')).toEqual(['100%']);
    expect(await find('search=%25')).toEqual(['100%']);
    expect(await find('search=3PACK')).toEqual(['200']);
    expect(await find('search=duo')).toEqual(['300']);
    expect(await find('search=linen&status=confirmed')).toEqual(['200']);
    expect(await find('search=_00')).toEqual([]);
  });

  it('sums up what is open', async () => {
    await create('1', {
      lines: [
        { code: 'LINEN-100', quantity: 3, shipBy: '2026-03-20' },
        { code: 'GIFT-DUO', quantity: 4, shipBy: '2026-03-10' },
      ],
    });
    await shop.database.query(`update order_line set cancelled = 4 where shop_code = 'GIFT-DUO'`);
    const { body } = await shop.request<OrderPage>('GET', '/api/orders');
    expect(body).toEqual({
      orders: [
        {
          channel: 'webshop',
          number: '1',
          customer: null,
          placedOn: '2026-03-02',
          status: 'confirmed',
          weight: null,
          sends: null,
          sentAs: 'lines',
          countsAs: 1,
          urgent: false,
          lines: 2,
          open: 3,
          shipBy: '2026-03-20',
        },
      ],
      next: null,
    });
  });

  it('answers 404 for an order that is not there, and 422 for a page that is none', async () => {
    expect((await shop.request('GET', '/api/orders/webshop/none')).status).toBe(404);
    expect((await shop.request('GET', '/api/orders/nowhere/1')).status).toBe(404);
    for (const query of [
      'after=abc',
      'after=99999999999999999999',
      'limit=0',
      'limit=9999',
      'status=lost',
      'colour=red',
    ])
      expect([query, (await shop.request('GET', `/api/orders?${query}`)).status]).toEqual([query, 422]);
  });
});

describe('confirming and cancelling', () => {
  const act = (number: string, what: 'confirm' | 'cancel') =>
    shop.request<OrderView & { code?: string }>('POST', `/api/orders/webshop/${number}/${what}`);

  it('confirm lets a waiting order be planned, and is no fault twice', async () => {
    await create('1', { paid: false });
    expect((await act('1', 'confirm')).body.status).toBe('confirmed');
    expect((await act('1', 'confirm')).status).toBe(200);
    expect(
      await shop.database
        .query(`select from_status, to_status, done_by from state_change where subject = 'customer_order'
        and subject_id = (select id from customer_order)`),
    ).toEqual([{ from_status: 'waiting', to_status: 'confirmed', done_by: 'workshop' }]);
  });

  it('cancel closes what is open', async () => {
    await create('1', {
      paid: false,
      lines: [
        { code: 'LINEN-100', quantity: 5 },
        { code: 'GIFT-DUO', quantity: 1 },
      ],
    });
    const { status, body } = await act('1', 'cancel');
    expect(status).toBe(200);
    expect(body).toMatchObject({
      status: 'cancelled',
      lines: [
        { cancelled: 5, open: 0 },
        { cancelled: 1, open: 0 },
      ],
    });
    for (const what of ['confirm', 'cancel'] as const) {
      const again = await act('1', what);
      expect([again.status, again.body.code]).toEqual([409, 'wrong-state']);
    }
  });

  it.each([true, false])('cancel of an order (paid: %s) that shipped something ends fulfilled', async (paid) => {
    await create('1', { paid, lines: [{ code: 'LINEN-100', quantity: 5 }] });
    await shop.database.query('update order_line set shipped = 2');
    expect((await act('1', 'cancel')).body).toMatchObject({
      status: 'fulfilled',
      lines: [{ quantity: 5, shipped: 2, cancelled: 3, open: 0 }],
    });
  });

  it('answers 404 for an order that is not there', async () => {
    expect((await act('none', 'confirm')).status).toBe(404);
    expect((await act('none', 'cancel')).status).toBe(404);
  });
});
