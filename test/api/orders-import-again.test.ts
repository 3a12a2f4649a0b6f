import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops, rowCounts, storedLines } from '../support/orders.js';
import type { Refusal } from '../support/orders.js';

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

describe('a file that comes again', () => {
  const rows = [
    row('1', 'LINEN-100', 2),
    row('1', 'LINEN-100', 2),
    row('1', 'linen-3pack', 1),
    row('2', 'GIFT-DUO', 4, ['2026-03-30', 'Ann Example']),
  ];

  it('is known to the last line and changes nothing', async () => {
    expect((await send(rows)).body.rows).toMatchObject({ read: 4, new: 4 });
    const before = [await rowCounts(shop), await storedLines(shop, 'webshop')];
    const { body } = await send(rows);
    expect(body.rows).toEqual({ read: 4, new: 0, known: 4, amended: 0, cancelled: 0, fulfilled: 0, bad: 0 });
    expect(body).toMatchObject({ amendments: [], cancellations: [], orders: { new: 0 }, units: { planned: 0 } });
    expect([await rowCounts(shop), await storedLines(shop, 'webshop')]).toEqual(before);
  });

  it('counts equal lines by their occurrence, and a longer one adds what is new', async () => {
    await send(rows.slice(0, 2));
    const { body } = await send([...rows, row('1', 'LINEN-100', 7), row('3', 'LINEN-250', 1)]);
    expect(body.rows).toMatchObject({ known: 2, new: 4, amended: 0 });
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', code: 'LINEN-100', occurrence: 1, quantity: 2 },
      { number: '1', code: 'LINEN-100', occurrence: 2, quantity: 2 },
      { number: '1', code: 'LINEN-100', occurrence: 3, quantity: 7 },
      { number: '1', code: 'linen-3pack', occurrence: 1, quantity: 3 },
      { number: '2', code: 'GIFT-DUO' },
      { number: '3', code: 'LINEN-250' },
    ]);
  });

  it('may be another file of another channel with the same numbers', async () => {
    const plain = rows.filter(([, code]) => code !== 'linen-3pack');
    await send(plain);
    const { body } = await importCsv(shop, csvOf([HEADER, ...plain]), { channel: 'market' });
    expect(body.rows).toMatchObject({ new: 3, known: 0 });
  });

  it('twice at once is written once', async () => {
    const answers = await Promise.all([send(rows), send(rows), send(rows)]);
    expect(answers.map(({ status }) => status)).toEqual([200, 200, 200]);
    expect(answers.map(({ body }) => body.rows.new).sort()).toEqual([0, 0, 4]);
    expect((await rowCounts(shop))['order_line']).toBe(4);
  });

  it('does not move a ship-by it does not state, whatever the channel promises by now', async () => {
    await send([row('1', 'LINEN-100', 2)]);
    await shop.database.query(`update channel set promise_days = 9 where code = 'webshop'`);
    const { body } = await send([row('1', 'LINEN-100', 2)]);
    await shop.database.query(`update channel set promise_days = 5 where code = 'webshop'`);
    expect(body.rows).toMatchObject({ known: 1, amended: 0 });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ shipBy: '2026-03-06' }]);
  });
});

