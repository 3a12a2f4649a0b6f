import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Client } from 'pg';

/** Runs SQL on the embedded server that serves a home, as the owner of everything. */
export async function asOwner(home: string, sql: string): Promise<Record<string, unknown>[]> {
  const [, , , port] = readFileSync(join(home, 'data', 'postmaster.pid'), 'utf8').split('\n');
  const password = readFileSync(join(home, 'password'), 'utf8');
  const client = new Client({
    host: '127.0.0.1',
    port: Number(port),
    user: 'lotwright',
    password,
    database: 'lotwright',
  });
  await client.connect();
  try {
    return (await client.query<Record<string, unknown>>(sql)).rows;
  } finally {
    await client.end();
  }
}
