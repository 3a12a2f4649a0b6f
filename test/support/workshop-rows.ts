import type { TestDatabase } from './database.js';

type Asked = Pick<TestDatabase, 'query'>;

/** What belongs to a schema and its server, and not to the workshop in it. */
const OF_THE_SCHEMA = ['migrations', 'database_function', 'change', 'idempotency'];

/** How many rows each table has, and one hash of them all, whatever order they lie in. */
export async function rowsOf(database: Asked, ...without: string[]): Promise<Record<string, string>> {
  const tables = await database.query<{ name: string }>(
    `select relname as name from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r' order by 1`,
  );
  const rows: Record<string, string> = {};
  for (const { name } of tables.filter((table) => ![...OF_THE_SCHEMA, ...without].includes(table.name))) {
    const [row] = await database.query<{ rows: number; hash: string }>(
      `select count(*)::int as rows, md5(coalesce(string_agg(t::text, e'\\n' order by t::text collate "C"), '')) as hash
       from ${name} t`,
    );
    rows[name] = `${row!.rows} ${row!.hash}`;
  }
  return rows;
}

/** The number each column that is given by the database gives next. */
export async function nextNumbers(database: Asked): Promise<Record<string, string>> {
  const rows = await database.query<{ name: string; last: string | null }>(
    `select sequencename::text as name, last_value::text as last from pg_sequences
     where schemaname = 'public' and sequencename not like 'migrations%' order by 1`,
  );
  return Object.fromEntries(rows.map(({ name, last }) => [name, last ?? 'none yet']));
}
