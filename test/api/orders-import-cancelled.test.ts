import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops, storedLines } from '../support/orders.js';

const shop = useTestApp();
const WEBSHOP = { channel: 'webshop' };
const HEADER = ['order', 'code', 'quantity', 'placed', 'ship by', 'customer'];

beforeAll(() => openShops(shop));
beforeEach(() => forgetOrders(shop));

const send = (rows: string[][], query: Record<string, string> = {}) =>
  importCsv(shop, csvOf([HEADER, ...rows]), { ...WEBSHOP, ...query });
const sendWith = (header: string[], rows: string[][]) => importCsv(shop, csvOf([header, ...rows]), WEBSHOP);
const openOf = async () =>
  (await storedLines(shop, 'webshop')).map((line) => line.quantity - line.shipped - line.cancelled);
const statusOf = async () => (await storedLines(shop, 'webshop'))[0]!.status;

const row = (order: string, code: string, quantity: string | number, rest: string[] = []) =>
  [order, code, `${quantity}`, '2026-03-01', ...rest, '', ''].slice(0, 6);

describe('cancellations', () => {
  it('by a negative quantity are never planned, and taken once however often the file comes', async () => {
    const rows = [row('1', 'LINEN-100', 5), row('1', 'LINEN-100', -2), row('2', 'LINEN-250', -3)];
    const first = await send(rows);
    expect(first.body.rows).toMatchObject({ new: 1, cancelled: 2 });
    expect(first.body.units.planned).toBe(3);
    expect(first.body.cancellations).toEqual([
      {
        line: 3,
        channel: 'webshop',
        number: '1',
        code: 'LINEN-100',
        occurrence: 1,
        asked: 2,
        cancelled: 2,
        reason: 'negative-quantity',
      },
      {
        line: 4,
        channel: 'webshop',
        number: '2',
        code: 'LINEN-250',
        occurrence: 1,
        asked: 3,
        cancelled: 0,
        reason: 'negative-quantity',
      },
    ]);
    const again = await send(rows);
    expect(again.body.rows).toMatchObject({ new: 0, known: 2, cancelled: 1, amended: 0 });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: 5, cancelled: 2 }]);
  });

  it('of a known line take no more than is open, from the first lines on', async () => {
    await send([row('1', 'LINEN-100', 3), row('1', 'LINEN-100', 4), row('1', 'LINEN-100', 5)]);
    await shop.database.query('update order_line set shipped = 1 where occurrence = 1');
    const { body } = await send([row('1', 'LINEN-100', -4), row('1', 'LINEN-100', -1)]);
    expect(body.cancellations).toMatchObject([
      { line: 2, asked: 4, cancelled: 4 },
      { line: 3, asked: 1, cancelled: 1 },
    ]);
    expect(await openOf()).toEqual([0, 1, 5]);
    const more = await send([row('1', 'LINEN-100', -100)]);
    expect(more.body.cancellations).toMatchObject([{ asked: 100, cancelled: 6 }]);
    expect(await openOf()).toEqual([0, 0, 0]);
    expect(await statusOf()).toBe('fulfilled');
  });

  it('are counted in units of the item', async () => {
    await send([row('1', 'linen-3pack', 2), row('1', 'linen-3pack', -1)]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: 6, cancelled: 3 }]);
  });

  it('that were taken before are part of a lowered quantity', async () => {
    await send([row('1', 'LINEN-100', 5), row('1', 'LINEN-100', -2)]);
    const { body } = await send([row('1', 'LINEN-100', 3)]);
    expect(body.amendments[0]!.changes).toEqual(
      expect.arrayContaining([
        { field: 'quantity', from: '5', to: '3' },
        { field: 'cancelled', from: '2', to: '0' },
      ]),
    );
    expect(await openOf()).toEqual([3]);
  });

  const STATUS = ['order', 'code', 'quantity', 'placed', 'status', 'cancelled at', 'financial status'];
  const cancelled: [string, string[]][] = [
    ['a status', ['Cancelled', '', 'paid']],
    ['American spelling', ['canceled', '', 'paid']],
    ['a day', ['', '2026-03-01 10:00:00 +0100', 'paid']],
    ['a refund', ['', '', 'refunded']],
    ['a void', ['', '', 'Voided']],
  ];

  it.each(cancelled)('of whole orders by %s close what is open', async (_how, rest) => {
    const paid = ['', '', 'paid'];
    await sendWith(STATUS, [
      ['1', 'LINEN-100', '2', '2026-03-01', ...paid],
      ['2', 'LINEN-100', '5', '2026-03-01', ...paid],
    ]);
    await shop.database.query(`update order_line l set shipped = 2 from customer_order o
      where o.id = l.order_id and o.number = '2'`);
    const rows = [
      ['1', 'LINEN-100', '2', '2026-03-01', ...rest],
      ['2', 'LINEN-100', '5', '2026-03-01', ...rest],
      ['3', 'GIFT-DUO', '1', '2026-03-01', ...rest],
    ];
    const { body } = await sendWith(STATUS, rows);
    expect(body.rows).toMatchObject({ cancelled: 3, new: 0, amended: 0 });
    expect(body.cancellations).toMatchObject([
      { number: '1', asked: 2, cancelled: 2, reason: 'cancelled-order' },
      { number: '2', asked: 5, cancelled: 3, reason: 'cancelled-order' },
      { number: '3', asked: 1, cancelled: 0, reason: 'cancelled-order' },
    ]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', status: 'cancelled', quantity: 2, cancelled: 2 },
      { number: '2', status: 'fulfilled', quantity: 5, shipped: 2, cancelled: 3 },
    ]);
    expect((await sendWith(STATUS, rows)).body.rows).toMatchObject({ known: 2, cancelled: 1 });
  });

  it('of one line leave the others', async () => {
    await sendWith(STATUS, [
      ['1', 'LINEN-100', '2', '2026-03-01', 'cancelled', '', 'paid'],
      ['1', 'LINEN-100', '3', '2026-03-01', '', '', 'paid'],
    ]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ occurrence: 2, quantity: 3, status: 'confirmed' }]);
  });

  it('stand, although an older file comes again', async () => {
    const older = [['1', 'LINEN-100', '2', '2026-03-01', '', '', 'paid']];
    await sendWith(STATUS, older);
    await sendWith(STATUS, [['1', 'LINEN-100', '2', '2026-03-01', 'cancelled', '', 'paid']]);
    const { body } = await sendWith(STATUS, older);
    expect(body.rows).toMatchObject({ known: 1 });
    const grown = await sendWith(STATUS, [
      ['1', 'LINEN-100', '3', '2026-03-01', '', '', 'paid'],
      ['1', 'LINEN-250', '1', '2026-03-01', '', '', 'paid'],
    ]);
    expect(grown.body.cancellations).toMatchObject([{ reason: 'cancelled-here' }, { reason: 'cancelled-here' }]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: 2, cancelled: 2, status: 'cancelled' }]);
  });

  it('may come with a quantity of 0 or below', async () => {
    await sendWith(STATUS, [['1', 'LINEN-100', '2', '2026-03-01', '', '', 'paid']]);
    const { body } = await sendWith(STATUS, [['1', 'LINEN-100', '0', '2026-03-01', 'cancelled', '', 'paid']]);
    expect(body.rows).toMatchObject({ cancelled: 1, bad: 0 });
    expect(await openOf()).toEqual([0]);
  });
});
