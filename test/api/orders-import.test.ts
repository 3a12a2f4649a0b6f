import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { printImportReport } from '../../src/orders/report.js';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops, rowCounts, storedLines } from '../support/orders.js';
import type { Refusal } from '../support/orders.js';

const shop = useTestApp();
const WEBSHOP = { channel: 'webshop' };

beforeAll(() => openShops(shop));
beforeEach(() => forgetOrders(shop));

const HEADER = ['Order number', 'SKU', 'Quantity', 'Ship by', 'Customer', 'Placed at', 'Channel'];
const ROWS = [
  ['1001', 'LINEN-100', '2', '2026-03-09', 'Zoë Ångström', '2026-03-01', 'webshop'],
  ['1001', 'candle-fig', '1', '', 'Zoë Ångström', '2026-03-01', 'webshop'],
  ['M-7', 'GIFT-DUO', '4', '', 'Smith, Jones & "Co"', '2026-02-28', 'Saturday market'],
  ['1002', 'linen-3pack', '2', '', "=SUM(A1) d'Été", '2026-03-02', 'WEBSHOP'],
];

/** What the four rows above are, in whatever shape they come. */
async function expectTheFourRows(): Promise<void> {
  expect(await storedLines(shop, 'webshop')).toMatchObject([
    { number: '1001', code: 'LINEN-100', quantity: 2, shipBy: '2026-03-09', customer: 'Zoë Ångström' },
    { number: '1001', code: 'candle-fig', item: 'CANDLE-FIG', quantity: 1, shipBy: '2026-03-06' },
    { number: '1002', item: 'LINEN-100', quantity: 6, shipBy: '2026-03-07', customer: "=SUM(A1) d'Été" },
  ]);
  expect(await storedLines(shop, 'market')).toMatchObject([
    { number: 'M-7', item: 'GIFT-DUO', quantity: 4, shipBy: '2026-03-02', customer: 'Smith, Jones & "Co"' },
  ]);
}

const permuted = (row: readonly string[]) => [6, 3, 0, 5, 1, 4, 2].map((place) => row[place]!);

