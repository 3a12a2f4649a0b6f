import * as fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { useTestApp } from '../support/app.js';
import { csvOf, importCsv, openShops, rowCounts } from '../support/orders.js';
import type { Refusal } from '../support/orders.js';
import { patience, runs } from '../support/scale.js';

const shop = useTestApp();
beforeAll(() => openShops(shop));

const CODES = ['LINEN-100', 'linen-250', 'Candle-Fig', 'GIFT-DUO'];
const COLUMNS = ['Order number', 'SKU', 'Quantity', 'Placed on', 'Ship by', 'Customer', 'Note'] as const;
type Row = Record<(typeof COLUMNS)[number], string>;

/** Every run has a channel of its own, so the runs do not see each other. */
let channels = 0;
async function freshChannel(): Promise<string> {
  const code = `shop-${++channels}`;
  await shop.database.query('insert into channel (code, name, promise_days) values ($1, $1, 4)', [code]);
  return code;
}

const day = fc.integer({ min: 1, max: 28 }).map((of) => `2026-03-${String(of).padStart(2, '0')}`);
// any text that a cell may hold; in the columns that are read it has no control characters and no blanks around it
const anyText = fc.string({ unit: fc.constantFrom(...'aé€;,|\t"\n\r \'=', '\r\n', 'ß', '\u201c'), maxLength: 12 });
const name = fc
  .string({ unit: fc.constantFrom(...'ab;,|"\'=-+@ é€ß', '\u201c'), minLength: 1, maxLength: 12 })
  .map((text) => `N${text.replace(/ +/g, ' ')}N`);
const line = fc.record({
  SKU: fc.constantFrom(...CODES),
  Quantity: fc.integer({ min: 1, max: 99 }).map(String),
  'Ship by': fc.oneof(day, fc.constant('')),
  Note: anyText,
});
const order = fc.record({
  'Placed on': day,
  Customer: fc.oneof(name, fc.constant('')),
  lines: fc.array(line, { minLength: 1, maxLength: 5 }),
});
const rowsOfOrders = fc
  .array(order, { minLength: 1, maxLength: 8 })
  .map((orders) =>
    orders.flatMap(({ lines, ...head }, at): Row[] =>
      lines.map((rest) => ({ 'Order number': `#${at + 1};x`, ...head, ...rest })),
    ),
  );

const shape = fc.record({
  delimiter: fc.constantFrom(',', ';', '\t', '|'),
  lineEnd: fc.constantFrom('\n', '\r\n', '\r'),
  quoteEvery: fc.integer({ min: 1, max: 4 }),
  order: fc.shuffledSubarray([...COLUMNS], { minLength: COLUMNS.length }),
  encoding: fc.constantFrom('utf-8', 'utf-8 with mark', 'utf-16le', 'windows-1252'),
});
type Shape = typeof shape extends fc.Arbitrary<infer T> ? T : never;

const WINDOWS_1252: Record<string, number> = { '€': 0x80, '\u201c': 0x93 };

function bytesOf(rows: readonly Row[], { delimiter, lineEnd, quoteEvery, order: columns, encoding }: Shape): Buffer {
  let cells = 0;
  const table = [columns, ...rows.map((row) => columns.map((column) => row[column]))];
  const text = csvOf(table, { delimiter, lineEnd, quoted: () => cells++ % quoteEvery === 0 });
  if (encoding === 'utf-8') return Buffer.from(text);
  if (encoding === 'utf-8 with mark') return Buffer.from(`\ufeff${text}`);
  if (encoding === 'utf-16le') return Buffer.from(`\ufeff${text}`, 'utf16le');
  return Buffer.from([...text].map((character) => WINDOWS_1252[character] ?? character.charCodeAt(0)));
}

interface Expected {
  number: string;
  code: string;
  occurrence: number;
  item: string;
  quantity: number;
  placedOn: string;
  shipBy: string;
  customer: string | null;
}

/** The rows as order lines, by the plainest reading there is. */
function linesOf(rows: readonly Row[]): Expected[] {
  const seen = new Map<string, number>();
  return rows.map((row) => {
    const key = `${row['Order number']} ${row.SKU}`;
    seen.set(key, (seen.get(key) ?? 0) + 1);
    const promised = `2026-0${Number(row['Placed on'].slice(8)) > 27 ? 4 : 3}-`;
    const promisedDay = ((Number(row['Placed on'].slice(8)) + 4 - 1) % 31) + 1;
    return {
      number: row['Order number'],
      code: row.SKU,
      occurrence: seen.get(key)!,
      item: row.SKU.toUpperCase(),
      quantity: Number(row.Quantity),
      placedOn: row['Placed on'],
      shipBy: row['Ship by'] || `${promised}${String(promisedDay).padStart(2, '0')}`,
      customer: row.Customer || null,
    };
  });
}

