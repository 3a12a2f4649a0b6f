import { randomUUID } from 'node:crypto';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setImmediate } from 'node:timers/promises';
import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops, storedLines } from '../support/orders.js';
import type { Refusal } from '../support/orders.js';

const shop = useTestApp();
const WEBSHOP = { channel: 'webshop' };

beforeAll(() => openShops(shop));
beforeEach(() => forgetOrders(shop));

describe('one row', () => {
  const importRow = (cells: Record<string, string>, query: Record<string, string> = {}) => {
    const row = { number: '1', code: 'LINEN-100', quantity: '1', placed: '2026-03-01', customer: '', ...cells };
    return importCsv<Refusal & { rows?: { new: number } }>(shop, csvOf([Object.keys(row), Object.values(row)]), {
      ...WEBSHOP,
      ...query,
    });
  };

  it.each([
    ['2026-03-01', undefined, '2026-03-01'],
    ['20260301', undefined, '2026-03-01'],
    ['2026-03-01T23:30:00', undefined, '2026-03-01'],
    ['2026-03-01 23:30:00 -0500', undefined, '2026-03-02'],
    ['2026-03-01T23:30:00Z', undefined, '2026-03-02'],
    ['2026-07-01T21:59:59.999Z', undefined, '2026-07-01'],
    ['2026-07-01T22:00:00+00:00', undefined, '2026-07-02'],
    ['2026/03/01', undefined, '2026-03-01'],
    ['25/12/2026', undefined, '2026-12-25'],
    ['12/25/2026', undefined, '2026-12-25'],
    ['04.04.2026', undefined, '2026-04-04'],
    ['03/04/2026', 'dmy', '2026-04-03'],
    ['03/04/2026', 'mdy', '2026-03-04'],
    ['3.4.26', 'dmy', '2026-04-03'],
    ['3-4-2026, 11:59 PM', 'mdy', '2026-03-04'],
    ['2026-03-04', 'dmy', '2026-03-04'],
    ["'2026-03-04", undefined, '2026-03-04'],
  ])('has a date %s (%s) that means %s in a workshop at UTC+1, +2 in summer', async (placed, dates, day) => {
    await shop.database.query(`insert into workshop (name, time_zone) values ('Quarry Lane Workshop', 'Europe/Paris')
      on conflict (id) do update set time_zone = excluded.time_zone`);
    const { status } = await importRow({ placed }, dates === undefined ? {} : { dates });
    expect(status).toBe(200);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ placedOn: day }]);
  });

  it.each([
    ['03/04/2026', undefined, 'which comes first, day or month'],
    ['25/12/26', undefined, 'which comes first, day or month'],
    ['12/25/2026', 'dmy', 'not a day of the calendar'],
    ['2026-02-30', undefined, 'not a day of the calendar'],
    ['2026-13-01', undefined, 'not a day of the calendar'],
    ['0026-03-01', undefined, 'years'],
    ['tomorrow', undefined, 'not a date'],
    ['2026-03-01T25:00:00Z', undefined, 'time'],
    ['2026-03-01T10:00:00+25:00', undefined, 'time zone'],
    ['46082', undefined, 'not a date'],
    ['', undefined, 'no date'],
  ])('is refused for the date %s (%s)', async (placed, dates, why) => {
    const { status, body } = await importRow({ placed }, dates === undefined ? {} : { dates });
    expect(status).toBe(422);
    expect(body.report.problems).toMatchObject([{ line: 2, column: 'placed' }]);
    expect(body.report.problems[0]!.detail).toContain(why);
  });

  it.each([
    ['2', 2],
    ['2.0', 2],
    ['2.00', 2],
    ["'2", 2],
    [' 7 ', 7],
    ['1000000000', 1_000_000_000],
  ])('has the quantity %j', async (quantity, units) => {
    expect((await importRow({ quantity })).status).toBe(200);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ quantity: units }]);
  });

  it.each([
    '0',
    '',
    '1,5',
    '1.5',
    '1,000',
    '1.000',
    '2.000',
    '1e3',
    '0x10',
    'two',
    '+2',
    '(2)',
    '2-',
    'NaN',
    '1000000001',
    '9'.repeat(400),
    '\u0662',
    '\u00bd',
  ])('is refused for the quantity %j', async (quantity) => {
    const { status, body } = await importRow({ quantity });
    expect(status).toBe(422);
    expect(body.report.problems).toMatchObject([{ line: 2, column: 'quantity' }]);
  });

  it.each([
    ['number', '', 'missing'],
    ['number', 'x'.repeat(81), 'too-long'],
    ['number', 'a\u0007b', 'control-characters'],
    ['code', '', 'missing'],
    ['code', 'x'.repeat(121), 'too-long'],
    ['code', 'A\nB', 'control-characters'],
    ['customer', 'x'.repeat(201), 'too-long'],
    ['customer', 'Ann \u001b[31mExample', 'control-characters'],
    ['customer', 'Ann \u0090', 'control-characters'],
  ])('is refused for the %s %j', async (column, text, code) => {
    const { status, body } = await importRow({ [column]: text });
    expect(status).toBe(422);
    expect(body.report.problems).toMatchObject([{ line: 2, column, code }]);
    expect(body.report.problems[0]!.detail).not.toMatch(/\p{Cc}/u);
  });

  it.each([
    ['=cmd|calc', '=cmd|calc'],
    ["'=1+1", '=1+1'],
    ["'t Hart", "'t Hart"],
    ['+49 the caller', '+49 the caller'],
    ['Ann\r\nExample,  Flat 3', 'Ann Example, Flat 3'],
    ['<b onload=x>', '<b onload=x>'],
    ['Łódź 東京 🕯️', 'Łódź 東京 🕯️'],
  ])('keeps the customer %j as text', async (customer, kept) => {
    expect((await importRow({ customer })).status).toBe(200);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ customer: kept }]);
  });

  it('is refused when it has more or fewer cells than the header', async () => {
    const csv = 'order,code,quantity,placed\n1,LINEN-100,1,2026-03-01\n2,LINEN-100,1\n3,LINEN-100,1,2026-03-01,extra\n';
    const { body } = await importCsv<Refusal>(shop, csv, WEBSHOP);
    expect(body.report.rows).toMatchObject({ read: 3, new: 1, bad: 2 });
    expect(body.report.problems).toMatchObject([
      { line: 3, column: '', code: 'ragged' },
      { line: 4, column: '', code: 'ragged' },
    ]);
  });

  it('is refused for an item that is weighed, and for a customer its order does not have', async () => {
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed', 'customer'],
      ['1', 'BULK-LINEN', '1', '2026-03-01', 'Ann Example'],
      ['2', 'LINEN-100', '1', '2026-03-01', 'Ann Example'],
      ['2', 'LINEN-250', '1', '2026-03-01', 'ANN EXAMPLE'],
      ['2', 'CANDLE-FIG', '1', '2026-03-01', 'Bea Example'],
    ]);
    const { body } = await importCsv<Refusal>(shop, csv, WEBSHOP);
    expect(body.report.problems).toMatchObject([
      { line: 2, column: 'code', code: 'weighed-item' },
      { line: 5, column: 'customer', code: 'customer-differs' },
    ]);
    expect(body.report.rows).toMatchObject({ new: 2, bad: 2 });
  });

  it('may not say that it ships before it may', async () => {
    const { body } = await importRow({ 'ship by': '2026-03-10', 'not before': '2026-03-11' });
    expect(body.report.problems).toMatchObject([{ line: 2, column: 'not before', code: 'dates-cross' }]);
  });

  it('reports every fault it has', async () => {
    const { body } = await importRow({ quantity: 'x', placed: 'y', customer: '\u0001' });
    expect(body.report.problems.map(({ column }) => column).sort()).toEqual(['customer', 'placed', 'quantity']);
    expect(body.report.rows.bad).toBe(1);
  });
});