describe('the shapes a file may have', () => {
  it.each([
    ['commas and CRLF', csvOf([HEADER, ...ROWS])],
    ['semicolons and LF', csvOf([HEADER, ...ROWS], { delimiter: ';', lineEnd: '\n' })],
    ['tabs and CR', csvOf([HEADER, ...ROWS], { delimiter: '\t', lineEnd: '\r' })],
    ['bars, everything quoted', csvOf([HEADER, ...ROWS], { delimiter: '|', quoted: () => true })],
    ['a byte order mark', `\ufeff${csvOf([HEADER, ...ROWS])}`],
    ['columns in another order', csvOf([HEADER, ...ROWS].map(permuted))],
    ['no line end at the end, blank lines between', csvOf([HEADER, [''], ...ROWS, ['']]).trimEnd()],
    ['trailing blank cells', csvOf([HEADER, ...ROWS.map((row) => [...row, '', ''])])],
    ['a declared delimiter', `sep=;\r\n${csvOf([HEADER, ...ROWS], { delimiter: ';' })}`],
    [
      'a column nobody reads, with line ends in it',
      csvOf([[...HEADER, 'Note'], ...ROWS.map((row) => [...row, 'a\nb\r\n"c"'])]),
    ],
    ['UTF-16', Buffer.from(`\ufeff${csvOf([HEADER, ...ROWS])}`, 'utf16le')],
    ['Windows-1252', Buffer.from(csvOf([HEADER, ...ROWS], { delimiter: ';' }), 'latin1')],
    [
      'other names for the columns',
      csvOf([['order_id', 'Item-Code', 'QTY', 'dispatch by', 'Buyer', 'Order Date', 'Shop'], ...ROWS]),
    ],
    [
      'names in German',
      csvOf([['Bestellnummer', 'Artikelnummer', 'Menge', 'Versand bis', 'Kunde', 'Bestelldatum', 'Kanal'], ...ROWS]),
    ],
  ])('%s', async (_shape, csv) => {
    const { status, body } = await importCsv(shop, csv);
    expect(status).toBe(200);
    expect(body).toMatchObject({ written: true, rows: { read: 4, new: 4, bad: 0 }, orders: { new: 3, waiting: 0 } });
    expect(body.units.planned).toBe(2 + 1 + 4 + 6);
    await expectTheFourRows();
  });

  it('reads the bytes of Windows-1252 that Latin-1 does not have', async () => {
    const csv = Buffer.concat([
      Buffer.from('order;code;quantity;placed on;customer\r\n1;LINEN-100;1;2026-03-01;'),
      Buffer.from([0x8e, 0x69, 0x9e, 0x65, 0x6b, 0x20, 0x80, 0x93, 0x78, 0x94]),
    ]);
    const { body } = await importCsv(shop, csv, WEBSHOP);
    expect(body.file).toMatchObject({ encoding: 'windows-1252', delimiter: ';' });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ customer: 'Žižek €“x”' }]);
  });

  it('says how it read the file', async () => {
    const { body } = await importCsv(shop, csvOf([[...HEADER, 'Colour'], ...ROWS.map((row) => [...row, 'red'])]));
    expect(body.file).toMatchObject({
      encoding: 'utf-8',
      delimiter: ',',
      columns: { number: 'Order number', code: 'SKU', quantity: 'Quantity', shipBy: 'Ship by', channel: 'Channel' },
      unread: ['Colour'],
    });
  });

  it('inherits what an order states in its first row only', async () => {
    const csv = csvOf([
      ['Number', 'Code', 'Qty', 'Created at', 'Customer', 'Financial status', 'Ship by'],
      ['1', 'LINEN-100', '1', '2026-03-01T09:00:00Z', 'Ann Example', 'paid', '2026-03-20'],
      ['1', 'LINEN-250', '2', '', '', '', ''],
      ['1', 'CANDLE-FIG', '3', '', '', '', '2026-03-25'],
      ['2', 'LINEN-100', '1', '2026-03-02T09:00:00Z', '', 'pending', ''],
      ['2', 'LINEN-250', '1', '', '', '', ''],
    ]);
    const { status, body } = await importCsv(shop, csv, WEBSHOP);
    expect([status, body.rows.new, body.orders]).toEqual([200, 5, { new: 2, waiting: 1 }]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', code: 'CANDLE-FIG', status: 'confirmed', customer: 'Ann Example', shipBy: '2026-03-25' },
      { number: '1', code: 'LINEN-100', shipBy: '2026-03-20' },
      { number: '1', code: 'LINEN-250', shipBy: '2026-03-20', placedOn: '2026-03-01' },
      { number: '2', code: 'LINEN-100', status: 'waiting', customer: null, shipBy: '2026-03-07' },
      { number: '2', code: 'LINEN-250', status: 'waiting', shipBy: '2026-03-07' },
    ]);
  });

  it('does not let a line inherit that its neighbour was cancelled', async () => {
    const csv =
      'order,code,quantity,ship by,cancelled on\n1,LINEN-100,1,2026-03-09,2026-03-01\n1,LINEN-250,1,2026-03-09,\n';
    const { body } = await importCsv(shop, csv, WEBSHOP);
    expect(body.rows).toMatchObject({ new: 1, cancelled: 1 });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ code: 'LINEN-250', cancelled: 0 }]);
  });
});

