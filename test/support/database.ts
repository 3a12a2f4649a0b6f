import { randomBytes } from 'node:crypto';
import { Client, Pool } from 'pg';
import { inject } from 'vitest';
import { migrate } from '../../src/platform/migrate.js';
import { applicationUrl } from '../../src/platform/open-database.js';
import { poolOptions } from '../../src/platform/pool-options.js';
import { startEmbedded } from './server.js';

export interface TestDatabase {
  name: string;
  /** As the application's role. */
  url: string;
  ownerUrl: string;
  /** Runs SQL as the owner, in a session whose acts are by `test`. */
  query<Row = Record<string, unknown>>(sql: string, values?: unknown[]): Promise<Row[]>;
  /** Rows that break a promise of the ledger; none when all is well. */
  violations(): Promise<Record<string, unknown>[]>;
  drop(): Promise<void>;
}

type Reached = TestDatabase & { close(): Promise<void> };

/** What a copy holds, and how it came to be there. */
export interface Contents {
  /** Part of a database's name. */
  name: string;
  /** Fills it; every connection to it must be closed again. */
  fill(database: TestDatabase): Promise<void>;
}

/** An own copy of the migrated database: empty, or with what is filled in once a run. */
export async function testDatabase(
  contents?: Contents,
  name = `lotwright_test_${randomBytes(6).toString('hex')}`,
): Promise<TestDatabase> {
  const empty = new URL(inject('template').ownerUrl).pathname.slice(1);
  await asAdmin(copying(name, contents ? await filledOnce(empty, contents) : empty));
  return onCopy(name);
}

// the other strategy writes all of it into the log, which nobody reads here
const copying = (name: string, from: string) => `create database ${name} template ${from} strategy file_copy`;

/** The database to copy from. Who comes first fills it, others wait; it has its name only when it is whole. */
async function filledOnce(empty: string, { name, fill }: Contents): Promise<string> {
  const full = `${empty}_${name}`;
  const half = `${full}_half`;
  const admin = new Client({ connectionString: onDatabase(inject('template').ownerUrl, 'postgres') });
  await admin.connect();
  try {
    await admin.query('select pg_advisory_lock(hashtext($1))', [full]);
    const { rowCount } = await admin.query('select from pg_database where datname = $1', [full]);
    if (rowCount === 0) {
      await admin.query(`drop database if exists ${half} with (force)`);
      await admin.query(copying(half, empty));
      const database = onCopy(half);
      await fill(database);
      await database.close();
      await admin.query(`alter database ${half} rename to ${full}`);
    }
    return full;
  } finally {
    await admin.end();
  }
}

/** On a server where nobody else is, which `drop` ends. */
export async function databaseAlone(): Promise<TestDatabase> {
  const server = await startEmbedded();
  await migrate(server.url);
  const database = reached(server.url, await applicationUrl(server.url));
  return {
    ...database,
    drop: async () => {
      await database.close();
      await server.stop();
    },
  };
}

function onCopy(name: string): Reached {
  const { ownerUrl, appUrl } = inject('template');
  const database = reached(onDatabase(ownerUrl, name), onDatabase(appUrl, name));
  return {
    ...database,
    drop: async () => {
      await database.close();
      await asAdmin(`drop database ${name} with (force)`);
    },
  };
}

function reached(ownerUrl: string, url: string): Omit<Reached, 'drop'> {
  const name = new URL(url).pathname.slice(1);
  const pool = new Pool({ ...poolOptions(ownerUrl).extra, options: '-c lotwright.who=test', max: 2 });
  // a pool that has ended may still be hanging up when the database is dropped under it: that is no fault
  pool.on('error', (error) => {
    if (!pool.ended) throw error;
  });
  const query = async <Row>(sql: string, values?: unknown[]) => (await pool.query(sql, values)).rows as Row[];
  return {
    name,
    url,
    ownerUrl,
    query,
    violations: () => query('select * from ledger_violations()'),
    close: () => pool.end(),
  };
}

function onDatabase(url: string, name: string): string {
  const changed = new URL(url);
  changed.pathname = `/${name}`;
  return changed.href;
}

/** From the server's own database, because nobody may be connected to one that is copied or dropped. */
async function asAdmin(sql: string): Promise<void> {
  const client = new Client({ connectionString: onDatabase(inject('template').ownerUrl, 'postgres') });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}
