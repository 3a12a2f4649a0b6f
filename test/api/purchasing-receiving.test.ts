import { beforeAll, describe, expect, it } from 'vitest';
import type { DeliveryDated, DeliveryReceived } from '../../src/purchasing/purchasing.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { idOf, orderLine, reserve } from '../support/promises.js';

const app = useTestApp();

interface Problem {
  code: string;
  errors: { pointer: string }[];
}

const post = <Body = Problem>(url: string, body: unknown) => app.request<Body>('POST', url, body);
const pointersOf = (body: Problem) => body.errors.map((error) => error.pointer);

beforeAll(async () => {
  for (const item of [{ code: 'BOTTLE' }, { code: 'QUAR', quarantinedOnArrival: true }])
    await post('/api/items', { name: item.code, kind: 'material', measure: 'counted', ...item });
  await post('/api/suppliers', { code: 'NORTH', name: 'North' });
});

let serial = 100;

/** A delivery of `quantity` bottles with promises of these quantities on it, all to one order line. */
async function promised(quantity: number, promises: { quantity: number; needOn: string }[], item = 'BOTTLE') {
  const code = `PO-${serial++}`;
  const lines = [{ item, quantity, costE4: 1000 }];
  await post('/api/deliveries', { code, supplier: 'NORTH', expectedOn: '2026-03-09', lines });
  const rows = await app.database.query<{ id: number }>('select id from delivery_line where delivery_id = $1', [
    await idOf(app, 'delivery', code),
  ]);
  const deliveryLineId = rows[0]!.id;
  const orderLineId = await orderLine(app, item, quantity, '2026-04-30');
  await reserve(
    app,
    promises.map((promise) => ({ ...promise, deliveryLineId, orderLineId })),
  );
  return { code, deliveryLineId, orderLineId };
}

const lot = async (code: string) => (await app.request<LotView>('GET', `/api/lots/${code}`)).body;
const openOn = (orderLineId: number) =>
  app.database.query<{ lot: string | null; open: number; need_on: string }>(
    `select l.code as lot, r.open, r.need_on from reservation r left join lot l on l.id = r.lot_id
     where r.order_line_id = $1 and r.open > 0 order by r.need_on, r.id`,
    [orderLineId],
  );

