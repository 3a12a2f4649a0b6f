import { beforeAll, describe, expect, it } from 'vitest';
import type { DeliveryPage, DeliveryView, PackView } from '../../src/purchasing/purchasing.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';

const app = useTestApp();

interface Problem {
  code: string;
  errors: { pointer: string }[];
}

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const pointersOf = (body: Problem) => body.errors.map((error) => error.pointer);

beforeAll(async () => {
  const items = [
    { code: 'FO', kind: 'material', measure: 'weighed', density: '0.95 g/ml', shelfLifeDays: 365 },
    { code: 'BOTTLE', kind: 'material', measure: 'counted' },
    { code: 'TAP', kind: 'material', measure: 'weighed', stocked: false },
    { code: 'BULK', kind: 'bulk', measure: 'weighed' },
  ];
  for (const item of items) await post('/api/items', { name: item.code, ...item });
  for (const code of ['NORTH', 'SOUTH']) await post('/api/suppliers', { code, name: code });
  await post('/api/packs', {
    supplier: 'NORTH',
    item: 'BOTTLE',
    code: 'B-48',
    size: 48,
    priceE4: 317_000,
    leadDays: 9,
  });
});

describe('suppliers', () => {
  it('adds and lists them by code', async () => {
    const { body } = await app.request('GET', '/api/suppliers');
    const terms = { orderDays: [], minimumOrderE4: 0, freightE4: 0, freightFreeFromE4: null };
    const rest = { ...terms, email: '', account: '', address: '' };
    expect(body).toEqual({
      suppliers: [
        { code: 'NORTH', name: 'NORTH', ...rest },
        { code: 'SOUTH', name: 'SOUTH', ...rest },
      ],
    });
    expect((await post('/api/suppliers', { code: 'NORTH', name: 'again' })).status).toBe(409);
  });

  it('keeps on which terms they sell, and changes only what is said', async () => {
    const terms = { orderDays: [0, 3], minimumOrderE4: 500_000, freightE4: 90_000, freightFreeFromE4: 2_000_000 };
    const { status } = await post('/api/suppliers', { code: 'TERMS', name: 'Terms', ...terms, email: 'a@b.example' });
    expect(status).toBe(201);
    const changed = await app.request('PATCH', '/api/suppliers/TERMS', { freightFreeFromE4: null, account: 'L-17' });
    expect(changed.body).toMatchObject({ ...terms, freightFreeFromE4: null, account: 'L-17', email: 'a@b.example' });
    expect((await app.request('PATCH', '/api/suppliers/NOBODY', {})).status).toBe(404);
    expect((await app.request('PATCH', '/api/suppliers/TERMS', { orderDays: [7] })).status).toBe(422);
    expect((await app.request('PATCH', '/api/suppliers/TERMS', { email: 'nobody' })).status).toBe(422);
    await app.database.query(`delete from supplier where code = 'TERMS'`);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(await faultsOnBadInput(app, 'POST', '/api/suppliers', { code: 'FUZZ', name: 'Fuzz' })).toEqual([]);
  });
});

describe('packs', () => {
  it('have a price for so many at once, a new price, and can be withdrawn', async () => {
    const body = { supplier: 'SOUTH', item: 'BOTTLE', code: 'CRATE/1', size: 24, priceE4: 200_000, leadDays: 4 };
    const breaks = [
      { fromPacks: 5, priceE4: 180_000 },
      { fromPacks: 10, priceE4: 150_000 },
    ];
    expect((await post<PackView>('/api/packs', { ...body, breaks })).body.breaks).toEqual(breaks);
    const address = '/api/suppliers/SOUTH/packs/CRATE%2F1';
    const changed = await app.request<PackView>('PATCH', address, { priceE4: 210_000, breaks: breaks.slice(1) });
    expect(changed.body).toMatchObject({ size: 24, priceE4: 210_000, breaks: breaks.slice(1), withdrawn: false });
    expect((await app.request<PackView>('PATCH', address, { withdrawn: true })).body).toMatchObject({
      withdrawn: true,
    });
    expect((await app.request('PATCH', '/api/suppliers/SOUTH/packs/NONE', {})).status).toBe(404);
    const twice = { breaks: [breaks[0], breaks[0]] };
    expect((await app.request('PATCH', address, twice)).status).toBe(422);
    await app.database.query(`delete from pack_break; delete from pack where code = 'CRATE/1'`);
  });

  it('adds a pack of an odd size and lists it by item and supplier', async () => {
    const pack = { supplier: 'NORTH', item: 'FO', code: 'FO 4oz', size: '118 ml', priceE4: 123_400, leadDays: 16 };
    const { status, body } = await post<PackView>('/api/packs', { ...pack, leastPacks: 3 });
    expect(status).toBe(201);
    expect(body).toEqual({ ...pack, size: 112_100, leastPacks: 3, breaks: [], withdrawn: false });
    const listed = await app.request<{ packs: PackView[] }>('GET', '/api/packs?item=FO&supplier=NORTH');
    expect(listed.body.packs).toEqual([body]);
    expect((await app.request<{ packs: PackView[] }>('GET', '/api/packs?supplier=SOUTH')).body.packs).toEqual([]);
    expect((await post('/api/packs', pack)).status).toBe(409);
    expect((await post('/api/packs', { ...pack, supplier: 'SOUTH' })).status).toBe(201);
  });

  it.each([
    [{ supplier: 'NOBODY' }, '/supplier'],
    [{ item: 'NOBODY' }, '/item'],
    [{ item: 'BULK' }, '/item'],
    [{ size: 0 }, '/size'],
    [{ size: 'one' }, '/size'],
    [{ leadDays: 1001 }, '/leadDays'],
    [{ leastPacks: 0 }, '/leastPacks'],
    [{ priceE4: 1.5 }, '/priceE4'],
  ])('refuses %j', async (change, pointer) => {
    const pack = { supplier: 'NORTH', item: 'FO', code: 'P', size: '1 kg', priceE4: 1, leadDays: 1, ...change };
    const { status, body } = await post('/api/packs', pack);
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const pack = { supplier: 'NORTH', item: 'FO', code: 'F', size: '1 kg', priceE4: 1, leadDays: 1, leastPacks: 2 };
    expect(await faultsOnBadInput(app, 'POST', '/api/packs', pack)).toEqual([]);
  });
});

