import { randomUUID } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ConsoleLogger } from '@nestjs/common';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { afterAll, afterEach, beforeAll, expect } from 'vitest';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import type { Config } from '../../src/config.js';
import { databaseAlone, testDatabase } from './database.js';
import { answerWatch } from './described-answers.js';
import type { TestDatabase } from './database.js';

/** The day on which the tests take place unless they say otherwise: a Monday. */
export const TODAY = '2026-03-02';

/** Each costs a process that knows no table yet; the most a single act or page asks for at once is less. */
const CONNECTIONS = 4;

/** What an owner waits seconds for, a test need not. */
const RELAY = { lookMs: 100, quietSeconds: 1, sweepsMs: 200 };

export interface TestAppOptions {
  today?: string;
  /** For tests that provoke faults: what the server would log of them is left out. */
  isQuiet?: boolean;
  /** What is in the database at the beginning; nothing unless said. */
  filled?: Filling;
  /** On a server of its own, with nothing in it, for what counts all that the server does. */
  isAlone?: boolean;
  /** Modules a test brings along. */
  imports?: (new () => unknown)[];
  /** Other settings; jobs are left lying unless a test has them worked. */
  config?: Partial<Config>;
}

/** Data that many tests begin with: done once a run for each day, and copied with the database. */
export interface Filling {
  /** Part of a database's name: small letters and underscores. */
  name: string;
  by(app: TestApp): Promise<unknown>;
}

export interface Answer<Body> {
  status: number;
  headers: Record<string, unknown>;
  text: string;
  /** The body read as JSON, whose shape the test knows; undefined when it is not JSON. */
  body: Body;
}

export interface TestApp {
  app: NestFastifyApplication;
  database: TestDatabase;
  /** What was answered since it was last asked and is not as src/openapi.json says; `request` throws it itself. */
  undescribed(): string[];
  /**
   * One request without a network. An object or array goes as JSON, text and bytes go as they are. One that changes
   * something carries a key unless it brings its own, and what is kept under it must be what was answered.
   */
  request<Body = Record<string, unknown>>(
    method: string,
    url: string,
    body?: unknown,
    headers?: Record<string, string>,
  ): Promise<Answer<Body>>;
  /** Stops the application, demands that the ledger is whole, and drops the database. */
  close(): Promise<void>;
}

/** The whole application on its own copy of the database, served as the application's role. */
export async function startTestApp(options: TestAppOptions = {}): Promise<TestApp> {
  const { filled, today = TODAY } = options;
  if (!filled) return serve(await (options.isAlone ? databaseAlone() : testDatabase()), options);
  const fill = async (database: TestDatabase) => {
    const app = await serve(database, { today });
    await filled.by(app);
    await app.stop();
  };
  return serve(await testDatabase({ name: `${filled.name}_${today.replaceAll('-', '')}`, fill }), options);
}

async function serve(database: TestDatabase, options: TestAppOptions): Promise<TestApp & { stop(): Promise<void> }> {
  const undescribed: string[] = [];
  const home = await mkdtemp(join(tmpdir(), 'lotwright-home-'));
  const config: Config = {
    ...readConfig({}),
    home,
    today: options.today ?? TODAY,
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
  const stop = async () => {
    await app.close();
    await rm(home, { recursive: true });
  };
  return {
    app,
    database,
    stop,
    undescribed: () => undescribed.splice(0),
    request: async <Body>(method: string, url: string, body?: unknown, headers: Record<string, string> = {}) => {
      const isRaw = typeof body === 'string' || Buffer.isBuffer(body);
      const key = randomUUID();
      const response = await app.inject({
        method: method as 'GET',
        url,
        headers: {
          ...(body !== undefined && !isRaw && { 'content-type': 'application/json' }),
          ...(method !== 'GET' && { 'idempotency-key': key }),
          ...headers,
        },
        ...(body !== undefined && { payload: isRaw ? body : JSON.stringify(body) }),
      });
      const { statusCode: status, body: text } = response;
      expect(undescribed.splice(0), `${method} ${url}`).toEqual([]);
      if (method !== 'GET') {
        const kept = await database.query('select status, body from idempotency where key = $1', [key]);
        // nothing is kept of what was refused or only looked
        if (kept.length > 0) expect(kept).toEqual([{ status, body: text || null }]);
      }
      return { status, headers: response.headers, text, body: readJson(text) as Body };
    },
    close: async () => {
      await stop();
      try {
        expect(undescribed).toEqual([]);
        expect(await database.violations()).toEqual([]);
      } finally {
        await database.drop();
      }
    },
  };
}

function readJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

/**
 * For the top of a test file: one application for all its tests, and after each of them the ledger must be whole.
 * The members are there once the tests run.
 */
export function useTestApp(options: TestAppOptions = {}): TestApp {
  const shared = {} as TestApp;
  beforeAll(async () => void Object.assign(shared, await startTestApp(options)));
  afterEach(async () => {
    expect(shared.undescribed()).toEqual([]);
    expect(await shared.database.violations()).toEqual([]);
  });
  afterAll(() => shared.close?.());
  return shared;
}
