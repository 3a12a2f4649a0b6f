import { statSync } from 'node:fs';
import { Client } from 'pg';
import { PhotoStore } from '../src/checks/photo-store.js';
import { readConfig } from '../src/config.js';
import { writeBackup } from '../src/platform/backup/write-backup.js';
import { openAsOwner } from '../src/platform/open-database.js';
import { sayWhy } from '../src/platform/start-problem.js';
import { readFileArgument } from './file-argument.js';

const USAGE = `npm run backup -- FILE [--overwrite]

  Writes all of the workshop, photos too, into one file, as it is at one moment, also while the server runs.

  --overwrite   replaces a file of that name
`;

/** Exit code 0: the file is there, whole and on the disk. 1: it is not, and why is said. */
async function main(): Promise<void> {
  const argument = readFileArgument(USAGE, 'overwrite');
  if (!argument) return void process.stdout.write(USAGE);
  const { file, isFlagged: overwrite } = argument;
  const config = readConfig(process.env);
  const database = await openAsOwner(config, { join: true });
  const client = new Client({ connectionString: database.ownerUrl });
  try {
    await client.connect();
    const { tables, rows, photos, missing } = await writeBackup(client, file, {
      photos: new PhotoStore(config),
      overwrite,
    });
    const size = Math.ceil(statSync(file).size / 1000);
    process.stdout.write(`${file}: ${rows} rows of ${tables} tables and ${photos} photos, ${size} kB.\n`);
    for (const name of missing) console.error(`A photo is not where it is kept, so it is not in the file: ${name}`);
  } finally {
    await client.end();
    await database.close();
  }
}

try {
  await main();
} catch (error) {
  sayWhy(error);
  process.exitCode = 1;
}
