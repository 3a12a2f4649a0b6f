import type { ClientBase } from 'pg';

/**
 * Tables whose rows are in no backup. Everything else of the schema is, but for the queue's own schema: what it carries are
 * names of messages, whose rows are here, and whoever restores begins with an empty queue.
 */
export const LEFT_OUT: Readonly<Record<string, string>> = {
  migrations: 'the header says which there were, and a restore makes them',
  database_function: 'says of which files the functions of one database were made; a restore makes its own',
  change: 'names transactions of one server; a restore writes down that everything changed',
  idempotency:
    'answers are kept for the two days a program may ask again, and some tell a secret that is told once (the address of the calendar, what a webhook is signed with)',
};

/**
 * Columns that are written as something else, so that nothing in the file opens a door. The address of a webhook goes with
 * its secret: it often is one, and the database demands both or none.
 */
export const BLANKED: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  notice_setting: {
    webhook_url: `''`,
    webhook_secret: `''`,
    calendar_hash: 'null',
    calendar_since: 'null',
  },
};

/** Where photos are named: by the SHA-256 of their bytes, with their type. */
const PHOTO_TABLE = /_photo$/;

export interface TableContents {
  table: string;
  /** All that are not made of others, in the order of the table. */
  columns: string[];
  /** What its rows are put in order by, so that the same rows are the same bytes on every server. */
  order: string;
  hasPhotos: boolean;
}

interface CatalogueRow {
  table: string;
  columns: string[];
  order: string[];
  needs: string[];
}

// text goes by its bytes, because servers differ in their alphabets
const CATALOGUE = `
  select c.relname as "table",
    array(select a.attname::text from pg_attribute a
      where a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and a.attgenerated = ''
      order by a.attnum) as columns,
    coalesce(
      (select array_agg(quote_ident(a.attname) || case when a.attcollation = 0 then '' else ' collate "C"' end
          order by array_position(i.indkey::int2[], a.attnum))
        from pg_index i join pg_attribute a on a.attrelid = i.indrelid and a.attnum = any(i.indkey)
        where i.indrelid = c.oid and i.indisprimary),
      array[quote_ident(c.relname) || '::text collate "C"']) as "order",
    coalesce(
      (select array_agg(distinct f.relname::text) from pg_constraint k join pg_class f on f.oid = k.confrelid
        where k.conrelid = c.oid and k.contype = 'f' and k.confrelid <> c.oid), '{}') as needs
  from pg_class c
  where c.relnamespace = 'public'::regnamespace and c.relkind = 'r'
  order by c.relname`;

/** The tables of a backup, each after those its rows point to. Throws where tables point to each other in a circle. */
export async function tablesOf(client: ClientBase): Promise<TableContents[]> {
  const { rows } = await client.query<CatalogueRow>(CATALOGUE);
  return inOrderOfNeed(rows.filter(({ table }) => LEFT_OUT[table] === undefined)).map(({ table, columns, order }) => ({
    table,
    columns,
    order: order.join(', '),
    hasPhotos: PHOTO_TABLE.test(table) && columns.includes('sha256') && columns.includes('type'),
  }));
}

function inOrderOfNeed(rows: readonly CatalogueRow[]): CatalogueRow[] {
  const byName = new Map(rows.map((row) => [row.table, row]));
  const ordered = new Set<CatalogueRow>();
  const visit = (row: CatalogueRow, onTheWay: readonly string[]): void => {
    if (ordered.has(row)) return;
    if (onTheWay.includes(row.table))
      throw new Error(`rows cannot be put back one table after another: ${[...onTheWay, row.table].join(' -> ')}`);
    for (const need of row.needs) {
      const needed = byName.get(need);
      if (needed) visit(needed, [...onTheWay, row.table]);
    }
    ordered.add(row);
  };
  for (const row of rows) visit(row, []);
  return [...ordered];
}

/** How far the numbers of each column have come that are given by the database; nothing of those none was given of yet. */
export async function sequencesOf(client: ClientBase): Promise<{ table: string; column: string; last: string }[]> {
  const { rows } = await client.query<{ table: string; column: string; last: string | null }>(`
    select t.relname as "table", a.attname as "column", pg_sequence_last_value(s.oid)::text as last
    from pg_class s
      join pg_depend d on d.classid = 'pg_class'::regclass and d.objid = s.oid and d.refclassid = 'pg_class'::regclass
        and d.deptype in ('a', 'i')
      join pg_class t on t.oid = d.refobjid
      join pg_attribute a on a.attrelid = t.oid and a.attnum = d.refobjsubid
    where s.relkind = 'S' and s.relnamespace = 'public'::regnamespace
    order by t.relname, a.attname`);
  return rows.flatMap(({ table, column, last }) =>
    last === null || LEFT_OUT[table] !== undefined ? [] : [{ table, column, last }],
  );
}

/** What gives the rows of a table as a backup holds them, line by line. */
export function copyOut({ table, columns, order }: TableContents): string {
  const blanked = BLANKED[table] ?? {};
  const values = columns.map((column) => blanked[column] ?? quoted(column));
  return `copy (select ${values.join(', ')} from ${quoted(table)} order by ${order}) to stdout`;
}

export function copyIn({ table, columns }: Pick<TableContents, 'table' | 'columns'>): string {
  return `copy ${quoted(table)} (${columns.map(quoted).join(', ')}) from stdin`;
}

export const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

/** The same text for the same value, whatever the server, its user or the system would choose. */
export const TEXT_SETTINGS = `
  set local timezone = 'UTC';
  set local datestyle = 'ISO, YMD';
  set local intervalstyle = 'postgres';
  set local extra_float_digits = 1;
  set local bytea_output = 'hex';
  set local client_encoding = 'UTF8';
  set local search_path = public`;

/** Whether anything of a workshop is in it; the tables must be there. */
export async function holdsData(client: ClientBase): Promise<boolean> {
  const { rows } = await client.query<{ holds: boolean }>(
    `select exists (select from item) or exists (select from channel) or exists (select from customer)
       or exists (select from supplier) or exists (select from vessel) as holds`,
  );
  return rows[0]!.holds;
}
