import { randomBytes } from 'node:crypto';
import { Client, Pool } from 'pg';
import { inject } from 'vitest';
import { poolOptions } from '../../src/platform/pool-options.js';

export interface TestDatabase {
  /** As the application's role. */
  url: string;
  ownerUrl: string;
  /** Runs SQL as the owner, in a session whose acts are by `test`. */
  query<Row = Record<string, unknown>>(sql: string, values?: unknown[]): Promise<Row[]>;
  /** Rows that break a promise of the ledger; none when all is well. */
  violations(): Promise<Record<string, unknown>[]>;
  drop(): Promise<void>;
}

/** An own copy of the migrated, empty database. */
export async function testDatabase(): Promise<TestDatabase> {
  const template = inject('template');
  const name = `lotwright_test_${randomBytes(6).toString('hex')}`;
  const templateName = new URL(template.ownerUrl).pathname.slice(1);
  await asAdmin(template.ownerUrl, `create database ${name} template ${templateName}`);
  const ownerUrl = onDatabase(template.ownerUrl, name);
  const { types } = poolOptions(ownerUrl).extra;
  const pool = new Pool({ connectionString: ownerUrl, options: '-c lotwright.who=test', max: 2, types });
  const query = async <Row>(sql: string, values?: unknown[]) => (await pool.query(sql, values)).rows as Row[];
  return {
    url: onDatabase(template.appUrl, name),
    ownerUrl,
    query,
    violations: () => query('select * from ledger_violations()'),
    drop: async () => {
      await pool.end();
      await asAdmin(template.ownerUrl, `drop database ${name} with (force)`);
    },
  };
}

function onDatabase(url: string, name: string): string {
  const changed = new URL(url);
  changed.pathname = `/${name}`;
  return changed.href;
}

/** From the server's own database, because nobody may be connected to one that is copied or dropped. */
async function asAdmin(ownerUrl: string, sql: string): Promise<void> {
  const client = new Client({ connectionString: onDatabase(ownerUrl, 'postgres') });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}
