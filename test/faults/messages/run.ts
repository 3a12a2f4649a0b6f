import { randomBytes } from 'node:crypto';
import { setTimeout as pause } from 'node:timers/promises';
import { Client, DatabaseError, Pool } from 'pg';
import { makeApplication } from '../../../src/application.js';
import { readConfig } from '../../../src/config.js';
import { migrate } from '../../../src/platform/migrate.js';
import { applicationUrl } from '../../../src/platform/open-database.js';
import { startTestRedis } from '../../support/redis.js';
import type { TestRedis } from '../../support/redis.js';
import { startServerProcess } from '../../support/server-process.js';
import type { ServerProcess } from '../../support/server-process.js';
import { startTestServer } from '../../support/server.js';
import { seeded } from '../../support/workshop.js';
import { startMailLog } from './mail-log.js';
import type { MailLog } from './mail-log.js';

export interface Size {
  backend: 'postgres' | 'redis';
  reminders: number;
  workers: number;
  faults: number;
  seed: number;
}

export const FAULTS = ['kill', 'lose the queue', 'refuse mail', 'offer twice'] as const;
export type Fault = (typeof FAULTS)[number];

export interface Figures {
  size: Size;
  faults: Record<Fault, number>;
  /** Of the reminders there should be: in the list, in it more than once, sent, never sent. */
  shown: number;
  shownTwice: number;
  sent: number;
  lost: string[];
  /** Messages the server took that are nobody's, or of a reminder that had another. */
  strange: string[];
  /** Taken more than once, under the same id. */
  repeated: number;
  mails: number;
  refused: number;
  offeredTwice: number;
  seconds: number;
  /** What the workers ended with that were asked to end. */
  exits: number[];
}

const TODAY = '2026-11-25';
const MS_MAX = 15 * 60_000;
const WORKING = /works the jobs/;
/** Between two faults, at most. */
const FAULT_MS_MAX = 2500;

interface Run {
  size: Size;
  pool: Pool;
  mail: MailLog;
  redis: TestRedis | undefined;
  workers: ServerProcess[];
  start(): ServerProcess;
  offeredTwice: number;
}

/** Sends reminders by email while workers are killed and the queue is lost; then looks what came of each. */
export async function runMessages(size: Size): Promise<Figures | { missing: string }> {
  const redis = size.backend === 'redis' ? await startTestRedis() : undefined;
  if (redis && 'missing' in redis) return redis;
  const server = await startTestServer();
  const mail = await startMailLog();
  const name = `lotwright_messages_${randomBytes(4).toString('hex')}`;
  const ownerUrl = new URL(server.url);
  ownerUrl.pathname = `/${name}`;
  await onServer(server.url, `create database ${name}`);
  await migrate(ownerUrl.href);
  const pool = new Pool({ connectionString: ownerUrl.href, options: '-c lotwright.who=test', max: 3 });
  pool.on('error', () => {});
  const env: Record<string, string> = {
    DATABASE_URL: ownerUrl.href,
    LOTWRIGHT_TODAY: TODAY,
    LOTWRIGHT_SMTP_URL: mail.url,
    LOG_LEVEL: 'error',
    ...(redis && { REDIS_URL: redis.url }),
  };
  const start = () => startServerProcess({ env, program: ['dist/src/worker.js'] });
  const run: Run = { size, pool, mail, redis, workers: [], start, offeredTwice: 0 };
  try {
    await causes(pool, size.reminders);
    const began = performance.now();
    run.workers = await Promise.all(Array.from({ length: size.workers }, () => ready(start())));
    const faults = await strikes(run);
    await allSent(run);
    const seconds = (performance.now() - began) / 1000;
    const exits = await Promise.all(run.workers.map((worker) => worker.interrupt()));
    return { size, faults, seconds, exits, ...(await outcome(run, ownerUrl.href)) };
  } finally {
    for (const worker of run.workers) worker.child.kill('SIGKILL');
    await pool.end();
    await mail.stop();
    await redis?.stop();
    await onServer(server.url, `drop database ${name} with (force)`);
    await server.stop();
  }
}