describe('a line that changed', () => {
  it('is an amendment with what it was and is', async () => {
    await send([row('1', 'LINEN-100', 2), row('1', 'LINEN-250', 1), row('2', 'CANDLE-FIG', 5)]);
    const { body } = await send([
      row('1', 'LINEN-100', 5, ['2026-03-20']),
      row('1', 'LINEN-250', 1),
      ['2', 'CANDLE-FIG', '5', '2026-03-02', '', 'Ann Example'],
    ]);
    expect(body.rows).toMatchObject({ amended: 2, known: 1, new: 0 });
    expect(body.amendments).toEqual([
      {
        line: 2,
        channel: 'webshop',
        number: '1',
        code: 'LINEN-100',
        occurrence: 1,
        changes: expect.arrayContaining([
          { field: 'quantity', from: '2', to: '5' },
          { field: 'shipBy', from: '2026-03-06', to: '2026-03-20' },
        ]),
      },
      {
        line: 4,
        channel: 'webshop',
        number: '2',
        code: 'CANDLE-FIG',
        occurrence: 1,
        changes: expect.arrayContaining([
          { field: 'placedOn', from: '2026-03-01', to: '2026-03-02' },
          { field: 'customer', from: null, to: 'Ann Example' },
        ]),
      },
    ]);
    expect(body.amendments.map(({ changes }) => changes.length)).toEqual([2, 2]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { quantity: 5, shipBy: '2026-03-20' },
      { quantity: 1 },
      { customer: 'Ann Example', placedOn: '2026-03-02', shipBy: '2026-03-06' },
    ]);
  });

  it('is shown by a preview and left as it was', async () => {
    await send([row('1', 'LINEN-100', 2)]);
    const { body } = await send([row('1', 'LINEN-100', 3)], { preview: 'true' });
    expect(body.amendments).toMatchObject([{ changes: [{ field: 'quantity', from: '2', to: '3' }] }]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: 2 }]);
  });

  it('never falls below what is shipped', async () => {
    await send([row('1', 'LINEN-100', 10)]);
    await shop.database.query('update order_line set shipped = 4');
    const { body } = await send([row('1', 'LINEN-100', 3)]);
    expect(body.amendments[0]!.changes).toContainEqual({ field: 'quantity', from: '10', to: '4' });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: 4, shipped: 4, status: 'fulfilled' }]);
    expect((await send([row('1', 'LINEN-100', 3)])).body.rows).toMatchObject({ known: 1, amended: 0 });
  });

  it('opens a done order again when more is wanted', async () => {
    await send([row('1', 'LINEN-100', 2)]);
    await shop.database.query('update order_line set shipped = 2');
    await shop.database.query(`update customer_order set status = 'fulfilled'`);
    const { body } = await send([row('1', 'LINEN-100', 3)]);
    expect(body.amendments[0]!.changes).toEqual(
      expect.arrayContaining([
        { field: 'quantity', from: '2', to: '3' },
        { field: 'status', from: 'fulfilled', to: 'confirmed' },
      ]),
    );
    expect(await openOf()).toEqual([1]);
  });

  it('whose code means another item by now becomes that, unless some was shipped', async () => {
    await send([row('1', 'linen-3pack', 2)]);
    const remap = (item: string, units: number) =>
      shop.request('POST', '/api/shop-codes', { channel: 'webshop', code: 'linen-3pack', item, units });
    await remap('LINEN-250', 2);
    const { body } = await send([row('1', 'linen-3pack', 2)]);
    expect(body.amendments[0]!.changes).toEqual(
      expect.arrayContaining([
        { field: 'item', from: 'LINEN-100', to: 'LINEN-250' },
        { field: 'quantity', from: '6', to: '4' },
      ]),
    );
    await shop.database.query('update order_line set shipped = 1');
    await remap('LINEN-100', 3);
    const refused = await importCsv<Refusal>(shop, csvOf([HEADER, row('1', 'linen-3pack', 2)]), WEBSHOP);
    expect(refused.body.report.problems).toMatchObject([{ line: 2, column: 'code', code: 'shipped-as-another' }]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ item: 'LINEN-250', quantity: 4 }]);
  });
});

describe('orders that are not paid', () => {
  const PAID = ['order', 'code', 'quantity', 'placed', 'paid'];
  const paidRow = (order: string, paid: string, code = 'LINEN-100') => [order, code, '2', '2026-03-01', paid];

  it.each([
    ['pending', 'paid'],
    ['', '2026-03-02'],
    ['no', 'yes'],
    ['partially paid', 'Paid'],
    ['false', 'true'],
  ])('wait while it says %j, and are confirmed by %j', async (unpaid, paid) => {
    const first = await sendWith(PAID, [paidRow('1', unpaid)]);
    expect(first.body).toMatchObject({ rows: { new: 1 }, orders: { new: 1, waiting: 1 }, units: { planned: 0 } });
    expect(await statusOf()).toBe('waiting');
    expect((await sendWith(PAID, [paidRow('1', unpaid)])).body.rows).toMatchObject({ known: 1 });
    const { body } = await sendWith(PAID, [paidRow('1', paid)]);
    expect(body.amendments).toMatchObject([{ changes: [{ field: 'status', from: 'waiting', to: 'confirmed' }] }]);
    expect(body.rows).toMatchObject({ amended: 1, known: 0 });
    expect(await statusOf()).toBe('confirmed');
    expect((await sendWith(PAID, [paidRow('1', paid)])).body.rows).toMatchObject({ known: 1, amended: 0 });
  });

  it('wait until every line says so', async () => {
    await sendWith(PAID, [paidRow('1', 'yes'), paidRow('1', 'no', 'LINEN-250')]);
    expect(await statusOf()).toBe('waiting');
  });

  it('stay confirmed once a person confirmed them', async () => {
    await sendWith(PAID, [paidRow('1', 'no')]);
    expect((await shop.request('POST', '/api/orders/webshop/1/confirm')).status).toBe(200);
    expect((await sendWith(PAID, [paidRow('1', 'no')])).body.rows).toMatchObject({ known: 1, amended: 0 });
    expect(await statusOf()).toBe('confirmed');
  });

  it('may be told from the status where no column is about payment', async () => {
    const header = ['order', 'code', 'quantity', 'placed', 'status'];
    const rows = ['awaiting payment', 'on hold', 'Processing', '', 'pending'].map((status, at) => [
      `${at}`,
      'LINEN-100',
      '1',
      '2026-03-01',
      status,
    ]);
    const { body } = await sendWith(header, rows);
    expect(body.orders).toEqual({ new: 5, waiting: 3 });
    expect((await storedLines(shop, 'webshop')).map(({ status }) => status)).toEqual([
      'waiting',
      'waiting',
      'confirmed',
      'confirmed',
      'waiting',
    ]);
  });
});

