import { statfsSync } from 'node:fs';
import { sqlStateOf } from './sql-state.js';

/** PostgreSQL's `disk_full` (its manual, appendix A), and what the system says to whoever writes a file themselves. */
const SQL_STATE = '53100';
const SYSTEM = new Set(['ENOSPC', 'EDQUOT']);

/** What is said of it, to whomever it hinders. */
export const DISK_FULL = {
  status: 507,
  code: 'disk-full',
  detail:
    'The disk is full: nothing was written. Free some space, then do it again; what is there can be read meanwhile.',
};

/** Whether an error says that there was no room on the disk, of the database or of this process. */
export function isDiskFull(error: unknown): boolean {
  if (sqlStateOf(error) === SQL_STATE) return true;
  return error instanceof Error && 'code' in error && SYSTEM.has(String(error.code));
}

/** PostgreSQL needs one more file of this size to begin with, where its last one is used up. */
const START_BYTES = 16 * 1024 * 1024;

/** Says that the disk a folder lies on is full, and how full; undefined where there is room, or the system does not tell. */
export function fullDiskOf(folder: string): string | undefined {
  try {
    const { bavail, bsize } = statfsSync(folder);
    const freeBytes = bavail * bsize;
    return freeBytes < START_BYTES
      ? `the disk that holds ${folder} is full (${Math.floor(freeBytes / 1024)} kB are free)`
      : undefined;
  } catch {
    return undefined;
  }
}
