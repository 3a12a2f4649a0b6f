import { createHash } from 'node:crypto';
import { once } from 'node:events';
import type { ClientBase } from 'pg';
import { from as copyFrom, to as copyTo } from 'pg-copy-streams';
import { DataSource } from 'typeorm';
import type { QueryRunner } from 'typeorm';
import { makeFunctions } from '../database-functions.js';
import { MIGRATIONS, migrationsDone, refuseNewerSchema } from '../migrate.js';
import { holdSchema } from '../migration-lock.js';
import { poolOptions } from '../pool-options.js';
import { isNewer, VERSION } from '../program-version.js';
import { StartProblem } from '../start-problem.js';
import { copyIn, copyOut, holdsData, quoted, tablesOf, TEXT_SETTINGS } from './backup-contents.js';
import type { TableContents } from './backup-contents.js';
import { readBackup } from './backup-reader.js';
import type { BackupSummary } from './backup-reader.js';
import { linesIn } from './backup-writer.js';
import type { BackupHeader, BackupPhoto, BackupTable, PartEnd } from './frames.js';
import { bringTo } from './schema-state.js';
import { photosOf, sha256 } from './write-backup.js';
import type { PhotoShelf } from './write-backup.js';

export interface RestoreOptions {
  /** What the file says, from `checkBackup`. */
  summary: BackupSummary;
  /** Where its photos go, and where those beside it are looked for. */
  photos: PhotoShelf;
  /** What is done first with a workshop that holds data; without it that is refused. */
  replace?: (client: ClientBase) => Promise<void>;
}

export interface Restored {
  /** Whether the schema has changed since the backup was made, and was brought up to date with its data. */
  wasOlder: boolean;
  /** Photos that are named and are not where photos are kept. */
  missing: string[];
}

const LOCK_WAIT = `set local lock_timeout = '10s'`;
const LOCK_NOT_AVAILABLE = '55P03';

/**
 * Puts what a file holds into a database, as its owner, in one transaction: the schema of the backup, its rows, the schema of
 * today, and then everything is compared and every promise of the ledger checked. Where anything is not as it was, nothing is
 * changed. Throws StartProblem.
 */
export async function restoreBackup(ownerUrl: string, file: string, options: RestoreOptions): Promise<Restored> {
  const { header } = options.summary;
  refuseNewerBackup(header);
  const dataSource = await new DataSource({ ...poolOptions(ownerUrl), migrations: MIGRATIONS }).initialize();
  const runner = dataSource.createQueryRunner();
  try {
    const client = (await runner.connect()) as ClientBase;
    await holdSchema(client);
    const done = await migrationsDone(client);
    await refuseNewerSchema(client, done);
    const isFull = done.length > 0 && (await holdsData(client));
    if (isFull && !options.replace)
      throw new StartProblem(
        'This workshop holds data already, and stays as it is. Restore into an empty one (another LOTWRIGHT_HOME or DATABASE_URL), or say --replace.',
      );
    if (isFull) await options.replace?.(client);
    await runner.startTransaction();
    try {
      const restored = await restoreAll(file, options, dataSource, runner);
      await runner.commitTransaction();
      return restored;
    } catch (error) {
      await runner.rollbackTransaction().catch(() => {});
      throw error;
    }
  } catch (error) {
    throw isWaitOver(error)
      ? new StartProblem('The database is in use. Stop the Lotwright that serves it, then restore again.')
      : error;
  } finally {
    await runner.release();
    await dataSource.destroy();
  }
}

const isWaitOver = (error: unknown): boolean =>
  error instanceof Error && 'code' in error && error.code === LOCK_NOT_AVAILABLE;

function refuseNewerBackup({ migrations, program }: BackupHeader): void {
  const unknown = migrations.find((name) => !MIGRATIONS.some((migration) => migration.name === name));
  if (unknown === undefined) return;
  const enough = isNewer(program, VERSION) ? ` to ${program} or newer` : '';
  throw new StartProblem(
    `This backup was made by a newer Lotwright (it knows ${unknown}). Update this one (${VERSION})${enough}, then restore again.`,
  );
}

