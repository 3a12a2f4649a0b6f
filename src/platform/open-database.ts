import { Client } from 'pg';
import type { Config } from '../config.js';
import { keepBackup } from './backup/kept-backups.js';
import { findRunningPostgres, startEmbeddedPostgres } from './embedded-postgres.js';
import { isDiskFull } from './disk-full.js';
import { migrate } from './migrate.js';
import { noteServing } from './served-by.js';
import { VERSION } from './program-version.js';
import { StartProblem } from './start-problem.js';

/** A database of the present schema, ready to serve from. */
export interface OpenDatabase {
  /** Connects as the role the application serves as. */
  url: string;
  /** What the person at the terminal should know, one line each. */
  notes: string[];
  /** Resolves when the embedded server ends without being asked to, with a sentence that says why as far as is known. */
  lost: Promise<string>;
  close(): Promise<void>;
}

const VERSION_LEAST = 15;
const APPLICATION_ROLE = 'lotwright_app';

export interface OpenOptions {
  /** An embedded server that another Lotwright process runs on the same home is used and left running. */
  join?: boolean;
  /** Whether it is opened to serve it, which is written down: what is new since an older version did is told once. */
  serves?: boolean;
}

/**
 * Opens the database the settings name, DATABASE_URL or the embedded one, and brings its schema up to date.
 * Throws StartProblem.
 */
export async function openDatabase(config: Config, options: OpenOptions = {}): Promise<OpenDatabase> {
  const running = config.databaseUrl ?? (options.join ? findRunningPostgres(config.home) : undefined);
  if (running !== undefined) return prepare(running, config, options).catch(rethrowFull);
  const embedded = await startEmbeddedPostgres({ home: config.home });
  try {
    const prepared = await prepare(embedded.ownerUrl, config, options, embedded.appPassword);
    return { ...prepared, lost: embedded.lost, close: () => embedded.stop() };
  } catch (error) {
    await embedded.stop();
    return rethrowFull(error);
  }
}

function rethrowFull(error: unknown): never {
  if (!isDiskFull(error)) throw error;
  throw new StartProblem(`The disk under the database is full: ${reasonOf(error)}. Free some space, then start again.`);
}

/**
 * The same database as it is, for its owner, who looks at all of it or puts another in its place: nothing is brought up to
 * date. Throws StartProblem.
 */
export async function openAsOwner(
  config: Config,
  { join = false }: Pick<OpenOptions, 'join'> = {},
): Promise<{ ownerUrl: string; close(): Promise<void> }> {
  const running = config.databaseUrl ?? (join ? findRunningPostgres(config.home) : undefined);
  if (running !== undefined) {
    await refuseUnfitServer(running);
    return { ownerUrl: running, close: async () => {} };
  }
  const embedded = await startEmbeddedPostgres({ home: config.home });
  return { ownerUrl: embedded.ownerUrl, close: () => embedded.stop() };
}

async function prepare(
  ownerUrl: string,
  config: Config,
  options: OpenOptions,
  appPassword?: string,
): Promise<OpenDatabase> {
  await refuseUnfitServer(ownerUrl);
  const notes: string[] = [];
  const before = async (guard: Client) => void notes.push(await backupBefore(guard, config.home));
  await migrate(ownerUrl, config.backups ? { before } : {});
  const url = await applicationUrl(ownerUrl, appPassword);
  if (url === ownerUrl)
    notes.push(
      `Serving as the owner of the database: its user may not become ${APPLICATION_ROLE}, so the ledger is less guarded.`,
    );
  const news = options.serves ? await noteServing(ownerUrl) : undefined;
  if (news !== undefined) notes.push(news);
  return { url, notes, lost: new Promise(() => {}), close: async () => {} };
}

/** So that whoever does not like what an update makes of the data can go back. Answers what to say of it. */
async function backupBefore(guard: Client, home: string): Promise<string> {
  try {
    const file = await keepBackup(guard, home, VERSION);
    return `Before the database was brought up to date, a backup was made: ${file} (npm run restore).`;
  } catch (error) {
    if (!(error instanceof StartProblem)) throw error;
    throw new StartProblem(
      `No backup could be made before the database is brought up to date: ${error.message} Mend that, or start with LOTWRIGHT_BACKUPS=0.`,
    );
  }
}

async function refuseUnfitServer(ownerUrl: string): Promise<void> {
  const client = new Client({ connectionString: ownerUrl, connectionTimeoutMillis: 10_000 });
  try {
    await client.connect();
    const { rows } = await client.query<{ version: string }>(`select current_setting('server_version_num') as version`);
    const major = Math.floor(Number(rows[0]!.version) / 10_000);
    if (major < VERSION_LEAST) {
      throw new StartProblem(`The database is PostgreSQL ${major}; Lotwright needs ${VERSION_LEAST} or newer.`);
    }
  } catch (error) {
    if (error instanceof StartProblem) throw error;
    throw new StartProblem(`Cannot reach the database at ${placeOf(ownerUrl)}: ${reasonOf(error)}.`);
  } finally {
    await client.end().catch(() => {});
  }
}

/** Host, port and name of the database, without user and password. */
function placeOf(url: string): string {
  const { host, pathname } = new URL(url);
  return `${host}${pathname}`;
}

function reasonOf(error: unknown): string {
  // a name with several addresses gives one error each, and none of its own
  const first: unknown = error instanceof AggregateError ? error.errors[0] : error;
  return first instanceof Error ? first.message : String(first);
}

/**
 * The URL that connects as the application's role: by its own password where this process runs the server, else as the
 * owner who becomes that role at once; the owner's own URL where that is refused.
 */
export async function applicationUrl(ownerUrl: string, appPassword?: string): Promise<string> {
  const url = new URL(ownerUrl);
  const client = new Client({ connectionString: ownerUrl });
  await client.connect();
  try {
    if (appPassword !== undefined) {
      await client.query(`alter role ${APPLICATION_ROLE} login password '${appPassword}'`);
      url.username = APPLICATION_ROLE;
      url.password = appPassword;
      return url.href;
    }
    // refused where the user already is a member without the right to say so; what counts is the next question
    await client.query(`grant ${APPLICATION_ROLE} to current_user`).catch(() => {});
    await client.query(`set role ${APPLICATION_ROLE}`);
    const options = [url.searchParams.get('options'), `-c role=${APPLICATION_ROLE}`];
    url.searchParams.set('options', options.filter(Boolean).join(' '));
    return url.href;
  } catch {
    return ownerUrl;
  } finally {
    await client.end();
  }
}