const keyOf = ({ number, code, occurrence }: Expected) => `${number} ${code} ${occurrence}`;
const sorted = (lines: Expected[]) => lines.sort((a, b) => (keyOf(a) < keyOf(b) ? -1 : 1));

/** Customers are one by name whatever its case, so the first spelling of the whole database stays: compare in lower case. */
async function storedIn(channel: string): Promise<Expected[]> {
  return sorted(
    await shop.database.query<Expected>(
      `select o.number, l.shop_code as code, l.occurrence, i.code as item, l.quantity - l.cancelled as quantity,
         o.placed_on as "placedOn", l.ship_by as "shipBy", lower(c.name) as customer
       from order_line l join customer_order o on o.id = l.order_id join item i on i.id = l.item_id
         left join customer c on c.id = o.customer_id
       where o.channel = $1`,
      [channel],
    ),
  );
}

const lowered = (lines: Expected[]) =>
  sorted(lines.map((of) => ({ ...of, customer: of.customer?.toLowerCase() ?? null })));

describe('whatever the shape of the file', () => {
  it(
    'the order lines come in as they were written, and a second time as known',
    async () => {
      await fc.assert(
        fc.asyncProperty(rowsOfOrders, shape, async (rows, how) => {
          const channel = await freshChannel();
          const csv = bytesOf(rows, how);
          const first = await importCsv(shop, csv, { channel });
          expect([first.status, first.body.rows]).toMatchObject([200, { read: rows.length, new: rows.length, bad: 0 }]);
          expect(first.body.file.delimiter).toBe(how.delimiter);
          expect(await storedIn(channel)).toEqual(lowered(linesOf(rows)));
          const second = await importCsv(shop, csv, { channel });
          expect(second.body.rows).toMatchObject({ known: rows.length, new: 0, amended: 0 });
          expect(await storedIn(channel)).toEqual(lowered(linesOf(rows)));
        }),
        { numRuns: runs(60, 600) },
      );
    },
    patience(120_000),
  );

  it(
    'exports that overlap, in any sequence, end as the newest of each order says',
    async () => {
      const exports = rowsOfOrders.chain((rows) => {
        const numbers = [...new Set(rows.map((row) => row['Order number']))];
        const part = fc.record({
          numbers: fc.subarray(numbers, { minLength: 1 }),
          quantities: fc.array(fc.integer({ min: 1, max: 99 }), { minLength: rows.length, maxLength: rows.length }),
        });
        return fc.record({ rows: fc.constant(rows), parts: fc.array(part, { minLength: 1, maxLength: 4 }) });
      });
      await fc.assert(
        fc.asyncProperty(exports, shape, async ({ rows, parts }, how) => {
          const channel = await freshChannel();
          const newest = new Map<string, Row[]>();
          for (const { numbers, quantities } of parts) {
            const changed = rows.map((row, at) => ({ ...row, Quantity: String(quantities[at]!) }));
            const sent = changed.filter((row) => numbers.includes(row['Order number']));
            for (const number of numbers)
              newest.set(
                number,
                sent.filter((row) => row['Order number'] === number),
              );
            expect((await importCsv(shop, bytesOf(sent, how), { channel })).status).toBe(200);
          }
          // a ship-by the file does not state was promised when the line was first seen; placing days do not change here
          expect(await storedIn(channel)).toEqual(lowered(linesOf([...newest.values()].flat())));
        }),
        { numRuns: runs(25, 250) },
      );
    },
    patience(120_000),
  );

  it(
    'no bytes at all are answered with a fault of the program',
    async () => {
      const piece = fc.oneof(
        fc.constantFrom(
          'order,code,quantity,placed\n',
          '1,LINEN-100,1,2026-03-01\n',
          '"',
          ',',
          ';',
          '\n',
          '\r',
          '\t',
          'sep=;\n',
        ),
        fc.string({ unit: 'binary', maxLength: 20 }),
      );
      const bytes = fc.oneof(
        fc.array(piece, { maxLength: 12 }).map((pieces) => Buffer.from(pieces.join(''))),
        fc.uint8Array({ maxLength: 200 }).map((array) => Buffer.from(array)),
      );
      const before = await rowCounts(shop);
      await fc.assert(
        fc.asyncProperty(bytes, fc.constantFrom('all', 'good'), async (body, take) => {
          const answer = await importCsv<Partial<Refusal>>(shop, body, { channel: 'market', take, preview: 'true' });
          expect([200, 422]).toContain(answer.status);
        }),
        { numRuns: runs(150, 1_500) },
      );
      expect(await rowCounts(shop)).toEqual(before);
    },
    patience(120_000),
  );
});