async function restoreAll(
  file: string,
  { summary, photos }: RestoreOptions,
  dataSource: DataSource,
  runner: QueryRunner,
): Promise<Restored> {
  const client = (await runner.connect()) as ClientBase;
  await client.query(`${LOCK_WAIT}; ${TEXT_SETTINGS}`);
  await emptyAll(client, await tablesOf(client));
  await bringTo(summary.header.migrations, dataSource, runner);
  const tables = await tablesOf(client);
  // some come with rows
  await emptyAll(client, tables);
  const ends = await load(client, file, tables, photos);
  await compare(client, tables, ends);
  await setSequences(client, summary.header);
  // what comes after is planned by how many rows there are now
  await client.query(`analyze ${tables.map(({ table }) => quoted(table)).join(', ')}`);
  const named = await photosOf(client, tables);
  const wasOlder = await bringTo(
    MIGRATIONS.map(({ name }) => name),
    dataSource,
    runner,
  );
  await makeFunctions(client);
  await client.query('insert into change default values on conflict do nothing');
  await demandWhole(client);
  return {
    wasOlder,
    missing: await missingOf(
      named.map((photo) => photo.sha256),
      photos,
      summary,
    ),
  };
}

/** As the owner of the tables, who may switch their guards off for this transaction. */
async function emptyAll(client: ClientBase, tables: readonly TableContents[]): Promise<void> {
  if (tables.length === 0) return;
  for (const { table } of tables) await client.query(`alter table ${quoted(table)} disable trigger user`);
  const names = [...tables.map(({ table }) => quoted(table)), ...(await leftOver(client))];
  await client.query(`truncate ${names.join(', ')} restart identity`);
  for (const { table } of tables) await client.query(`alter table ${quoted(table)} enable trigger user`);
}

/** Tables whose rows are in no backup but belong to the workshop all the same. */
async function leftOver(client: ClientBase): Promise<string[]> {
  const { rows } = await client.query<{ name: string }>(
    `select relname as name from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r'
       and relname in ('change', 'idempotency')`,
  );
  return rows.map(({ name }) => quoted(name));
}

/**
 * Each table in the order of the file, which is that of the foreign keys: the database checks every one of them, and every
 * CHECK. The guards of ours are off, because what they would do when a row comes was done when it came first.
 */
async function load(
  client: ClientBase,
  file: string,
  tables: readonly TableContents[],
  photos: PhotoShelf,
): Promise<Map<string, PartEnd>> {
  const ends = new Map<string, PartEnd>();
  let rows: Rows | undefined;
  let photo: (BackupPhoto & { bytes: Buffer[] }) | undefined;
  try {
    for await (const frame of readBackup(file)) {
      if (frame.is === 'table') {
        refuseUnknown(frame.table, tables, ends);
        rows = await Rows.into(client, frame.table);
      } else if (frame.is === 'photo') photo = { ...frame.photo, bytes: [] };
      else if (frame.is === 'data') await (photo ? photo.bytes.push(frame.bytes) : rows?.write(frame.bytes));
      else if (frame.is === 'end' && photo) {
        await photos.put(photo.sha256, Buffer.concat(photo.bytes), photo.type).catch(notKept);
        photo = undefined;
      } else if (frame.is === 'end' && rows) {
        await rows.end();
        ends.set(rows.table, frame.end);
        rows = undefined;
      }
    }
  } catch (error) {
    await rows?.giveUp();
    throw error;
  }
  return ends;
}

function notKept(error: unknown): never {
  throw new StartProblem(
    `A photo cannot be put where photos are kept: ${(error as Error).message} Nothing was restored.`,
  );
}

/** Rows on their way into a table. */
class Rows {
  private readonly done: Promise<void>;
  private isOver = false;

  private constructor(
    private readonly client: ClientBase,
    readonly table: string,
    private readonly copy: ReturnType<typeof copyFrom>,
  ) {
    this.done = new Promise((resolve, reject) => {
      copy.once('finish', resolve);
      // what comes after the first is about the same, and nobody waits for it
      copy.on('error', reject);
    });
    // whoever writes next, or ends it, is told
    this.done.then(
      () => (this.isOver = true),
      () => (this.isOver = true),
    );
  }

