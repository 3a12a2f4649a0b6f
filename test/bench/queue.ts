import { randomBytes } from 'node:crypto';
import { Client, Pool } from 'pg';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { DataSource } from 'typeorm';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import type { Config } from '../../src/config.js';
import { queueBackend } from '../../src/messages/queue-backend.js';
import { QueueService } from '../../src/messages/queue.service.js';
import { openDatabase } from '../../src/platform/open-database.js';
import { poolOptions } from '../../src/platform/pool-options.js';
import { SweepService } from '../../src/reminders/sweep.service.js';
import { provideRedis, startTestRedis } from '../support/redis.js';
import type { TestServer } from '../support/server.js';
import { FILL, ITEMS } from './reorder.js';

const TODAY = '2026-11-25';
const BULK = 500;
/** As many as a worker of ours has under way, for the bare one too. */
const CONCURRENCY = 8;
const JOBS = { redis: 10_000, postgres: 2_000 };
const ROUNDS = 3;
const SWEEPS = 3;

/** Jobs a second through our queue beside the bare library in the same run, and the nightly look at a large workshop. */
export async function queueRows(server: TestServer): Promise<string[]> {
  return [...(await throughputRows(server)), ...(await sweepRows(server))];
}

async function throughputRows(server: TestServer): Promise<string[]> {
  provideRedis();
  const redis = await startTestRedis();
  const rows = [`jobs a second, added ${BULK} at a time and worked ${CONCURRENCY} at once, best of ${ROUNDS} in turn`];
  try {
    rows.push(await onBackend(server, 'postgres'));
    rows.push(
      'missing' in redis ? `  redis     not measured: ${redis.missing}` : await onBackend(server, 'redis', redis.url),
    );
    return rows;
  } finally {
    if (!('missing' in redis)) await redis.stop();
  }
}

async function onBackend(server: TestServer, kind: 'redis' | 'postgres', redisUrl?: string): Promise<string> {
  return onDatabase(server, async (url) => {
    const config = { ...readConfig({ DATABASE_URL: url.owner }), redisUrl, worker: 'here' as const };
    const best = { bare: 0, ours: 0 };
    for (let round = 0; round < ROUNDS; round++) {
      best.bare = Math.max(best.bare, await bare(url.app, JOBS[kind], redisUrl));
      best.ours = Math.max(best.ours, await ours(config, url.app, JOBS[kind]));
    }
    const share = ((best.ours / best.bare) * 100).toFixed(0);
    return `  ${kind.padEnd(9)} bare library ${best.bare.toFixed(0).padStart(6)}, ours ${best.ours.toFixed(0).padStart(6)} (${share} %)`;
  });
}

/** The library as its manual shows it: no retention, no tries. */
async function bare(databaseUrl: string, jobs: number, redisUrl?: string): Promise<number> {
  const backend = queueBackend({ databaseUrl, redisUrl, prefix: `bare-${randomBytes(4).toString('hex')}` });
  const queue = backend.queue();
  await queue.waitUntilReady();
  const { done, count } = counter(jobs);
  const worker = backend.worker(async () => count(), { concurrency: CONCURRENCY });
  worker.on('error', () => {});
  await worker.waitUntilReady();
  try {
    const began = performance.now();
    for (let added = 0; added < jobs; added += BULK)
      await queue.addBulk(Array.from({ length: BULK }, () => ({ name: 'send', data: { message: 'none' } })));
    await done;
    return (jobs / (performance.now() - began)) * 1000;
  } finally {
    await worker.close();
    await queue.obliterate({ force: true });
    await queue.close();
  }
}

/** The same jobs through the service the outbox hands them to: named handlers, tries, retention, ids. */
async function ours(config: Config, databaseUrl: string, jobs: number): Promise<number> {
  const dataSource = await new DataSource(poolOptions(databaseUrl)).initialize();
  const service = new QueueService(dataSource, config);
  const { done, count } = counter(jobs);
  service.handle('send', async () => count());
  service.handle('sweep', async () => {});
  try {
    await service.onApplicationBootstrap();
    await service.state();
    const run = randomBytes(4).toString('hex');
    const began = performance.now();
    for (let added = 0; added < jobs; added += BULK)
      await service.add(
        Array.from({ length: BULK }, (_, n) => ({
          name: 'send' as const,
          data: { message: 'none' },
          options: { jobId: `message-${run}-${added + n}` },
        })),
      );
    await done;
    return (jobs / (performance.now() - began)) * 1000;
  } finally {
    await service.onModuleDestroy();
    await dataSource.destroy();
  }
}

function counter(jobs: number): { done: Promise<void>; count: () => void } {
  let left = jobs;
  let finish = (): void => {};
  const done = new Promise<void>((resolve) => (finish = resolve));
  return {
    done,
    count: () => {
      if (--left === 0) finish();
    },
  };
}

/** The nightly look: first everything is new, then nothing is, then one thing has changed. */
async function sweepRows(server: TestServer): Promise<string[]> {
  return onDatabase(server, async (url) => {
    const config = { ...readConfig({ DATABASE_URL: url.owner }), today: TODAY, demo: false };
    const app: NestFastifyApplication = await makeApplication(config, url.app, { logger: false });
    const owner = new Pool({ connectionString: url.owner, options: '-c lotwright.who=bench', max: 1 });
    // its connection may still be closing when the database is thrown away
    owner.on('error', () => {});
    try {
      await owner.query(`insert into workshop (name) values ('Workshop')`);
      await owner.query(FILL);
      const sweeps = app.get(SweepService);
      const first = await timed(() => sweeps.sweep());
      const again: number[] = [];
      for (let turn = 0; turn < SWEEPS; turn++) {
        await owner.query(`insert into vessel (code, kind, capacity_mg) values ('V${turn}', 'jug', 1)`);
        again.push((await timed(() => sweeps.sweep())).ms);
      }
      const { rows } = await owner.query<{ n: number }>('select count(*)::int as n from reminder');
      const median = again.sort((a, b) => a - b)[Math.floor(SWEEPS / 2)]!;
      return [
        `look for what is due among ${ITEMS.toLocaleString('en')} items with two years of history`,
        `  the first, which finds ${rows[0]!.n} and writes them down  ${first.ms.toFixed(0).padStart(7)} ms`,
        `  another after a change, median of ${SWEEPS}           ${median.toFixed(0).padStart(7)} ms`,
      ];
    } finally {
      await app.close();
      await owner.end();
    }
  });
}

async function timed(work: () => Promise<unknown>): Promise<{ ms: number }> {
  const began = performance.now();
  await work();
  return { ms: performance.now() - began };
}

/** A migrated database of its own, thrown away afterwards. */
async function onDatabase<T>(
  server: TestServer,
  work: (url: { owner: string; app: string }) => Promise<T>,
): Promise<T> {
  const name = `lotwright_queue_${randomBytes(4).toString('hex')}`;
  const admin = new Client({ connectionString: server.url });
  await admin.connect();
  await admin.query(`create database ${name}`);
  const owner = new URL(server.url);
  owner.pathname = `/${name}`;
  try {
    const database = await openDatabase(readConfig({ DATABASE_URL: owner.href }));
    const result = await work({ owner: owner.href, app: database.url });
    await database.close();
    return result;
  } finally {
    await admin.query(`drop database ${name} with (force)`);
    await admin.end();
  }
}
