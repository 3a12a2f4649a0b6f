import type { ImportReport } from '../../src/orders/import.schema.js';
import type { Answer, TestApp } from './app.js';

/** Items and channels enough to order from; a bulk and a material that nobody sells by the piece. */
export async function openShops(shop: TestApp): Promise<void> {
  await shop.database.query(`
    insert into item (code, name, kind, measure) values
      ('LINEN-100', 'Linen spray 100 ml', 'product', 'counted'), ('LINEN-250', 'Linen spray 250 ml', 'product', 'counted'),
      ('CANDLE-FIG', 'Candle, fig', 'product', 'counted'), ('GIFT-DUO', 'Gift of two', 'set', 'counted'),
      ('OIL-FIG', 'Fig fragrance', 'material', 'weighed'), ('BULK-LINEN', 'Linen spray', 'bulk', 'weighed')`);
  await shop.database.query(`
    insert into channel (code, name, promise_days) values
      ('webshop', 'Our own shop', 5), ('market', 'Saturday market', 2), ('wholesale', 'Wholesale', 14)`);
  await shop.database.query(`
    insert into shop_code (channel, code, item_id, units)
    select 'webshop', 'linen-3pack', id, 3 from item where code = 'LINEN-100'`);
}

/** Takes all orders away again, where nothing was reserved for them. */
export async function forgetOrders(shop: TestApp): Promise<void> {
  for (const table of ['order_line', 'customer_order', 'customer']) await shop.database.query(`delete from ${table}`);
}

/** A body to the import, as bytes or text, with its query. */
export function importCsv<Body = ImportReport>(
  shop: TestApp,
  csv: string | Buffer,
  query: Record<string, string | string[]> = {},
): Promise<Answer<Body>> {
  const search = new URLSearchParams(
    Object.entries(query).flatMap(([name, value]) => [value].flat().map((one): [string, string] => [name, one])),
  );
  return shop.request<Body>('POST', `/api/orders/import?${search}`, csv, { 'content-type': 'text/csv' });
}

/** What a refused import answers. */
export interface Refusal {
  status: number;
  code: string;
  detail: string;
  report: ImportReport;
  line?: number;
}

export interface StoredLine {
  number: string;
  status: string;
  customer: string | null;
  placedOn: string;
  code: string;
  occurrence: number;
  item: string;
  quantity: number;
  shipped: number;
  cancelled: number;
  shipBy: string;
  notBefore: string | null;
}

/** Every order line of a channel as the database holds it. */
export function storedLines(shop: TestApp, channel: string): Promise<StoredLine[]> {
  return shop.database.query<StoredLine>(
    `select o.number, o.status, c.name as customer, o.placed_on as "placedOn", l.shop_code as code, l.occurrence,
       i.code as item, l.quantity, l.shipped, l.cancelled, l.ship_by as "shipBy", l.not_before as "notBefore"
     from order_line l join customer_order o on o.id = l.order_id join item i on i.id = l.item_id
       left join customer c on c.id = o.customer_id
     where o.channel = $1 order by o.number, l.shop_code, l.occurrence`,
    [channel],
  );
}

/** How many rows each table of the room holds. */
export async function rowCounts(shop: TestApp): Promise<Record<string, number>> {
  const [row] = await shop.database.query<Record<string, number>>(
    `select (select count(*) from channel) as channel, (select count(*) from customer) as customer,
       (select count(*) from shop_code) as shop_code, (select count(*) from customer_order) as customer_order,
       (select count(*) from order_line) as order_line, (select count(*) from state_change) as state_change,
       (select coalesce(sum(quantity - shipped - cancelled), 0)::bigint from order_line) as open`,
  );
  return row!;
}

export interface CsvShape {
  delimiter?: string;
  lineEnd?: string;
  /** Which cells are quoted that need not be. */
  quoted?: (cell: string) => boolean;
}

/** Writes CSV as RFC 4180 has it, with another delimiter or line end where asked. */
export function csvOf(rows: readonly (readonly string[])[], shape: CsvShape = {}): string {
  const { delimiter = ',', lineEnd = '\r\n', quoted = () => false } = shape;
  const cellOf = (cell: string) =>
    /["\r\n]/.test(cell) || cell.includes(delimiter) || quoted(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
  return rows.map((row) => row.map(cellOf).join(delimiter) + lineEnd).join('');
}