describe('codes', () => {
  it('of the shop stand for units of an item, in their own channel only', async () => {
    const rows = [
      ['order', 'code', 'quantity', 'placed'],
      ['1', 'linen-3pack', '2', '2026-03-01'],
    ];
    expect((await importCsv(shop, csvOf(rows), WEBSHOP)).body.rows.new).toBe(1);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ code: 'linen-3pack', item: 'LINEN-100', quantity: 6 }]);
    const refused = await importCsv<Refusal>(shop, csvOf(rows), { channel: 'market' });
    expect(refused.body.report.problems).toMatchObject([{ line: 2, column: 'code', code: 'unknown-code' }]);
  });

  it('that nobody knows are listed with lines and units, the most frequent first', async () => {
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed'],
      ['1', 'SOAP-X', '2', '2026-03-01'],
      ['1', 'LINEN-100', '2', '2026-03-01'],
      ['2', 'mist', '5', '2026-03-01'],
      ['3', 'SOAP-X', '3', '2026-03-01'],
    ]);
    const { status, body } = await importCsv<Refusal>(shop, csv, WEBSHOP);
    expect([status, body.code]).toEqual([422, 'rows-refused']);
    expect(body.report).toMatchObject({ unknownCodeCount: 2, problemCounts: { 'unknown-code': 3 }, written: false });
    expect(body.report.unknownCodes).toEqual([
      { channel: 'webshop', code: 'SOAP-X', lines: 2, units: 5, firstLine: 2 },
      { channel: 'webshop', code: 'mist', lines: 1, units: 5, firstLine: 4 },
    ]);
    expect(await storedLines(shop, 'webshop')).toEqual([]);
  });

  it('nobody knows do no harm where the row is cancelled or sent already', async () => {
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed', 'status'],
      ['1', 'OLD-SOAP', '2', '2025-03-01', 'shipped'],
      ['2', 'OLD-SOAP', '2', '2025-03-01', 'cancelled'],
    ]);
    const { status, body } = await importCsv(shop, csv, WEBSHOP);
    expect([status, body.rows]).toMatchObject([200, { fulfilled: 1, cancelled: 1, bad: 0 }]);
    expect(await storedLines(shop, 'webshop')).toEqual([]);
  });
});

