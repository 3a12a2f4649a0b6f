import { createHash } from 'node:crypto';
import { finished } from 'node:stream/promises';
import type { ClientBase } from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import { migrationsDone } from '../migrate.js';
import { holdSchema, leaveSchema } from '../migration-lock.js';
import { VERSION } from '../program-version.js';
import { StartProblem } from '../start-problem.js';
import { copyOut, quoted, sequencesOf, tablesOf, TEXT_SETTINGS } from './backup-contents.js';
import type { TableContents } from './backup-contents.js';
import { BackupWriter } from './backup-writer.js';
import { FORMAT } from './frames.js';
import type { BackupClosing, BackupHeader, BackupPhoto } from './frames.js';

/** Where photos are kept, as whoever keeps them offers it. */
export interface PhotoShelf {
  /** Throws where there is none of this name. */
  get(sha256: string): Promise<Buffer>;
  put(sha256: string, bytes: Buffer, type: BackupPhoto['type']): Promise<void>;
}

export interface WriteOptions {
  /** Whose photos go into the file; without it they stay where they are kept. */
  photos?: PhotoShelf;
  /** Whether a file of this name may be replaced. */
  overwrite?: boolean;
}

/**
 * Writes what one moment of the database holds into a file, while others go on. `client` connects as the owner and does
 * nothing else meanwhile. The file is there whole or not at all. Throws StartProblem.
 */
export async function writeBackup(
  client: ClientBase,
  file: string,
  { photos, overwrite }: WriteOptions = {},
): Promise<BackupClosing> {
  await holdSchema(client, { share: true });
  try {
    const migrations = await migrationsDone(client);
    if (migrations.length === 0) throw new StartProblem('There is no workshop in this database to make a backup of.');
    const tables = await tablesOf(client);
    await client.query('begin isolation level repeatable read, read only');
    try {
      await client.query(TEXT_SETTINGS);
      // before the first look, which is the moment: a table that is emptied after it would be empty for it too
      await client.query(`lock table ${tables.map(({ table }) => quoted(table)).join(', ')} in access share mode`);
      const { rows } = await client.query<{ version: number }>(
        `select current_setting('server_version_num')::int as version`,
      );
      const header: BackupHeader = {
        file: 'lotwright-backup',
        format: FORMAT,
        program: VERSION,
        postgres: Math.floor(rows[0]!.version / 10_000),
        migrations,
        madeAt: new Date().toISOString(),
        photos: photos ? 'inside' : 'beside',
        // sequences belong to no moment; asked after it, they are beyond every number that is in it
        sequences: await sequencesOf(client),
      };
      return await writeAll(client, tables, await BackupWriter.create(file, header, { overwrite }), photos);
    } finally {
      // where the connection is gone, what went wrong before is what is told
      await client.query('rollback').catch(() => {});
    }
  } catch (error) {
    throw onDisk(error) ? new StartProblem(`Cannot write ${file}: ${error.message}.`) : error;
  } finally {
    await leaveSchema(client).catch(() => {});
  }
}

async function writeAll(
  client: ClientBase,
  tables: readonly TableContents[],
  writer: BackupWriter,
  photos: PhotoShelf | undefined,
): Promise<BackupClosing> {
  try {
    for (const each of tables) await writeTable(client, each, writer);
    const missing: string[] = [];
    for (const photo of photos ? await photosOf(client, tables) : []) {
      const bytes = await photos!.get(photo.sha256).catch(absent);
      if (bytes !== undefined && sha256(bytes) === photo.sha256) await writer.photo(photo, bytes);
      else missing.push(photo.sha256);
    }
    return await writer.close(missing);
  } catch (error) {
    await writer.discard();
    throw error;
  }
}

async function writeTable(client: ClientBase, contents: TableContents, writer: BackupWriter): Promise<void> {
  const rows = client.query(copyTo(copyOut(contents)));
  try {
    const { table, columns } = contents;
    await writer.table({ table, columns }, rows.iterator({ destroyOnReturn: false }));
  } catch (error) {
    // the connection takes no other statement before the last row has come
    await finished(rows.resume()).catch(() => {});
    throw error;
  }
}

/** One that is gone is named at the end; where the storage does not answer, there is no backup. */
function absent(error: unknown): undefined {
  if (error instanceof Error && 'status' in error && error.status === 404) return undefined;
  throw error instanceof Error ? new StartProblem(`A photo cannot be read: ${error.message}`) : error;
}

/** Every photo that is named in these tables, once. */
export async function photosOf(client: ClientBase, tables: readonly TableContents[]): Promise<BackupPhoto[]> {
  const naming = tables
    .filter(({ hasPhotos }) => hasPhotos)
    .map(({ table }) => `select sha256, type from ${quoted(table)}`);
  if (naming.length === 0) return [];
  const { rows } = await client.query<BackupPhoto>(
    `select sha256, min(type) as type from (${naming.join(' union all ')}) as named group by sha256 order by sha256`,
  );
  return rows;
}

export const sha256 = (bytes: Buffer): string => createHash('sha256').update(bytes).digest('hex');

const DISK = new Set(['ENOENT', 'EACCES', 'EPERM', 'ENOSPC', 'EROFS', 'ENOTDIR', 'EISDIR', 'EDQUOT', 'EIO', 'EFBIG']);

const onDisk = (error: unknown): error is Error =>
  error instanceof Error && 'code' in error && DISK.has(String(error.code));
