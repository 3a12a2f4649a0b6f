import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ConsoleLogger } from '@nestjs/common';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { DataSource } from 'typeorm';
import { makeApplication } from '../../src/application.js';
import { type Config, readConfig } from '../../src/config.js';
import { OrderFilesService } from '../../src/orders/order-files.service.js';
import type { TestDatabase } from './database.js';
import { answerWatch } from './described-answers.js';
import { shareThreads } from './shared-threads.js';

/** Each costs a process that knows no table yet; the most a single act or page asks for at once is less. */
const CONNECTIONS = 4;

/** What an owner waits seconds for, a test need not. */
const RELAY = { lookMs: 100, quietSeconds: 1, sweepsMs: 200 };

/** What an application of a test is started with. */
export interface ProgramOptions {
  today: string;
  /** For tests that provoke faults: what the server would log of them is left out. */
  isQuiet?: boolean;
  /** Plans in threads that no other server has. */
  hasOwnThreads?: boolean;
  /** On a database that is not made anew by its name. */
  isForOnce?: boolean;
  /** Modules a test brings along. */
  imports?: (new () => unknown)[];
  /** Other settings; jobs are left lying unless a test has them worked. */
  config?: Partial<Config>;
}

export interface Program {
  app: NestFastifyApplication;
  undescribed: string[];
  home: string;
  databaseName: string;
  /** Which others would be the same; null where none would. */
  kind: string | null;
}

/**
 * To start takes longer than most tests, so that those that are put back are given out again, on a new database that is
 * called as the old one was: the last of each kind.
 */
const putBackBefore = new Map<string, Program>();

/** A program on a database that `make` makes: of that name where one is given. */
export async function programOn(
  options: ProgramOptions,
  make: (name?: string) => Promise<TestDatabase>,
): Promise<{ program: Program; database: TestDatabase }> {
  const kind = kindOf(options);
  const known = kind === null ? undefined : putBackBefore.get(kind);
  if (!known) {
    const database = await make();
    return { program: await start(options, kind, database), database };
  }
  putBackBefore.delete(known.kind!);
  const database = await make(known.databaseName);
  await known.app.get(DataSource).initialize();
  return { program: known, database };
}

/** A program that is started with nothing of its own remembers nothing but what its database says. */
const kindOf = ({ today, isQuiet = false, hasOwnThreads, isForOnce, imports, config }: ProgramOptions): string | null =>
  hasOwnThreads || isForOnce || imports || config ? null : `${today} ${isQuiet}`;

async function start(options: ProgramOptions, kind: string | null, database: TestDatabase): Promise<Program> {
  const undescribed: string[] = [];
  const home = await mkdtemp(join(tmpdir(), 'lotwright-home-'));
  const config: Config = {
    ...readConfig({}),
    home,
    today: options.today,
    demo: false,
    worker: 'separate',
    relay: RELAY,
    databaseConnections: CONNECTIONS,
    ...options.config,
  };
  const app = await makeApplication(config, database.url, {
    worksJobs: true,
    logger: options.isQuiet ? false : new ConsoleLogger({ logLevels: ['fatal', 'error'] }),
    imports: [answerWatch((fault) => undescribed.push(fault)), ...(options.imports ?? [])],
  });
  if (!options.hasOwnThreads) shareThreads(app);
  return { app, undescribed, home, databaseName: database.name, kind };
}

/** Hangs up, so that the database can go. */
export async function putBack(program: Program): Promise<void> {
  const { app, home, kind } = program;
  const isListening = app.getHttpServer().listening;
  if (kind === null || isListening || putBackBefore.has(kind)) {
    await app.close();
    await rm(home, { recursive: true });
    return;
  }
  const files = app.get(OrderFilesService);
  await files.onModuleDestroy();
  // by their numbers, which begin anew in another database
  (files as unknown as { readings: Map<number, unknown> }).readings.clear();
  await app.get(DataSource).destroy();
  for (const name of await readdir(home)) await rm(join(home, name), { recursive: true });
  putBackBefore.set(kind, program);
}
