import { PhotoStore } from '../src/checks/photo-store.js';
import { readConfig } from '../src/config.js';
import { checkBackup } from '../src/platform/backup/backup-reader.js';
import { keepBackup } from '../src/platform/backup/kept-backups.js';
import { restoreBackup } from '../src/platform/backup/restore-backup.js';
import { openAsOwner } from '../src/platform/open-database.js';
import { sayWhy } from '../src/platform/start-problem.js';
import { readFileArgument } from './file-argument.js';

const USAGE = `npm run restore -- FILE [--replace]

  Puts what a backup holds into an empty workshop: a new LOTWRIGHT_HOME, or an empty database at DATABASE_URL. The server
  that serves it is stopped first.

  --replace   puts it in the place of the workshop that is there, after a backup of that in LOTWRIGHT_HOME/backups
`;

/** Exit code 0: all of it is there and was compared. 1: nothing was changed, and why is said. */
async function main(): Promise<void> {
  const argument = readFileArgument(USAGE, 'replace');
  if (!argument) return void process.stdout.write(USAGE);
  const { file, isFlagged: replace } = argument;
  const config = readConfig(process.env);
  // the whole file first: what is damaged starts no database and makes no folder
  const summary = await checkBackup(file);
  const database = await openAsOwner(config);
  try {
    const restored = await restoreBackup(database.ownerUrl, file, {
      summary,
      photos: new PhotoStore(config),
      ...(replace && {
        replace: async (client) =>
          console.error(`What was there is kept: ${await keepBackup(client, config.home, 'restore', file)}`),
      }),
    });
    const { header, closing } = summary;
    const made = `${header.madeAt.slice(0, 16).replace('T', ' ')} UTC, Lotwright ${header.program}`;
    process.stdout.write(
      `Restored ${closing.rows} rows of ${closing.tables} tables and ${closing.photos} photos (${made}); every promise of the ledger holds.\n`,
    );
    if (restored.wasOlder) process.stdout.write('The data were brought up to date with this Lotwright.\n');
    for (const name of restored.missing) console.error(`A photo is not where it is kept: ${name}`);
  } finally {
    await database.close();
  }
}

try {
  await main();
} catch (error) {
  sayWhy(error);
  process.exitCode = 1;
}
