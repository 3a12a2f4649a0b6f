import type { Erased, ErasurePreview } from '../../src/trace/erasure.schema.js';
import type { TestApp } from './app.js';
import { shelfOf } from './shelf.js';

/** What erasing a customer would do. */
export const previewOf = (app: TestApp, id: number): Promise<ErasurePreview> =>
  shelfOf(app).get<ErasurePreview>(`/api/customers/${id}/erasure`);

/** Erases a customer as a person does: looks first, then does what was seen; answers both. */
export async function eraseCustomer(app: TestApp, id: number): Promise<{ preview: ErasurePreview; erased: Erased }> {
  const preview = await previewOf(app, id);
  const erased = await shelfOf(app).done<Erased>(`/api/customers/${id}/erase`, { seen: preview.seen, why: '2026/17' });
  return { preview, erased };
}

/** Takes what is left of a customer's orders out of the way, as a person would before they are erased. */
export async function closeOrdersOf(app: TestApp, id: number): Promise<void> {
  const orders = await app.database.query<{ channel: string; number: string }>(
    `select channel, number from customer_order where customer_id = $1 and status in ('waiting', 'confirmed') order by id`,
    [id],
  );
  for (const { channel, number } of orders)
    await shelfOf(app).done(`/api/orders/${channel}/${encodeURIComponent(number)}/cancel`, {});
}

/** Each row of each table, as the MD5 of it by `table` and primary key. */
export async function allRows(app: TestApp): Promise<Map<string, string>> {
  const tables = await app.database.query<{ name: string; key: string }>(
    `select c.relname as name, string_agg(format('%I', a.attname), ', ' order by a.attnum) as key
     from pg_class c join pg_index i on i.indrelid = c.oid and i.indisprimary
       join pg_attribute a on a.attrelid = c.oid and a.attnum = any(i.indkey)
     where c.relnamespace = 'public'::regnamespace and c.relkind = 'r' group by c.relname order by 1`,
  );
  const rows = new Map<string, string>();
  for (const { name, key } of tables)
    for (const row of await app.database.query<{ at: string; hash: string }>(
      `select jsonb_build_array(${key})::text as at, md5(t::text) as hash from ${name} t`,
    ))
      rows.set(`${name} ${row.at}`, row.hash);
  return rows;
}

/** What differs between two of them, by table and key. */
export function changedRows(before: Map<string, string>, after: Map<string, string>): string[] {
  return [...new Set([...before.keys(), ...after.keys()])].filter((at) => before.get(at) !== after.get(at)).sort();
}
