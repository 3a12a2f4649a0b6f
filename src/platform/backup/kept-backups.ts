import { mkdir, readdir, rm } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import type { ClientBase } from 'pg';
import { StartProblem } from '../start-problem.js';
import { writeBackup } from './write-backup.js';

/** Of the backups Lotwright makes by itself so many stay, the newest. */
export const KEPT_MAX = 5;

/** By the instant, so that they sort by age; without characters that some file systems refuse. */
const NAME = /^\d{4}-\d{2}-\d{2}T\d{2}-\d{2}-\d{2}-\d{3}Z-before-[\w.-]+\.backup(\.part)?$/;

/**
 * Makes a backup in a folder of the home before something big happens, and takes the oldest of its kind away. Photos stay
 * where they are, since nothing that happens to the database touches them. `spare` is not taken away, however old it is.
 * Answers the file. Throws StartProblem.
 */
export async function keepBackup(client: ClientBase, home: string, before: string, spare?: string): Promise<string> {
  const folder = join(home, 'backups');
  const at = new Date().toISOString().replace(/[:.]/g, '-');
  const file = join(folder, `${at}-before-${before}.backup`);
  try {
    await mkdir(folder, { recursive: true, mode: 0o700 });
  } catch (error) {
    throw new StartProblem(`Cannot write to the folder ${folder}: ${(error as Error).message}.`);
  }
  await writeBackup(client, file);
  await takeOldAway(folder, spare);
  return file;
}

async function takeOldAway(folder: string, spare: string | undefined): Promise<void> {
  const names = (await readdir(folder)).filter((name) => NAME.test(name)).sort();
  const halves = names.filter((name) => name.endsWith('.part'));
  const whole = names.filter((name) => !name.endsWith('.part'));
  for (const name of [...halves, ...whole.slice(0, -KEPT_MAX)]) {
    const file = join(folder, name);
    if (spare === undefined || resolve(spare) !== resolve(file)) await rm(file, { force: true });
  }
}