describe('while a file is read', () => {
  let url: string;
  beforeAll(async () => {
    await shop.app.listen(0, '127.0.0.1');
    url = `${await shop.app.getUrl()}/api/orders/import?channel=webshop&preview=true`;
  });

  /** As it comes over the network: a piece at a time. */
  async function* pieces(bytes: Buffer): AsyncGenerator<Buffer> {
    for (let at = 0; at < bytes.length; at += 65_536) {
      yield bytes.subarray(at, at + 65_536);
      await setImmediate();
    }
  }

  /** What it takes this machine, as busy as it is, to cut as much at once. */
  function timeAtOnce(): number {
    const began = performance.now();
    expect(','.repeat(30_000_000).split(',')).toHaveLength(30_000_001);
    return performance.now() - began;
  }

  it.each([
    ['commas', ','.repeat(30_000_000), 422],
    ['quotes in names', `1,LINEN-100,1,2026-03-01,"${'""'.repeat(450_000)}"\n`.repeat(30), 200],
    ['lines', '1,LINEN-100,1,2026-03-01,Ann\n'.repeat(10_000), 200],
  ])('others are served: megabytes of %s', async (_, rows, status) => {
    const body = pieces(Buffer.from(`number,code,quantity,placed,customer\n${rows}`));
    const atOnce = timeAtOnce();
    const held = monitorEventLoopDelay({ resolution: 1 });
    held.enable();
    const headers = { 'content-type': 'text/csv', 'idempotency-key': randomUUID() };
    const answer = await fetch(url, { method: 'POST', body, headers, duplex: 'half' });
    held.disable();
    expect(answer.status).toBe(status);
    expect(held.max / 1e6).toBeLessThan(atOnce);
  });
});
