import { randomUUID } from 'node:crypto';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { afterAll, afterEach, beforeAll, expect } from 'vitest';
import { databaseAlone, testDatabase } from './database.js';
import type { TestDatabase } from './database.js';
import { type ProgramOptions, programOn, putBack } from './programs.js';

/** The day on which the tests take place unless they say otherwise: a Monday. */
export const TODAY = '2026-03-02';

export interface TestAppOptions extends Omit<ProgramOptions, 'today' | 'isForOnce'> {
  today?: string;
  /** What is in the database at the beginning; nothing unless said. */
  filled?: Filling;
  /** On a server of its own, with nothing in it, for what counts all that the server does. */
  isAlone?: boolean;
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
  if (options.isAlone) return serve({ ...options, isForOnce: true }, () => databaseAlone());
  if (!filled) return serve(options, (name) => testDatabase(undefined, name));
  const fill = async (database: TestDatabase) => {
    const app = await serve({ today, isForOnce: true }, () => Promise.resolve(database));
    await filled.by(app);
    await app.stop();
  };
  const database = (name?: string) => testDatabase({ name: `${filled.name}_${today.replaceAll('-', '')}`, fill }, name);
  return serve(options, database);
}

/** `make` makes the database, of that name where one is given. */
async function serve(
  options: Omit<ProgramOptions, 'today'> & { today?: string },
  make: (name?: string) => Promise<TestDatabase>,
): Promise<TestApp & { stop(): Promise<void> }> {
  const { program, database } = await programOn({ ...options, today: options.today ?? TODAY }, make);
  const { app, undescribed } = program;
  const stop = () => putBack(program);
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