describe('a file of thousands of lines', () => {
  const LINES = 6000;
  const HEADER = ['Bestellung;Order no', 'Code', 'Qty', 'Placed', 'Buyer', 'Payment status'];
  const CODE_LIST = [...CODES, 'linen-3pack', 'OLD-SOAP', 'MIST-9'];
  const MAP = { map: 'number:Bestellung;Order no' };
  /** Every seventh line has a code nobody knows, and some are junk, negative or unpaid. */
  const rows = Array.from({ length: LINES }, (_, at) => [
    `W${Math.floor(at / 3)}`,
    CODE_LIST[at % CODE_LIST.length]!,
    at % 97 === 0 ? 'x' : at % 89 === 0 ? '-1' : String(1 + (at % 9)),
    at % 101 === 0 ? '31.02.2026' : `2026-02-${String(1 + (Math.floor(at / 3) % 28)).padStart(2, '0')}`,
    `Müller & Söhne ${Math.floor(at / 3) % 400}`,
    Math.floor(at / 3) % 10 === 0 ? 'pending' : 'paid',
  ]);
  const csv = Buffer.from(csvOf([HEADER, ...rows], { delimiter: ';' }), 'latin1');
  const isBad = ([, code, quantity, placed]: string[]) =>
    quantity === 'x' || placed === '31.02.2026' || ((code === 'OLD-SOAP' || code === 'MIST-9') && quantity !== '-1');

  it('is refused whole while it holds junk, and nothing of it is written', async () => {
    const before = await rowCounts(shop);
    const { status, body } = await importCsv<Refusal>(shop, csv, { channel: 'webshop', ...MAP });
    expect([status, body.code]).toEqual([422, 'rows-refused']);
    expect(body.report.file).toMatchObject({ encoding: 'windows-1252', delimiter: ';' });
    expect(body.report.rows).toMatchObject({ read: LINES, bad: rows.filter(isBad).length });
    expect(body.report.problems).toHaveLength(1000);
    const counted = Object.values(body.report.problemCounts).reduce((sum, count) => sum + count, 0);
    expect(counted).toBeGreaterThanOrEqual(body.report.rows.bad);
    const linesOfCode = (code: string) =>
      rows.filter((row) => row[1] === code && row[2] !== 'x' && row[2] !== '-1' && row[3] !== '31.02.2026').length;
    expect(Object.fromEntries(body.report.unknownCodes.map(({ code, lines }) => [code, lines]))).toEqual({
      'MIST-9': linesOfCode('MIST-9'),
      'OLD-SOAP': linesOfCode('OLD-SOAP'),
    });
    expect(body.report.problems.every(({ line: of }, at, all) => at === 0 || all[at - 1]!.line <= of)).toBe(true);
    expect(await rowCounts(shop)).toEqual(before);
  });

  it('gives its good rows when asked to, once', async () => {
    const before = await rowCounts(shop);
    const { status, body } = await importCsv(shop, csv, { channel: 'webshop', take: 'good', ...MAP });
    const good = rows.filter((row) => !isBad(row) && row[2] !== '-1');
    const negative = rows.filter((row) => !isBad(row) && row[2] === '-1');
    expect(status).toBe(200);
    expect(body.rows.new).toBe(good.length);
    expect(body.rows.cancelled + body.rows.known).toBe(negative.length);
    const after = await rowCounts(shop);
    expect(after['order_line']! - before['order_line']!).toBe(good.length);
    const wanted = good.reduce((sum, row) => sum + Number(row[2]) * (row[1] === 'linen-3pack' ? 3 : 1), 0);
    const taken = body.cancellations.reduce((sum, row) => sum + row.cancelled, 0);
    expect(after['open']! - before['open']!).toBe(wanted - taken);
    const again = await importCsv(shop, csv, { channel: 'webshop', take: 'good', ...MAP });
    expect(again.body.rows).toMatchObject({ new: 0, amended: 0, bad: body.rows.bad });
    expect(await rowCounts(shop)).toEqual(after);
  });
});