describe('lines the shop has sent', () => {
  const SENT = ['order', 'code', 'quantity', 'placed', 'quantity shipped', 'fulfilment status'];
  const sentRow = (order: string, quantity: number, shipped: string, word: string, code = 'LINEN-100') => [
    order,
    code,
    `${quantity}`,
    '2026-03-01',
    shipped,
    word,
  ];

  it('are planned only for what is open', async () => {
    const { body } = await sendWith(SENT, [
      sentRow('1', 5, '3', 'partial'),
      sentRow('2', 4, '', 'fulfilled'),
      sentRow('3', 4, '', 'unfulfilled'),
      sentRow('4', 2, '1', '', 'linen-3pack'),
      sentRow('5', 4, '4', ''),
      sentRow('6', 4, '', '2026-03-01'),
    ]);
    expect(body.rows).toMatchObject({ new: 3, fulfilled: 3 });
    expect(body.units.planned).toBe(2 + 4 + 3);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', quantity: 5, shipped: 3, status: 'confirmed' },
      { number: '2', quantity: 4, shipped: 4, status: 'fulfilled' },
      { number: '3', quantity: 4, shipped: 0 },
      { number: '4', quantity: 6, shipped: 3 },
      { number: '5', shipped: 4, status: 'fulfilled' },
      { number: '6', shipped: 4, status: 'fulfilled' },
    ]);
  });

  it('and were known before are amended, and close their order', async () => {
    await sendWith(SENT, [sentRow('1', 5, '', '')]);
    const part = await sendWith(SENT, [sentRow('1', 5, '2', 'partial')]);
    expect(part.body.amendments).toMatchObject([{ changes: [{ field: 'shipped', from: '0', to: '2' }] }]);
    const all = await sendWith(SENT, [sentRow('1', 5, '', 'shipped')]);
    expect(all.body.amendments[0]!.changes).toEqual(
      expect.arrayContaining([
        { field: 'shipped', from: '2', to: '5' },
        { field: 'status', from: 'confirmed', to: 'fulfilled' },
      ]),
    );
    const older = await sendWith(SENT, [sentRow('1', 5, '2', 'partial')]);
    expect(older.body.rows).toMatchObject({ known: 1, amended: 0 });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ shipped: 5, status: 'fulfilled' }]);
  });

  it('need a number where they are partly sent, and no more than were ordered', async () => {
    const { body } = await importCsv<Refusal>(
      shop,
      csvOf([SENT, sentRow('1', 5, '', 'partially fulfilled'), sentRow('2', 5, '6', ''), sentRow('3', 5, 'some', '')]),
      WEBSHOP,
    );
    expect(body.report.problems).toMatchObject([
      { line: 2, column: 'fulfilment status', code: 'part-of-what' },
      { line: 3, column: 'quantity shipped', code: 'too-large' },
      { line: 4, column: 'quantity shipped', code: 'not-a-whole-number' },
    ]);
  });

  it('before the rest was cancelled count as sent', async () => {
    await sendWith(SENT, [sentRow('1', 5, '', '')]);
    await sendWith([...SENT, 'status'], [[...sentRow('1', 5, '2', 'partial'), 'cancelled']]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ shipped: 2, cancelled: 3, status: 'fulfilled' }]);
  });

  it('although never paid here, are done', async () => {
    const header = [...SENT, 'paid'];
    await sendWith(header, [[...sentRow('1', 5, '', ''), 'no']]);
    await sendWith(header, [[...sentRow('1', 5, '5', ''), 'no']]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ shipped: 5, status: 'fulfilled' }]);
    expect(
      await shop.database.query(`select s.to_status from state_change s
        join customer_order o on o.id = s.subject_id and s.subject = 'customer_order' order by s.id`),
    ).toEqual([{ to_status: 'confirmed' }, { to_status: 'fulfilled' }]);
  });
});