/** So many deliveries that are late: each is the cause of one reminder. */
async function causes(pool: Pool, reminders: number): Promise<void> {
  await pool.query(`insert into workshop (name) values ('Workshop')`);
  await pool.query(`insert into supplier (code, name) values ('S-1', 'Supplier One')`);
  await pool.query(`insert into notice_setting (email_to, email_digest) values ('{maker@example.org}', false)`);
  await pool.query(
    `insert into delivery (code, supplier_id, expected_on)
     select 'D-' || n, (select id from supplier), '2026-11-20' from generate_series(1, $1::int) n`,
    [reminders],
  );
}

/** Waits until it works. */
async function ready(worker: ServerProcess): Promise<ServerProcess> {
  const deadline = Date.now() + 90_000;
  while (!WORKING.test(worker.output())) {
    if (worker.child.exitCode !== null || Date.now() > deadline) throw new Error(`no worker: ${worker.output()}`);
    await pause(50);
  }
  return worker;
}

async function strikes(run: Run): Promise<Record<Fault, number>> {
  const done: Record<Fault, number> = { kill: 0, 'lose the queue': 0, 'refuse mail': 0, 'offer twice': 0 };
  const random = seeded(run.size.seed);
  // nothing is lost of what is not under way yet
  await until(run, `select exists (select from message where status <> 'waiting') as so`);
  for (let n = 0; n < run.size.faults; n++) {
    const fault = FAULTS[n % FAULTS.length]!;
    await strike(run, fault, random(run.workers.length));
    done[fault]++;
    await hurry(run);
    await pause(random(FAULT_MS_MAX));
  }
  return done;
}

async function strike(run: Run, fault: Fault, victim: number): Promise<void> {
  if (fault === 'kill') {
    run.workers[victim]!.child.kill('SIGKILL');
    await run.workers[victim]!.ended;
    run.workers[victim] = await ready(run.start());
  } else if (fault === 'lose the queue') await loseQueue(run);
  else if (fault === 'refuse mail') {
    run.mail.refusing = true;
    await pause(1500);
    run.mail.refusing = false;
  } else {
    const { rowCount } = await run.pool.query(
      `update message set status = 'waiting', due_at = now() where status = 'handed'`,
    );
    run.offeredTwice += rowCount ?? 0;
  }
}

/**
 * Redis is ended as by a power cut, and comes back empty; in PostgreSQL all tables of the queue are emptied. The workers
 * lock the same tables in an order of their own: where that is a deadlock and we are its victim, it is tried again.
 */
async function loseQueue({ redis, pool }: Run): Promise<void> {
  if (redis) {
    await redis.restart(800);
    await redis.flush();
    return;
  }
  const { rows } = await pool.query<{ name: string }>(
    `select string_agg(format('jobs.%I', tablename), ', ') as name from pg_tables
     where schemaname = 'jobs' and tablename <> 'migration'`,
  );
  for (let tries = 1; ; tries++) {
    try {
      await pool.query(`truncate ${rows[0]!.name}`);
      return;
    } catch (error) {
      if (!(error instanceof DatabaseError && error.code === '40P01') || tries === 20) throw error;
    }
  }
}

/** What would take minutes is over: the time until something is offered again, and until it is tried again. */
async function hurry({ pool }: Run): Promise<void> {
  await pool.query(`update message set handed_at = handed_at - interval '5 minutes'
    where status = 'handed' and handed_at < now() - interval '8 seconds'`);
  await pool.query(`update message set sending_until = sending_until - interval '90 seconds'
    where status = 'handed' and sending_until < now() + interval '40 seconds'`);
  await pool.query(`update message set due_at = now() where status = 'waiting' and due_at > now()`);
}

async function allSent(run: Run): Promise<void> {
  await until(run, `select count(*) filter (where status = 'sent') >= ${run.size.reminders} as so from message`);
}

