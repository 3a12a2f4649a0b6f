import { Client } from 'pg';
import { PhotoStore } from '../../src/checks/photo-store.js';
import type { Config } from '../../src/config.js';
import { checkBackup } from '../../src/platform/backup/backup-reader.js';
import { restoreBackup } from '../../src/platform/backup/restore-backup.js';
import type { RestoreOptions, Restored } from '../../src/platform/backup/restore-backup.js';
import { writeBackup } from '../../src/platform/backup/write-backup.js';

interface Owned {
  ownerUrl: string;
}

export async function asOwner<T>(ownerUrl: string, work: (client: Client) => Promise<T>): Promise<T> {
  const client = new Client({ connectionString: ownerUrl });
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}

export const backup = ({ ownerUrl }: Owned, to: string, photos?: PhotoStore) =>
  asOwner(ownerUrl, (client) => writeBackup(client, to, { photos }));

/** As `npm run restore` does it: the whole file is looked at first, unless a test says what was found then. */
export async function restore(
  { ownerUrl }: Owned,
  from: string,
  config: Config,
  options: Partial<RestoreOptions> = {},
): Promise<Restored> {
  const summary = options.summary ?? (await checkBackup(from));
  return restoreBackup(ownerUrl, from, { photos: new PhotoStore(config), ...options, summary });
}

/** Does something with a database, which is dropped after it. */
export async function on<D extends { drop(): Promise<void> }, T>(
  made: Promise<D>,
  work: (database: D) => Promise<T>,
): Promise<T> {
  const database = await made;
  try {
    return await work(database);
  } finally {
    await database.drop();
  }
}