describe('the columns', () => {
  const csv = csvOf([
    ['Ref', 'What', 'How many', 'When', 'Who'],
    ['1', 'LINEN-100', '2', '2026-03-01', 'Ann Example'],
  ]);
  const MAP = { number: 'Ref', code: 'What', quantity: 'how many', placedOn: 'When', customer: 'Who' };

  it.each([
    ['JSON', JSON.stringify(MAP)],
    ['repeated pairs', Object.entries(MAP).map(([role, header]) => `${role}:${header}`)],
  ])('may be named by a map as %s', async (_how, map) => {
    const { status, body } = await importCsv(shop, csv, { ...WEBSHOP, map });
    expect([status, body.rows?.new]).toEqual([200, 1]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ number: '1', quantity: 2, customer: 'Ann Example' }]);
  });

  it('that nobody can match are refused with the header and what was matched', async () => {
    const { status, body } = await importCsv<Refusal & { header: string[]; matched: object }>(shop, csv, WEBSHOP);
    expect([status, body.code]).toEqual([422, 'columns']);
    expect(body.detail).toContain('no column is the order number');
    expect(body.detail).toContain('Ref | What | How many | When | Who');
    expect(body).toMatchObject({ header: ['Ref', 'What', 'How many', 'When', 'Who'], matched: {} });
  });

  it('that look alike are refused, and a map decides', async () => {
    const twice = 'Order,SKU,Item code,Quantity,Placed\n1,x,LINEN-100,2,2026-03-01\n';
    const refused = await importCsv<Refusal>(shop, twice, WEBSHOP);
    expect([refused.status, refused.body.code]).toEqual([422, 'columns']);
    expect(refused.body.detail).toContain('"SKU" and "Item code" both look like the code');
    expect((await importCsv(shop, twice, { ...WEBSHOP, map: 'code:Item code' })).body.rows.new).toBe(1);
  });

  it('with the same header twice are refused where it matters', async () => {
    const refused = await importCsv<Refusal>(
      shop,
      'order,code,quantity,quantity,placed\n1,LINEN-100,2,3,2026-03-01\n',
      WEBSHOP,
    );
    expect([refused.status, refused.body.code]).toEqual([422, 'columns']);
    const mapped = await importCsv<Refusal>(shop, 'order,code,n,n,placed\n1,LINEN-100,2,3,2026-03-01\n', {
      ...WEBSHOP,
      map: 'quantity:n',
    });
    expect([mapped.status, mapped.body.code]).toEqual([422, 'columns']);
    const harmless = await importCsv(
      shop,
      'order,code,quantity,note,note,placed\n1,LINEN-100,2,a,b,2026-03-01\n',
      WEBSHOP,
    );
    expect(harmless.status).toBe(200);
  });

  it('may be left out by an empty name', async () => {
    const odd = 'order,code,quantity,placed,status\n1,LINEN-100,2,2026-03-01,gone fishing\n';
    const refused = await importCsv<Refusal>(shop, odd, WEBSHOP);
    expect(refused.body.report.problems).toMatchObject([{ line: 2, column: 'status', code: 'unknown-word' }]);
    expect((await importCsv(shop, odd, { ...WEBSHOP, map: 'status:' })).status).toBe(200);
  });

  it.each([
    ['number', '"number" is given twice', ['number:a', 'number:b']],
    ['a role nobody knows', 'is not a role', 'colour:Red'],
    ['no role', 'role:Header', 'Red'],
    ['broken JSON', 'not valid JSON', '{"number"'],
    ['JSON of something else', 'must be text', '{"number": 3}'],
    ['a header that is not there', 'no column is called', 'number:Nowhere'],
  ])('map with %s is refused', async (_what, _why, map) => {
    const { status, body } = await importCsv<Refusal>(shop, csv, { ...WEBSHOP, map });
    expect(status).toBe(422);
    expect(['invalid', 'columns']).toContain(body.code);
  });

  it('need a channel, in the file or in the request', async () => {
    const plain = 'order,code,quantity,placed\n1,LINEN-100,1,2026-03-01\n';
    expect((await importCsv<Refusal>(shop, plain)).body.code).toBe('columns');
    expect((await importCsv<Refusal>(shop, plain, { channel: 'nowhere' })).body.code).toBe('unknown-channel');
    const stray = 'order,code,quantity,placed,channel\n1,LINEN-100,1,2026-03-01,pop-up\n2,LINEN-100,1,2026-03-01,\n';
    const refused = await importCsv<Refusal>(shop, stray);
    expect(refused.body.report.problems).toMatchObject([
      { line: 2, column: 'channel', code: 'unknown-channel' },
      { line: 3, column: 'channel', code: 'missing' },
    ]);
    expect((await importCsv(shop, stray, { channel: 'market' })).body.rows.new).toBe(2);
    expect(await storedLines(shop, 'market')).toHaveLength(2);
  });

  it('without a day placed take today, and need a ship-by then', async () => {
    const { body } = await importCsv(shop, 'order,code,quantity,ship by\n1,LINEN-100,1,2026-03-20\n', WEBSHOP);
    expect(body.rows.new).toBe(1);
    expect(await storedLines(shop, 'webshop')).toMatchObject([{ placedOn: '2026-03-02', shipBy: '2026-03-20' }]);
    const refused = await importCsv<Refusal>(shop, 'order,code,quantity,ship by\n2,LINEN-100,1,\n', WEBSHOP);
    expect(refused.body.report.problems).toMatchObject([{ line: 2, column: 'ship by', code: 'missing' }]);
  });

  it('may say before which day nothing ships', async () => {
    const csvText = csvOf([
      ['order', 'code', 'quantity', 'placed', 'ship by', 'not before'],
      ['1', 'LINEN-100', '1', '2026-03-01', '2026-03-20', '2026-03-18'],
      ['2', 'LINEN-100', '1', '2026-03-01', '', '2026-03-18'],
    ]);
    expect((await importCsv(shop, csvText, WEBSHOP)).body.rows.new).toBe(2);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', shipBy: '2026-03-20', notBefore: '2026-03-18' },
      { number: '2', shipBy: '2026-03-18', notBefore: '2026-03-18' },
    ]);
  });
});

