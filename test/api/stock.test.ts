import { beforeAll, describe, expect, it } from 'vitest';
import type { LotPage, LotView, MovementPage, StatusChanged } from '../../src/stock/stock.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { idOf, onLedger, orderLine, reserve } from '../support/promises.js';

const app = useTestApp();

interface Problem {
  code: string;
  detail: string;
  errors: { pointer: string }[];
}

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const receive = async (body: Record<string, unknown>): Promise<LotView> => {
  const answer = await post<LotView>('/api/lots', body);
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const lot = async (code: string) => (await app.request<LotView>('GET', `/api/lots/${code}`)).body;

beforeAll(async () => {
  const items = [
    { code: 'FO', measure: 'weighed', density: '0.95 g/ml', shelfLifeDays: 365 },
    { code: 'QUAR', measure: 'weighed', quarantinedOnArrival: true },
    { code: 'BOTTLE', measure: 'counted' },
    { code: 'TAP', measure: 'weighed', stocked: false },
  ];
  for (const item of items) await post('/api/items', { name: item.code, kind: 'material', ...item });
  await post('/api/suppliers', { code: 'NORTH', name: 'North' });
});

describe('POST /api/lots', () => {
  it('makes a lot with its first movement, its code from the day it came', async () => {
    const made = await receive({
      item: 'FO',
      quantity: '118 ml',
      costE4: 123_456,
      supplier: 'NORTH',
      supplierLot: 'N/7',
      place: 'cold shelf',
      reason: 'opening count',
    });
    expect(made).toMatchObject({
      // 2 March is day 61 of 2026
      code: '26061-001',
      item: 'FO',
      status: 'released',
      onHand: 112_100,
      reserved: 0,
      free: 112_100,
      valueE4: 123_456,
      cameOn: TODAY,
      // 365 days on, the last usable one
      expiresOn: '2027-03-02',
      supplier: 'NORTH',
      supplierLot: 'N/7',
      place: 'cold shelf',
      createdBy: 'workshop',
    });
    const { body } = await app.request<MovementPage>('GET', `/api/lots/${made.code}/movements`);
    expect(body.next).toBeNull();
    expect(body.movements).toEqual([
      expect.objectContaining({
        cause: 'receipt',
        quantity: 112_100,
        valueE4: 123_456,
        doneOn: TODAY,
        reason: 'opening count',
        createdBy: 'workshop',
      }),
    ]);
  });

  it('numbers the lots of a day one after the other, also when they come at once', async () => {
    const day = '2025-12-31';
    const made = await Promise.all(
      Array.from({ length: 8 }, () => receive({ item: 'BOTTLE', quantity: 1, receivedOn: day })),
    );
    expect(made.map(({ code }) => code).toSorted()).toEqual([1, 2, 3, 4, 5, 6, 7, 8].map((n) => `25365-00${n}`));
  });

  it('keeps a code of its own, and never two of them', async () => {
    expect((await receive({ item: 'BOTTLE', quantity: 1, code: 'OWN-1' })).code).toBe('OWN-1');
    expect((await post('/api/lots', { item: 'BOTTLE', quantity: 1, code: 'OWN-1' })).status).toBe(409);
  });

  it('takes the expiry as said: a day, or never', async () => {
    expect((await receive({ item: 'FO', quantity: 1, expiresOn: '2026-04-01' })).expiresOn).toBe('2026-04-01');
    expect((await receive({ item: 'FO', quantity: 1, expiresOn: null })).expiresOn).toBeNull();
    expect((await receive({ item: 'BOTTLE', quantity: 1 })).expiresOn).toBeNull();
  });

  it('puts into quarantine what asks for it', async () => {
    expect((await receive({ item: 'QUAR', quantity: '1 kg' })).status).toBe('quarantine');
  });

  it.each([
    [{ item: 'NOBODY' }, '/item'],
    [{ item: 'TAP' }, '/item'],
    [{ quantity: 0 }, '/quantity'],
    [{ quantity: '12 each' }, '/quantity'],
    [{ quantity: 9_000_000_000_001 }, '/quantity'],
    [{ receivedOn: '2026-03-03' }, '/receivedOn'],
    [{ supplier: 'NOBODY' }, '/supplier'],
    [{ costE4: -1 }, '/costE4'],
    [{ onHand: 5 }, '/onHand'],
  ])('refuses %j', async (change, pointer) => {
    const { status, body } = await post('/api/lots', { item: 'FO', quantity: '1 g', ...change });
    expect(status).toBe(422);
    expect(body.errors.map((error) => error.pointer)).toContain(pointer);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    expect(
      await faultsOnBadInput(app, 'POST', '/api/lots', {
        item: 'FO',
        quantity: '1 g',
        receivedOn: TODAY,
        expiresOn: '2026-05-01',
        supplier: 'NORTH',
        supplierLot: 'a',
        certificate: 'b',
        costE4: 5,
        place: 'c',
        reason: 'd',
      }),
    ).toEqual([]);
  });
});

describe('GET /api/lots', () => {
  it('answers page by page, by item and status', async () => {
    await post('/api/items', { code: 'PAGED', name: 'Paged', kind: 'material', measure: 'counted' });
    for (const code of ['PG-A', 'PG-B', 'PG-C']) await receive({ item: 'PAGED', quantity: 1, code });
    await post('/api/lots/PG-B/status', { to: 'held', why: 'chipped' });
    const first = (await app.request<LotPage>('GET', '/api/lots?item=PAGED&limit=2')).body;
    expect([first.lots.map(({ code }) => code), first.next]).toEqual([['PG-A', 'PG-B'], 'PG-B']);
    const second = (await app.request<LotPage>('GET', '/api/lots?item=PAGED&limit=2&after=PG-B')).body;
    expect([second.lots.map(({ code }) => code), second.next]).toEqual([['PG-C'], null]);
    const held = (await app.request<LotPage>('GET', '/api/lots?item=PAGED&status=held')).body;
    expect(held.lots.map(({ code }) => code)).toEqual(['PG-B']);
    expect((await app.request('GET', '/api/lots?item=NOBODY')).status).toBe(404);
    expect((await app.request('GET', '/api/lots?status=lost')).status).toBe(422);
    expect((await app.request('GET', '/api/lots/NOBODY')).status).toBe(404);
    expect((await app.request('GET', '/api/lots/NOBODY/movements')).status).toBe(404);
  });
});

describe('the ledger', () => {
  it('takes value with quantity and leaves the last of it no cent', async () => {
    const { code } = await receive({ item: 'FO', quantity: 3, costE4: 100 });
    const lotId = await idOf(app, 'lot', code);
    const out = (quantity: number) =>
      onLedger(app, (tx, stock) => stock.moveLot(tx, { lotId, cause: 'scrap', quantity, doneOn: TODAY }));
    await out(-1);
    expect(await lot(code)).toMatchObject({ onHand: 2, valueE4: 67 });
    await out(-2);
    expect(await lot(code)).toMatchObject({ onHand: 0, valueE4: 0 });
    await expect(out(-1)).rejects.toThrow(/has 0 g free, not 0.001 g/);
    const { body } = await app.request<MovementPage>('GET', `/api/lots/${code}/movements?limit=2`);
    expect(body.movements.map(({ quantity, valueE4 }) => [quantity, valueE4])).toEqual([
      [3, 100],
      [-1, -33],
    ]);
    const rest = await app.request<MovementPage>('GET', `/api/lots/${code}/movements?after=${body.next}`);
    expect(rest.body.movements.map(({ quantity }) => quantity)).toEqual([-2]);
  });

  it('answers reservations in the order given, whatever the order their sources are locked in', async () => {
    const lots = [await receive({ item: 'BOTTLE', quantity: 10 }), await receive({ item: 'BOTTLE', quantity: 10 })];
    const [first, second] = await Promise.all(lots.map(({ code }) => idOf(app, 'lot', code)));
    const orderLineId = await orderLine(app, 'BOTTLE', 20, '2026-03-10');
    const wanted = [
      { lotId: second!, orderLineId, quantity: 4, needOn: '2026-03-10' },
      { lotId: first!, orderLineId, quantity: 3, needOn: '2026-03-09' },
    ];
    const ids = await reserve(app, wanted);
    const rows = await app.database.query(
      'select id, lot_id, quantity, need_on from reservation where id = any($1) order by id',
      [ids],
    );
    expect(rows).toEqual([
      { id: ids[1], lot_id: first, quantity: 3, need_on: '2026-03-09' },
      { id: ids[0], lot_id: second, quantity: 4, need_on: '2026-03-10' },
    ]);
    expect(await lot(lots[1]!.code)).toMatchObject({ onHand: 10, reserved: 4, free: 6 });
    expect(await onLedger(app, (tx, stock) => stock.freeReservation(tx, ids[0]!, 3))).toBe(3);
    expect(await onLedger(app, (tx, stock) => stock.freeReservation(tx, ids[0]!, 3))).toBe(1);
    expect(await lot(lots[1]!.code)).toMatchObject({ reserved: 0 });
  });

  it('reserves all or nothing, never more than there is, never past the date', async () => {
    const good = await receive({ item: 'BOTTLE', quantity: 10 });
    const old = await receive({ item: 'BOTTLE', quantity: 10, expiresOn: '2026-03-08' });
    const orderLineId = await orderLine(app, 'BOTTLE', 50, '2026-03-10');
    const [goodId, oldId] = [await idOf(app, 'lot', good.code), await idOf(app, 'lot', old.code)];
    const needOn = '2026-03-09';
    const some = { lotId: goodId, orderLineId, quantity: 6, needOn };
    await expect(reserve(app, [some, some])).rejects.toThrow(/can no longer give 6/);
    await expect(reserve(app, [some, { ...some, lotId: oldId }])).rejects.toThrow(/by 2026-03-09/);
    expect(await lot(good.code)).toMatchObject({ reserved: 0 });
    const both = await Promise.allSettled([reserve(app, [some]), reserve(app, [some])]);
    expect(both.map(({ status }) => status).toSorted()).toEqual(['fulfilled', 'rejected']);
    expect(await lot(good.code)).toMatchObject({ reserved: 6, free: 4 });
  });

  it('is closed to the application except by adding to it', async () => {
    const { code } = await receive({ item: 'BOTTLE', quantity: 1 });
    for (const sql of [
      `update lot set on_hand = 5 where code = '${code}'`,
      `update movement set quantity = 5`,
      `delete from movement`,
      `truncate movement`,
      `delete from reservation`,
      `insert into lot (code, item_id, status, came_on, on_hand) select 'X', id, 'released', '2026-03-01', 5 from item`,
    ])
      await expect(
        onLedger(app, (tx) => tx.query(sql)),
        sql,
      ).rejects.toThrow(/permission denied/);
  });
});

describe('POST /api/lots/{code}/status', () => {
  it('releases, holds and releases again, and writes down who and why', async () => {
    const { code } = await receive({ item: 'QUAR', quantity: '1 kg' });
    const change = (to: string, why: string) =>
      app.request<StatusChanged>('POST', `/api/lots/${code}/status`, { to, why }, { 'lotwright-person': 'Ana' });
    for (const to of ['released', 'held', 'released', 'held', 'rejected']) {
      const { status, body } = await change(to, `because ${to}`);
      expect(status).toBe(200);
      expect(body).toMatchObject({ status: to, freed: [] });
    }
    const changes = await app.database.query(
      `select from_status, to_status, why, done_by from state_change where subject = 'lot' and subject_id = $1 order by id`,
      [await idOf(app, 'lot', code)],
    );
    expect(changes).toHaveLength(5);
    expect(changes[0]).toEqual({
      from_status: 'quarantine',
      to_status: 'released',
      why: 'because released',
      done_by: 'Ana',
    });
  });

  it('refuses a way that is not one, and says so', async () => {
    const { code } = await receive({ item: 'BOTTLE', quantity: 1 });
    const to = (status: string) => post(`/api/lots/${code}/status`, { to: status, why: 'x' });
    expect((await to('rejected')).body.code).toBe('wrong-state');
    expect((await to('quarantine')).status).toBe(409);
    expect((await to('released')).body.code).toBe('already-so');
    expect((await to('sold')).status).toBe(422);
    expect((await post(`/api/lots/${code}/status`, { to: 'held' })).body.errors[0]!.pointer).toBe('/why');
    expect((await post('/api/lots/NOBODY/status', { to: 'held', why: 'x' })).status).toBe(404);
  });

  it('takes back what a held lot was promised to, and names it', async () => {
    const { code } = await receive({ item: 'BOTTLE', quantity: 10 });
    const lotId = await idOf(app, 'lot', code);
    const orderLineId = await orderLine(app, 'BOTTLE', 10, '2026-03-10');
    await reserve(app, [
      { lotId, orderLineId, quantity: 4, needOn: '2026-03-10' },
      { lotId, orderLineId, quantity: 2, needOn: '2026-03-08' },
    ]);
    const { body } = await post<StatusChanged>(`/api/lots/${code}/status`, { to: 'held', why: 'chipped necks' });
    expect(body).toMatchObject({ status: 'held', reserved: 0, onHand: 10 });
    expect(body.freed).toEqual([
      { item: 'BOTTLE', quantity: 2, needOn: '2026-03-08', batch: null, order: expect.stringMatching(/^test /) },
      { item: 'BOTTLE', quantity: 4, needOn: '2026-03-10', batch: null, order: expect.stringMatching(/^test /) },
    ]);
    await expect(reserve(app, [{ lotId, orderLineId, quantity: 1, needOn: '2026-03-08' }])).rejects.toThrow(
      /no longer give/,
    );
  });

  it('lets a hold and a reservation at once end in no promise on a held lot', async () => {
    for (let round = 0; round < 5; round++) {
      const { code } = await receive({ item: 'BOTTLE', quantity: 10 });
      const lotId = await idOf(app, 'lot', code);
      const orderLineId = await orderLine(app, 'BOTTLE', 10, '2026-03-10');
      await Promise.allSettled([
        post(`/api/lots/${code}/status`, { to: 'held', why: 'x' }),
        reserve(app, [{ lotId, orderLineId, quantity: 5, needOn: '2026-03-10' }]),
      ]);
      expect(await lot(code)).toMatchObject({ status: 'held', reserved: 0 });
    }
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const { code } = await receive({ item: 'BOTTLE', quantity: 1 });
    expect(await faultsOnBadInput(app, 'POST', `/api/lots/${code}/status`, { to: 'held', why: 'x' })).toEqual([]);
  });
});