describe('POST /api/deliveries', () => {
  it('counts packs out and takes their price, or a quantity as it is said', async () => {
    const { status, body } = await post<DeliveryView>('/api/deliveries', {
      code: 'PO-1',
      supplier: 'NORTH',
      expectedOn: '2026-03-09',
      lines: [
        { item: 'BOTTLE', pack: 'B-48', packs: 3 },
        { item: 'FO', quantity: '1 kg', costE4: 900_000, expiresOn: '2027-01-31' },
      ],
    });
    expect(status).toBe(201);
    const rest = { received: 0, promised: 0 };
    expect(body).toEqual({
      code: 'PO-1',
      supplier: 'NORTH',
      status: 'expected',
      orderedOn: null,
      expectedOn: '2026-03-09',
      lines: [
        { line: 1, item: 'BOTTLE', pack: 'B-48', packs: 3, quantity: 144, costE4: 951_000, expiresOn: null, ...rest },
        {
          line: 2,
          item: 'FO',
          pack: null,
          packs: null,
          quantity: 1_000_000,
          costE4: 900_000,
          expiresOn: '2027-01-31',
          ...rest,
        },
      ],
    });
    expect((await app.request('GET', '/api/deliveries/PO-1')).body).toEqual(body);
    const list = await app.request<DeliveryPage>('GET', '/api/deliveries?status=expected&limit=1');
    expect(list.body).toEqual({ deliveries: [body], next: null });
    expect((await app.request('GET', '/api/deliveries/NOBODY')).status).toBe(404);
  });

  it.each([
    ['a supplier nobody knows', { supplier: 'NOBODY' }, '/supplier'],
    ['no lines', { lines: [] }, '/lines'],
    ['an item nobody knows', { lines: [{ item: 'NOBODY', quantity: 1 }] }, '/lines/0/item'],
    ['an item that is not stocked', { lines: [{ item: 'TAP', quantity: '1 kg' }] }, '/lines/0/item'],
    ['a pack of another item', { lines: [{ item: 'FO', pack: 'B-48', packs: 1 }] }, '/lines/0/pack'],
    [
      'a pack of another supplier',
      { supplier: 'SOUTH', lines: [{ item: 'BOTTLE', pack: 'B-48', packs: 1 }] },
      '/lines/0/pack',
    ],
    ['a pack without its number', { lines: [{ item: 'BOTTLE', pack: 'B-48' }] }, '/lines/0/packs'],
    ['packs and a quantity', { lines: [{ item: 'BOTTLE', pack: 'B-48', packs: 1, quantity: 5 }] }, '/lines/0/quantity'],
    ['neither', { lines: [{ item: 'BOTTLE' }] }, '/lines/0/quantity'],
    ['nothing of it', { lines: [{ item: 'BOTTLE', quantity: 0 }] }, '/lines/0/quantity'],
  ])('refuses %s', async (_, change, pointer) => {
    const delivery = { code: 'PO-BAD', supplier: 'NORTH', expectedOn: '2026-03-09', ...change };
    const { status, body } = await post('/api/deliveries', { lines: [{ item: 'BOTTLE', quantity: 1 }], ...delivery });
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
    expect((await app.request('GET', '/api/deliveries/PO-BAD')).status).toBe(404);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(
      await faultsOnBadInput(app, 'POST', '/api/deliveries', {
        code: 'FUZZ',
        supplier: 'NORTH',
        expectedOn: '2026-03-09',
        lines: [
          { item: 'BOTTLE', pack: 'B-48', packs: 3 },
          { item: 'FO', quantity: '1 kg', costE4: 1, expiresOn: '2027-01-31' },
        ],
      }),
    ).toEqual([]);
  });
});
