import { randomBytes } from 'node:crypto';
import { Client } from 'pg';
import type { TestProject } from 'vitest/node';
import { applicationUrl } from '../../src/platform/open-database.js';
import { migrate } from '../../src/platform/migrate.js';
import { provideChromium } from './chromium.js';
import { keepInMemory } from './in-memory.js';
import { provideRedis } from './redis.js';
import { startTestServer } from './server.js';

declare module 'vitest' {
  interface ProvidedContext {
    /** Two URLs of one migrated database that every test file copies: as its owner, and as the application's role. */
    template: { ownerUrl: string; appUrl: string };
  }
}

interface Prepared {
  template: { ownerUrl: string; appUrl: string };
  stop(): Promise<void>;
}

/** What this machine lacks, one server for all files of a run, and in it one migrated database that each gets a copy of. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const forget = keepInMemory();
  provideChromium();
  provideRedis();
  const { template, stop } = await prepare();
  project.provide('template', template);
  return async () => {
    await stop();
    forget();
  };
}

async function prepare(): Promise<Prepared> {
  const server = await startTestServer();
  const name = `lotwright_template_${randomBytes(4).toString('hex')}`;
  const ownerUrl = new URL(server.url);
  ownerUrl.pathname = `/${name}`;
  await query(server.url, `create database ${name}`);
  await migrate(ownerUrl.href);
  return {
    template: { ownerUrl: ownerUrl.href, appUrl: await applicationUrl(ownerUrl.href) },
    stop: async () => {
      // and what was made from it to be copied in its turn
      for (const { datname } of await query(
        server.url,
        `select datname from pg_database where datname like '${name}%'`,
      ))
        await query(server.url, `drop database ${datname} with (force)`);
      await server.stop();
    },
  };
}

async function query(url: string, sql: string): Promise<{ datname: string }[]> {
  const client = new Client({ connectionString: url });
  await client.connect();
  try {
    return (await client.query<{ datname: string }>(sql)).rows;
  } finally {
    await client.end();
  }
}