  static async into(client: ClientBase, part: BackupTable): Promise<Rows> {
    await client.query(`alter table ${quoted(part.table)} disable trigger user`);
    return new Rows(client, part.table, client.query(copyFrom(copyIn(part))));
  }

  async write(bytes: Buffer): Promise<void> {
    if (this.isOver) await this.whole();
    if (!this.copy.write(bytes)) await Promise.race([once(this.copy, 'drain'), this.whole()]);
  }

  async end(): Promise<void> {
    this.copy.end();
    await this.whole();
    await this.client.query(`alter table ${quoted(this.table)} enable trigger user`);
  }

  /** The connection takes no other statement before it was told that no more rows come. */
  async giveUp(): Promise<void> {
    if (!this.isOver) this.copy.destroy(new Error('the backup cannot be read'));
    await this.done.catch(() => {});
  }

  private async whole(): Promise<void> {
    try {
      await this.done;
    } catch (error) {
      throw new StartProblem(
        `The database refuses rows of the table ${this.table}: ${(error as Error).message}. Nothing was restored.`,
      );
    }
  }
}

function refuseUnknown(
  part: BackupTable,
  tables: readonly TableContents[],
  before: ReadonlyMap<string, unknown>,
): void {
  const known = tables.find(({ table }) => table === part.table);
  const isSame = known && known.columns.toSorted().join() === part.columns.toSorted().join();
  if (!isSame || before.has(part.table))
    throw new StartProblem(
      `The table ${part.table} of this backup is not as the Lotwright it names made it. Nothing of it was taken.`,
    );
}

/** Reads everything back, and demands that it is what the file said, to the byte; and that nothing is there beside it. */
async function compare(
  client: ClientBase,
  tables: readonly TableContents[],
  ends: ReadonlyMap<string, PartEnd>,
): Promise<void> {
  for (const table of tables) {
    const hash = createHash('sha256');
    const found = { bytes: 0, lines: 0 };
    for await (const chunk of client.query(copyTo(copyOut(table))) as AsyncIterable<Buffer>) {
      hash.update(chunk);
      found.bytes += chunk.length;
      found.lines += linesIn(chunk);
    }
    const end = ends.get(table.table);
    if (end?.sha256 !== hash.digest('hex') || end.lines !== found.lines)
      throw new StartProblem(
        `What was read of the table ${table.table} is not what was written. Nothing was restored.`,
      );
  }
}

/** The next numbers are the ones that would have come next: none is ever given twice. */
async function setSequences(client: ClientBase, { sequences }: BackupHeader): Promise<void> {
  for (const { table, column, last } of sequences)
    await client.query('select setval(pg_get_serial_sequence(quote_ident($1), $2), $3::bigint)', [table, column, last]);
}

async function demandWhole(client: ClientBase): Promise<void> {
  const { rows } = await client.query<{ rule: string | null; subject: string | null }>(
    'select rule, subject from ledger_violations() limit 3',
  );
  if (rows.length === 0) return;
  const named = rows.map(({ rule, subject }) => `${rule}, ${subject}`).join('; ');
  throw new StartProblem(
    `What this backup holds breaks promises of the ledger (${named}). Nothing was restored; the database it was made of broke them too.`,
  );
}

/** Those named in the tables that are not whole where photos are kept. Where the file should have brought one, that throws. */
async function missingOf(named: string[], photos: PhotoShelf, { closing, header }: BackupSummary): Promise<string[]> {
  const missing: string[] = [];
  for (const name of named) {
    const bytes = await photos.get(name).catch(() => undefined);
    if (bytes === undefined || sha256(bytes) !== name) missing.push(name);
  }
  const lost = header.photos === 'inside' ? missing.filter((name) => !closing.missing.includes(name)) : [];
  if (lost.length > 0)
    throw new StartProblem(`${lost.length} of the photos could not be put where they are kept. Nothing was restored.`);
  return missing;
}
