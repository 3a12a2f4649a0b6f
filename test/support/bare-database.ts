import { randomBytes } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { Client } from 'pg';
import { inject } from 'vitest';

export const KEPT_SCHEMAS = join(import.meta.dirname, '../data/schemas');

export interface BareDatabase {
  ownerUrl: string;
  query<Row>(sql: string): Promise<Row[]>;
  drop(): Promise<void>;
}

export interface BareOptions {
  /** A file of `test/data/schemas` it is made of; without it there is nothing in it. */
  kept?: string;
  /** A role of the server with this password that owns it, instead of the user of the tests. */
  owner?: { name: string; password: string };
}

/** A database in which no migration was made by a test. */
export async function bareDatabase({ kept, owner }: BareOptions = {}): Promise<BareDatabase> {
  const url = new URL(inject('template').ownerUrl);
  url.pathname = '/postgres';
  const admin = await connected(url.href);
  const name = `lotwright_bare_${randomBytes(6).toString('hex')}`;
  await admin.query(`create database ${name} template template0${owner ? ` owner ${owner.name}` : ''}`);
  url.pathname = `/${name}`;
  if (owner) [url.username, url.password] = [owner.name, owner.password];
  if (kept !== undefined) {
    // what the dump sets for its session ends with it
    const loading = await connected(url.href);
    await loading.query(gunzipSync(readFileSync(join(KEPT_SCHEMAS, kept))).toString());
    await loading.end();
  }
  const client = await connected(url.href);
  return {
    ownerUrl: url.href,
    query: async <Row>(sql: string) => (await client.query(sql)).rows as Row[],
    drop: async () => {
      await client.end();
      await admin.query(`drop database ${name} with (force)`);
      await admin.end();
    },
  };
}

async function connected(url: string): Promise<Client> {
  const client = new Client({ connectionString: url });
  await client.connect();
  return client;
}