async function until(run: Run, question: string): Promise<void> {
  const deadline = Date.now() + MS_MAX;
  for (;;) {
    const { rows } = await run.pool.query<{ so: boolean }>(question);
    if (rows[0]!.so) return;
    if (Date.now() > deadline)
      throw new Error(
        `never: ${question}; ${run.workers
          .map((w) => w.output())
          .join('\n')
          .slice(-2000)}`,
      );
    await pause(500);
    await hurry(run);
  }
}

/** Asks the application what it shows, and the mail server what it took. */
async function outcome(run: Run, ownerUrl: string): Promise<Omit<Figures, 'size' | 'faults' | 'seconds' | 'exits'>> {
  const shown = await shownBy(ownerUrl);
  const { rows } = await run.pool.query<{ code: string; ids: string[] }>(
    `select r.cause as code, array_agg(m.uuid || '@lotwright') filter (where m.uuid is not null) as ids
     from reminder r left join message_reminder mr on mr.reminder_id = r.id left join message m on m.id = mr.message_id
     group by r.id`,
  );
  const known = new Set(rows.flatMap(({ ids }) => ids ?? []));
  const lost = rows.filter(({ ids }) => !(ids ?? []).some((id) => run.mail.taken.has(id))).map(({ code }) => code);
  const strange = [
    ...[...run.mail.taken.keys()].filter((id) => !known.has(id)),
    ...rows.filter(({ ids }) => (ids ?? []).length !== 1).map(({ code }) => `${code} has several messages`),
  ];
  const times = [...run.mail.taken.values()];
  return {
    shown: shown.length,
    shownTwice: shown.length - new Set(shown).size,
    sent: rows.length - lost.length,
    lost,
    strange,
    repeated: times.filter((n) => n > 1).length,
    mails: times.reduce((sum, n) => sum + n, 0),
    refused: run.mail.refused,
    offeredTwice: run.offeredTwice,
  };
}

/** Every open reminder's title, page by page as a person would see them. */
async function shownBy(ownerUrl: string): Promise<string[]> {
  const config = { ...readConfig({ LOTWRIGHT_TODAY: TODAY }), worker: 'separate' as const };
  const app = await makeApplication(config, await applicationUrl(ownerUrl), { logger: false });
  try {
    const titles: string[] = [];
    let after = '';
    for (;;) {
      const answer = await app.inject({ method: 'GET', url: `/api/reminders?limit=1000${after}` });
      const page = JSON.parse(answer.body) as { reminders: { title: string }[]; next: number | null };
      titles.push(...page.reminders.map(({ title }) => title));
      if (page.next === null) return titles;
      after = `&after=${page.next}`;
    }
  } finally {
    await app.close();
  }
}

async function onServer(url: string, sql: string): Promise<void> {
  const client = new Client({ connectionString: url });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}

/** Whether each reminder was shown once and went out, none lost, under one id each. */
export const isWhole = (figures: Figures): boolean =>
  figures.shown === figures.size.reminders &&
  figures.shownTwice === 0 &&
  figures.sent === figures.size.reminders &&
  figures.lost.length === 0 &&
  figures.exits.every((code) => code === 0) &&
  figures.strange.length === 0;

/** The figures for a person. */
export function printed(figures: Figures): string {
  const { size, faults } = figures;
  return [
    `${size.reminders} reminders, ${size.workers} workers, jobs on ${size.backend}, seed ${size.seed}`,
    `  faults     ${Object.entries(faults)
      .map(([name, n]) => `${name} ${n}`)
      .join(', ')}`,
    `  shown      ${figures.shown}, more than once ${figures.shownTwice}`,
    `  sent       ${figures.sent}, lost ${figures.lost.length}, strange ${figures.strange.length}`,
    `  mails      ${figures.mails}, ${figures.repeated} messages more than once under their id; refused ${figures.refused}`,
    `  offered    ${figures.offeredTwice} a second time on purpose`,
    `  time       ${figures.seconds.toFixed(1)} s, ${(size.reminders / figures.seconds).toFixed(0)} a second, faults and starts included`,
    ...[...figures.lost, ...figures.strange].slice(0, 20).map((line) => `  wrong      ${line}`),
  ].join('\n');
}
