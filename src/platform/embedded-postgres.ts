import { createHmac, randomBytes } from 'node:crypto';
import {
  accessSync,
  constants,
  existsSync,
  mkdirSync,
  readFileSync,
  realpathSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { Client } from 'pg';
import { makeCluster, OWNER, postmasterOf, refuseOtherVersion, stopOrphan } from './embedded/cluster.js';
import { holderOf, lockHome } from './embedded/home-lock.js';
import { findRunner } from './embedded/runner.js';
import { HOST, PostgresNotStarted, startServer } from './embedded/server.js';
import { fullDiskOf, isDiskFull } from './disk-full.js';
import { StartProblem } from './start-problem.js';

export interface EmbeddedPostgres {
  /** Connects as the owner of everything, a superuser of this server. */
  ownerUrl: string;
  /** The password the application's role is given on this server. */
  appPassword: string;
  /** Resolves when the server ends without being asked to, with a sentence that says why as far as is known. */
  lost: Promise<string>;
  /** Stops the server and gives the home free. */
  stop(): Promise<void>;
}

export interface EmbeddedOptions {
  /** Absolute path. The data lies in `data`, the owner's password in `password`, the server's log in `postgres.log`. */
  home: string;
  /** Further server settings. Tests trade safety for speed here (`fsync: 'off'`); a real home must not. */
  settings?: Record<string, string>;
}

const DATABASE = 'lotwright';

/**
 * Starts the PostgreSQL that comes with the packages on a database in `home`, which is made if it is not there. What a
 * killed process left behind is cleared up first. Throws StartProblem.
 */
export async function startEmbeddedPostgres(options: EmbeddedOptions): Promise<EmbeddedPostgres> {
  const home = makeHome(options.home);
  const settings = options.settings ?? {};
  let unlock = () => {};
  try {
    unlock = await lockHome(home);
    const runner = await findRunner(home);
    const password = passwordOf(home);
    await refuseOtherVersion(runner);
    await stopOrphan(runner);
    if (!existsSync(join(runner.data, 'PG_VERSION'))) await makeCluster(runner, password, settings);
    const server = await startServer(runner, {
      log: join(home, 'postgres.log'),
      settings,
      isReady: (port) => answers(urlOf(port, password, 'postgres')),
    });
    await makeDatabase(urlOf(server.port, password, 'postgres'));
    return {
      ownerUrl: urlOf(server.port, password, DATABASE),
      appPassword: createHmac('sha256', password).update('application').digest('hex'),
      lost: server.lost.then(() => whyLost(home)),
      stop: async () => {
        await server.stop();
        unlock();
      },
    };
  } catch (error) {
    unlock();
    throw noRoomToStart(home, error) ?? error;
  }
}

/** A start that failed where there is no room failed for that, whatever it says itself, which is nothing where its log is full. */
function noRoomToStart(home: string, error: unknown): StartProblem | undefined {
  const full = fullDiskOf(home);
  if (full === undefined || !(isDiskFull(error) || error instanceof PostgresNotStarted)) return undefined;
  const said = error instanceof PostgresNotStarted ? error.said : '';
  return new StartProblem(
    `The embedded PostgreSQL does not start, because ${full}${said && `: ${said}`}. Free some space, then start again.`,
  );
}

function whyLost(home: string): string {
  const full = fullDiskOf(home);
  return full
    ? `The embedded PostgreSQL ended, because ${full}. Free some space, then start again: it recovers.`
    : 'The embedded PostgreSQL ended unexpectedly. Start again: it recovers.';
}

/** The owner's URL of the server that another living Lotwright process runs on `home`, or undefined if none does. */
export function findRunningPostgres(home: string): string | undefined {
  if (holderOf(home) === undefined) return undefined;
  const port = postmasterOf(join(home, 'data'))?.port;
  return port === undefined ? undefined : urlOf(port, passwordOf(home), DATABASE);
}

function urlOf(port: number, password: string, database: string): string {
  return `postgres://${OWNER}:${password}@${HOST}:${port}/${database}`;
}

/** Makes the folder, for its owner's eyes only, and answers its real path. */
function makeHome(home: string): string {
  try {
    mkdirSync(home, { recursive: true, mode: 0o700 });
    accessSync(home, constants.W_OK | constants.X_OK);
    return realpathSync(home);
  } catch (error) {
    throw new StartProblem(`Cannot write to the folder ${home}: ${(error as Error).message}.`);
  }
}

function passwordOf(home: string): string {
  const file = join(home, 'password');
  try {
    if (!existsSync(file)) makePassword(file);
    return readFileSync(file, 'utf8').trim();
  } catch (error) {
    if (isDiskFull(error)) throw error;
    throw new StartProblem(`Cannot use ${file}: ${(error as Error).message}. Does the folder belong to another user?`);
  }
}

function makePassword(file: string): void {
  try {
    writeFileSync(file, randomBytes(24).toString('hex'), { mode: 0o600, flag: 'wx' });
  } catch (error) {
    // an empty one would be taken for the password at the next start
    if (isDiskFull(error)) rmSync(file, { force: true });
    throw error;
  }
}

async function answers(url: string): Promise<boolean> {
  const client = new Client({ connectionString: url, connectionTimeoutMillis: 5000 });
  try {
    await client.connect();
    return true;
  } catch {
    return false;
  } finally {
    await client.end().catch(() => {});
  }
}

async function makeDatabase(url: string): Promise<void> {
  const client = new Client({ connectionString: url });
  await client.connect();
  try {
    const { rowCount } = await client.query('select from pg_database where datname = $1', [DATABASE]);
    if (rowCount === 0) await client.query(`create database ${DATABASE}`);
  } finally {
    await client.end();
  }
}
