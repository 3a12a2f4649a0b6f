import { randomBytes } from 'node:crypto';
import { Client } from 'pg';
import type { TestProject } from 'vitest/node';
import { applicationUrl } from '../../src/platform/open-database.js';
import { migrate } from '../../src/platform/migrate.js';
import { startTestServer } from './server.js';

declare module 'vitest' {
  interface ProvidedContext {
    /** Two URLs of one migrated database that every test file copies: as its owner, and as the application's role. */
    template: { ownerUrl: string; appUrl: string };
  }
}

/** One server for the whole run, and in it one migrated database that every test file gets a copy of. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const server = await startTestServer();
  const name = `lotwright_template_${randomBytes(4).toString('hex')}`;
  const ownerUrl = new URL(server.url);
  ownerUrl.pathname = `/${name}`;
  await query(server.url, `create database ${name}`);
  await migrate(ownerUrl.href);
  project.provide('template', { ownerUrl: ownerUrl.href, appUrl: await applicationUrl(ownerUrl.href) });
  return async () => {
    await query(server.url, `drop database ${name} with (force)`);
    await server.stop();
  };
}

async function query(url: string, sql: string): Promise<void> {
  const client = new Client({ connectionString: url });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}