describe('POST /api/deliveries/{code}/receive', () => {
  it('turns promises on it into promises on the new lot', async () => {
    const { code, orderLineId } = await promised(100, [
      { quantity: 30, needOn: '2026-03-20' },
      { quantity: 40, needOn: '2026-03-12' },
    ]);
    const { status, body } = await post<DeliveryReceived>(`/api/deliveries/${code}/receive`, {
      lines: [{ line: 1, lots: [{ quantity: 100, supplierLot: 'S1', place: 'rack 2' }] }],
    });
    expect(status).toBe(200);
    expect(body).toMatchObject({ kept: 2, broken: [] });
    expect(body.delivery).toMatchObject({ status: 'received', lines: [{ received: 100, promised: 0 }] });
    const made = body.lots[0]!.lot;
    expect(await lot(made)).toMatchObject({
      onHand: 100,
      reserved: 70,
      valueE4: 1000,
      supplier: 'NORTH',
      supplierLot: 'S1',
      place: 'rack 2',
      cameOn: TODAY,
    });
    expect(await openOn(orderLineId)).toEqual([
      { lot: made, open: 40, need_on: '2026-03-12' },
      { lot: made, open: 30, need_on: '2026-03-20' },
    ]);
  });

  it('keeps the first needs when less comes, and names the rest', async () => {
    const { code, orderLineId } = await promised(100, [
      { quantity: 30, needOn: '2026-03-20' },
      { quantity: 40, needOn: '2026-03-12' },
      { quantity: 20, needOn: '2026-03-16' },
    ]);
    const { body } = await post<DeliveryReceived>(`/api/deliveries/${code}/receive`, {
      lines: [{ line: 1, lots: [{ quantity: 50 }] }],
    });
    const made = body.lots[0]!.lot;
    expect(await openOn(orderLineId)).toEqual([
      { lot: made, open: 40, need_on: '2026-03-12' },
      { lot: made, open: 10, need_on: '2026-03-16' },
    ]);
    expect(body.kept).toBe(2);
    expect(body.broken.map(({ quantity, needOn }) => [quantity, needOn])).toEqual([
      [10, '2026-03-16'],
      [30, '2026-03-20'],
    ]);
    expect(body.delivery.status).toBe('received');
    expect(await lot(made)).toMatchObject({ valueE4: 500 });
  });

  it('leaves on the delivery what still comes', async () => {
    const { code, orderLineId } = await promised(100, [
      { quantity: 60, needOn: '2026-03-12' },
      { quantity: 40, needOn: '2026-03-20' },
    ]);
    const url = `/api/deliveries/${code}/receive`;
    const first = await post<DeliveryReceived>(url, {
      lines: [{ line: 1, lots: [{ quantity: 33 }] }],
      restStillComes: true,
    });
    expect(first.body).toMatchObject({
      broken: [],
      delivery: { status: 'expected', lines: [{ received: 33, promised: 67 }] },
    });
    expect((await openOn(orderLineId)).map(({ open }) => open)).toEqual([33, 27, 40]);
    const second = await post<DeliveryReceived>(url, { lines: [{ line: 1, lots: [{ quantity: 67 }] }] });
    expect(second.body).toMatchObject({
      broken: [],
      delivery: { status: 'received', lines: [{ received: 100, promised: 0 }] },
    });
    const values = await Promise.all([first, second].map(async ({ body }) => (await lot(body.lots[0]!.lot)).valueE4));
    expect(values).toEqual([330, 670]);
    expect((await openOn(orderLineId)).every((open) => open.lot !== null)).toBe(true);
    expect((await post(url, { lines: [{ line: 1, lots: [{ quantity: 1 }] }] })).status).toBe(409);
  });

  it('promises nothing from a lot that expires before it is needed, nor from quarantine', async () => {
    const { code } = await promised(10, [
      { quantity: 5, needOn: '2026-03-12' },
      { quantity: 5, needOn: '2026-03-20' },
    ]);
    const { body } = await post<DeliveryReceived>(`/api/deliveries/${code}/receive`, {
      lines: [{ line: 1, lots: [{ quantity: 10, expiresOn: '2026-03-15' }] }],
    });
    expect(body.broken.map(({ needOn }) => needOn)).toEqual(['2026-03-20']);
    const held = await promised(10, [{ quantity: 5, needOn: '2026-03-12' }], 'QUAR');
    const answer = await post<DeliveryReceived>(`/api/deliveries/${held.code}/receive`, {
      lines: [{ line: 1, lots: [{ quantity: 10 }] }],
    });
    expect(answer.body.lots[0]!.status).toBe('quarantine');
    expect(answer.body.broken).toHaveLength(1);
  });

  it('takes several lots on a line, each with its share of the cost, and more than was expected', async () => {
    const { code } = await promised(10, [{ quantity: 10, needOn: '2026-03-12' }]);
    const { body } = await post<DeliveryReceived>(`/api/deliveries/${code}/receive`, {
      lines: [{ line: 1, lots: [{ quantity: 3 }, { quantity: 3 }, { quantity: 6, code: 'LAST' }] }],
    });
    const lots = await Promise.all(body.lots.map((made) => lot(made.lot)));
    expect(lots.map(({ valueE4 }) => valueE4)).toEqual([250, 250, 500]);
    expect(lots.map(({ reserved }) => reserved)).toEqual([3, 3, 4]);
    expect(body.lots[2]!.lot).toBe('LAST');
  });

  it.each([
    [{ lines: [{ line: 2, lots: [{ quantity: 1 }] }] }, '/lines/0/line'],
    [{ lines: [{ line: 1, lots: [] }] }, '/lines/0/lots'],
    [{ lines: [{ line: 1, lots: [{ quantity: '5 g' }] }] }, '/lines/0/lots/0/quantity'],
    [{ lines: [] }, '/lines'],
    [{ receivedOn: '2026-03-03', lines: [{ line: 1, lots: [{ quantity: 1 }] }] }, '/receivedOn'],
  ])('refuses %j and changes nothing', async (asked, pointer) => {
    const { code, orderLineId } = await promised(10, [{ quantity: 5, needOn: '2026-03-12' }]);
    const { status, body } = await post(`/api/deliveries/${code}/receive`, asked);
    expect(status).toBe(422);
    expect(pointersOf(body)).toContain(pointer);
    expect(await openOn(orderLineId)).toEqual([{ lot: null, open: 5, need_on: '2026-03-12' }]);
  });

  it('lets only one of two at once take it in', async () => {
    const { code } = await promised(10, [{ quantity: 5, needOn: '2026-03-12' }]);
    const take = () => post(`/api/deliveries/${code}/receive`, { lines: [{ line: 1, lots: [{ quantity: 10 }] }] });
    const answers = await Promise.all([take(), take()]);
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([200, 409]);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const { code } = await promised(1_000_000, []);
    expect(
      await faultsOnBadInput(app, 'POST', `/api/deliveries/${code}/receive`, {
        receivedOn: TODAY,
        lines: [{ line: 1, lots: [{ quantity: 1, expiresOn: '2026-05-01', supplierLot: 'x' }], costE4: 5 }],
        restStillComes: true,
      }),
    ).toEqual([]);
  });
});

describe('POST /api/deliveries/{code}/date', () => {
  it('takes back promises for a day before it can be used, counting the days it takes to receive', async () => {
    const { code, orderLineId } = await promised(10, [
      { quantity: 5, needOn: '2026-03-12' },
      { quantity: 5, needOn: '2026-03-13' },
    ]);
    const redate = (expectedOn: string) =>
      post<DeliveryDated>(`/api/deliveries/${code}/date`, { expectedOn, why: 'late' });
    expect((await redate('2026-03-11')).body).toMatchObject({ broken: [], delivery: { expectedOn: '2026-03-11' } });
    const { status, body } = await redate('2026-03-12');
    expect(status).toBe(200);
    expect(body.broken.map(({ needOn, quantity }) => [needOn, quantity])).toEqual([['2026-03-12', 5]]);
    expect((await openOn(orderLineId)).map(({ need_on }) => need_on)).toEqual(['2026-03-13']);
  });

  it('refuses a delivery that has come, and bad input', async () => {
    const { code } = await promised(10, []);
    expect(
      await faultsOnBadInput(app, 'POST', `/api/deliveries/${code}/date`, { expectedOn: '2026-03-12', why: 'x' }),
    ).toEqual([]);
    await post(`/api/deliveries/${code}/receive`, { lines: [{ line: 1, lots: [{ quantity: 10 }] }] });
    expect((await post(`/api/deliveries/${code}/date`, { expectedOn: '2026-03-12' })).status).toBe(409);
    expect((await post('/api/deliveries/NOBODY/date', { expectedOn: '2026-03-12' })).status).toBe(404);
  });
});