describe('all or nothing, the good ones, or a look first', () => {
  const mixed = csvOf([
    ['order', 'code', 'quantity', 'placed', 'customer'],
    ['1', 'LINEN-100', '2', '2026-03-01', 'Ann Example'],
    ['1', 'LINEN-100', 'two', '2026-03-01', 'Ann Example'],
    ['2', 'SOAP-X', '1', '2026-03-01', 'Bea\nExample'],
    ['3', 'LINEN-250', '4', '2026-03-01', 'Cy Example'],
  ]);
  const problems = [
    { line: 3, column: 'quantity', code: 'not-a-whole-number' },
    { line: 4, column: 'code', code: 'unknown-code' },
  ];

  it('writes nothing when one row is bad', async () => {
    const before = await rowCounts(shop);
    const { status, headers, body } = await importCsv<Refusal>(shop, mixed, WEBSHOP);
    expect([status, headers['content-type']]).toEqual([422, 'application/problem+json; charset=utf-8']);
    expect(body.report).toMatchObject({ written: false, rows: { read: 4, new: 2, bad: 2 }, problems });
    expect(await rowCounts(shop)).toEqual(before);
  });

  it('take=good writes the good rows and answers the rest', async () => {
    const { status, body } = await importCsv(shop, mixed, { ...WEBSHOP, take: 'good' });
    expect([status, body]).toMatchObject([200, { written: true, rows: { new: 2, bad: 2 }, problems }]);
    expect(await storedLines(shop, 'webshop')).toMatchObject([
      { number: '1', quantity: 2 },
      { number: '3', quantity: 4 },
    ]);
    expect(await shop.database.query('select name from customer order by name')).toEqual([
      { name: 'Ann Example' },
      { name: 'Cy Example' },
    ]);
  });

  it('names the lines after a quoted line end rightly', async () => {
    const { body } = await importCsv<Refusal>(shop, `${mixed}4,LINEN-100,x,2026-03-01,\r\n`, WEBSHOP);
    expect(body.report.problems.at(-1)).toMatchObject({ line: 7, column: 'quantity' });
  });

  it.each(['all', 'good'])('preview=true with take=%s writes nothing and says the same', async (take) => {
    const before = await rowCounts(shop);
    const { status, body } = await importCsv(shop, mixed, { ...WEBSHOP, take, preview: 'true' });
    expect([status, body]).toMatchObject([200, { written: false, preview: true, rows: { new: 2, bad: 2 }, problems }]);
    expect(await rowCounts(shop)).toEqual(before);
    const { body: done } = await importCsv(shop, mixed, { ...WEBSHOP, take: 'good' });
    expect(done.rows).toEqual(body.rows);
  });

  it('keeps the name of a bad line for the day it is mended', async () => {
    await importCsv(shop, mixed, { ...WEBSHOP, take: 'good' });
    const later = csvOf([
      ['order', 'code', 'quantity', 'placed'],
      ['5', 'CANDLE-FIG', 'many', '2026-03-01'],
      ['5', 'CANDLE-FIG', '3', '2026-03-01'],
    ]);
    await importCsv(shop, later, { ...WEBSHOP, take: 'good' });
    expect(await storedLines(shop, 'webshop')).toMatchObject([{}, {}, { number: '5', occurrence: 2, quantity: 3 }]);
    const { body } = await importCsv(shop, later.replace('many', '8'), WEBSHOP);
    expect(body.rows).toMatchObject({ new: 1, known: 1, amended: 0 });
    expect((await storedLines(shop, 'webshop')).slice(2)).toMatchObject([
      { occurrence: 1, quantity: 8 },
      { occurrence: 2, quantity: 3 },
    ]);
  });

  it('is done in the name of who asked', async () => {
    const csv = 'order,code,quantity,placed,customer\n1,LINEN-100,1,2026-03-01,Ann Example\n';
    await shop.request('POST', '/api/orders/import?channel=webshop', csv, {
      'content-type': 'text/csv; charset=utf-8',
      'lotwright-person': 'Robin',
    });
    expect(
      await shop.database.query(`select created_by from customer_order union all select created_by from order_line
        union all select created_by from customer`),
    ).toEqual([{ created_by: 'Robin' }, { created_by: 'Robin' }, { created_by: 'Robin' }]);
  });
});

