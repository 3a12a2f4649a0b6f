import { chmodSync, mkdtempSync, readdirSync, rmSync, statfsSync } from 'node:fs';
import { join } from 'node:path';

/** Where Linux keeps files in memory. */
const SHARED = '/dev/shm';
const TMPFS = 0x01021994;
const PREFIX = 'lotwright-run-';

/** A run of all tests has a quarter of it lying there at once. */
const ROOM_BYTES = 4e9;

/**
 * Has temporary files lie in memory for the rest of this process and all it starts, where there is plenty. A test's database
 * is a thousand files that are made and soon removed, and a file system on a disk may take half a second of a processor for
 * that: ext4 without a journal looks at every file that was lately removed before it makes another. Answers what ends it.
 */
export function keepInMemory(): () => void {
  if (!hasRoom()) return () => {};
  removeOrphans();
  const folder = mkdtempSync(join(SHARED, `${PREFIX}${process.pid}-`));
  // some tests start programs as another user, who is to come through
  chmodSync(folder, 0o711);
  const before = process.env['TMPDIR'];
  process.env['TMPDIR'] = folder;
  return () => {
    if (before === undefined) delete process.env['TMPDIR'];
    else process.env['TMPDIR'] = before;
    rmSync(folder, { recursive: true, force: true });
  };
}

/** Whoever says where temporary files lie, or has little memory, is left alone. */
function hasRoom(): boolean {
  if (process.platform !== 'linux' || process.env['TMPDIR'] !== undefined) return false;
  try {
    const { type, bavail, bsize } = statfsSync(SHARED);
    return type === TMPFS && bavail * bsize > ROOM_BYTES && process.availableMemory() > 2 * ROOM_BYTES;
  } catch {
    return false;
  }
}

/** What a run left that was killed. */
function removeOrphans(): void {
  for (const name of readdirSync(SHARED)) {
    const pid = name.startsWith(PREFIX) ? Number.parseInt(name.slice(PREFIX.length), 10) : undefined;
    if (pid !== undefined && !isRunning(pid)) rmSync(join(SHARED, name), { recursive: true, force: true });
  }
}

function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
