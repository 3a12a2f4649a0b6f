import { beforeAll, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { csvOf, importCsv, openShops, storedLines } from '../support/orders.js';

const shop = useTestApp();
beforeAll(() => openShops(shop));

/** An order for 7 with two reservations on a lot of its own: 3 needed first, then 4. The lot is called as the order. */
async function reserved(number: string): Promise<void> {
  const lines = [{ code: 'LINEN-100', quantity: 7 }];
  expect((await shop.request('POST', '/api/orders', { channel: 'webshop', number, lines })).status).toBe(201);
  await shop.database.query(
    `insert into lot (code, item_id, status, came_on)
     select $1, id, 'released', '2026-03-01' from item where code = 'LINEN-100'`,
    [number],
  );
  await shop.database.query(
    `insert into movement (lot_id, cause, quantity, value_e4, done_on)
     select id, 'receipt', 20, 0, '2026-03-01' from lot where code = $1`,
    [number],
  );
  await shop.database.query(
    `insert into reservation (lot_id, order_line_id, quantity, open, need_on)
     select t.id, l.id, n.quantity, n.quantity, n.day
     from lot t join customer_order o on o.number = t.code join order_line l on l.order_id = o.id,
       (values (4, '2026-03-06'::date), (3, '2026-03-05'::date)) n (quantity, day)
     where t.code = $1`,
    [number],
  );
}

/** What is still reserved for the earlier and for the later need, and of the lot in all. */
async function openOf(number: string): Promise<[number, number, number]> {
  const rows = await shop.database.query<{ open: number; reserved: number }>(
    `select r.open, t.reserved from reservation r join lot t on t.id = r.lot_id where t.code = $1 order by r.need_on`,
    [number],
  );
  return [rows[0]!.open, rows[1]!.open, rows[0]!.reserved];
}

const send = (header: string[], ...rows: string[][]) =>
  importCsv(shop, csvOf([header, ...rows]), { channel: 'webshop' });
const HEADER = ['order', 'code', 'quantity', 'placed'];

it('all is given back when the order is cancelled', async () => {
  await reserved('C1');
  expect(await openOf('C1')).toEqual([3, 4, 7]);
  expect((await shop.request('POST', '/api/orders/webshop/C1/cancel')).status).toBe(200);
  expect(await openOf('C1')).toEqual([0, 0, 0]);
});

it('what a negative line takes back is given back, the latest need first', async () => {
  await reserved('N1');
  await send(HEADER, ['N1', 'LINEN-100', '-5', '2026-03-02']);
  expect(await openOf('N1')).toEqual([2, 0, 2]);
});

it('what a lowered quantity no longer needs is given back', async () => {
  await reserved('L1');
  const { body } = await send(HEADER, ['L1', 'LINEN-100', '6', '2026-03-02']);
  expect(body.rows.amended).toBe(1);
  expect(await openOf('L1')).toEqual([3, 3, 6]);
});

it('what the shop sent itself is given back', async () => {
  await reserved('F1');
  await send([...HEADER, 'quantity shipped'], ['F1', 'LINEN-100', '7', '2026-03-02', '6']);
  expect(await openOf('F1')).toEqual([1, 0, 1]);
});

it('a raised quantity and a preview give back nothing', async () => {
  await reserved('P1');
  await send(HEADER, ['P1', 'LINEN-100', '9', '2026-03-02']);
  const csv = csvOf([HEADER, ['P1', 'LINEN-100', '1', '2026-03-02']]);
  await importCsv(shop, csv, { channel: 'webshop', preview: 'true' });
  expect(await openOf('P1')).toEqual([3, 4, 7]);
});

it('a line that becomes one of another item gives back all', async () => {
  await reserved('I1');
  const meaning = { channel: 'webshop', code: 'LINEN-100', item: 'LINEN-250' };
  expect((await shop.request('POST', '/api/shop-codes', meaning)).status).toBe(201);
  const { body } = await send(HEADER, ['I1', 'LINEN-100', '7', '2026-03-02']);
  expect(body.amendments).toMatchObject([{ changes: [{ field: 'item', from: 'LINEN-100', to: 'LINEN-250' }] }]);
  expect(await openOf('I1')).toEqual([0, 0, 0]);
  expect((await storedLines(shop, 'webshop')).find(({ number }) => number === 'I1')).toMatchObject({
    item: 'LINEN-250',
  });
});