describe('a file that is none', () => {
  it.each([
    ['nothing at all', '', 'file-empty'],
    ['blank lines', '\r\n\r\n  \r\n', 'file-empty'],
    ['a header only', 'order,code,quantity,placed\r\n', 'file-without-rows'],
    ['a NUL', 'order,code,quantity,placed\n1,LINEN-100,1,2026-03-01\n2,\u0000,1,2026-03-01\n', 'csv-not-text'],
    ['UTF-16 without its mark', Buffer.from('order,code,quantity,placed\n', 'utf16le'), 'csv-not-text'],
    ['an unclosed quote', 'order,code,quantity,placed\n1,"LINEN-100,1,2026-03-01\n', 'csv-unclosed-quote'],
    [
      'a cell of 2 MB',
      `order,code,quantity,placed\n1,"${'x'.repeat(2_000_000)}",1,2026-03-01\n`,
      'csv-record-too-long',
    ],
    ['a picture', Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13]), 'csv-not-text'],
  ])('%s is refused', async (_what, csv, code) => {
    const before = await rowCounts(shop);
    const { status, headers, body } = await importCsv<Refusal>(shop, csv, WEBSHOP);
    expect([status, body.code]).toEqual([422, code]);
    expect(headers['content-type']).toBe('application/problem+json; charset=utf-8');
    expect(await rowCounts(shop)).toEqual(before);
  });
});

describe('the report for the terminal', () => {
  it('says what was done and what needs a look', async () => {
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed', 'status'],
      ['1', 'LINEN-100', '2', '2026-03-01', 'paid'],
      ['1', 'LINEN-100', '-1', '2026-03-01', 'paid'],
      ['2', 'SOAP-X', '3', '2026-03-01', 'paid'],
      ['3', 'LINEN-250', '1', '2026-03-01', 'pending'],
    ]);
    const { body } = await importCsv<Refusal>(shop, csv, WEBSHOP);
    const text = printImportReport(body.report);
    expect(text).toContain('Refused: 1 of 4 rows are bad, so nothing was written.');
    expect(text).toContain('SOAP-X (webshop): 1 lines, 3 units, first in line 4');
    expect(text).toContain('line 4, code: There is no item and no shop code of webshop called "SOAP-X".');
    const { body: good } = await importCsv(shop, csv, { ...WEBSHOP, take: 'good' });
    const done = printImportReport(good);
    expect(done).toContain('Imported 3 of 4 rows.');
    expect(done).toMatch(/2 new +2 new orders, 1 units to plan/);
    expect(done).toContain('1 orders wait for payment and are not planned.');
    expect(done).toContain('line 3, order 1, LINEN-100: negative quantity, 1 of 1 units were open');
  });

  it('shows at most 20 of each and counts the rest', async () => {
    const rows = Array.from({ length: 50 }, (_, at) => [`${at}`, `SOAP-${at}`, '1', '2026-03-01']);
    const { body } = await importCsv<Refusal>(shop, csvOf([['order', 'code', 'quantity', 'placed'], ...rows]), WEBSHOP);
    const text = printImportReport(body.report);
    expect(text.match(/and 30 more/g)).toHaveLength(2);
    expect(text.split('\n').length).toBeLessThan(60);
  });
});

it('the routes of the room are described', async () => {
  const { body } = await shop.request<{ paths: Record<string, unknown> }>('GET', '/api/openapi.json');
  expect(Object.keys(body.paths)).toEqual(
    expect.arrayContaining(['/api/orders', '/api/orders/import', '/api/orders/{channel}/{number}', '/api/shop-codes']),
  );
});
