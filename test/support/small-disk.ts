import { spawn } from 'node:child_process';
import type { ChildProcessWithoutNullStreams } from 'node:child_process';
import { appendFileSync, mkdtempSync, rmSync, statfsSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A disk of its own in memory, which goes with the process that holds it. */
export interface SmallDisk {
  /** Where it is mounted, for who is started with `prefix`. */
  folder: string;
  /** The same for who does not see it. */
  seen: string;
  /** What stands before a command that is to see it. */
  prefix: string[];
  /** Takes all room there is but so much. */
  fill(leftBytes: number): void;
  /** Gives back what `fill` took. */
  free(): void;
  gone(): Promise<void>;
}

/** Who is no root, or a root who may not mount, is one of a user namespace of their own. */
const WAYS = [
  { make: ['--mount'], enter: ['--mount'] },
  { make: ['--user', '--map-root-user', '--mount'], enter: ['--user', '--preserve-credentials', '--mount'] },
];

/**
 * Mounts a disk of so many bytes, which only those see who are started for it. Throws, and says that this was not tried,
 * where the machine lets nobody mount one.
 */
export async function smallDisk(bytes: number): Promise<SmallDisk> {
  const folder = mkdtempSync(join(tmpdir(), 'lotwright-disk-'));
  const said: string[] = [];
  for (const { make, enter } of WAYS) {
    const held = await mounted(make, bytes, folder);
    if ('keeper' in held) return diskOf(held, folder, enter);
    said.push(held.said);
  }
  rmSync(folder, { recursive: true });
  throw new Error(`What happens on a full disk was not tried: no disk can be mounted here (${said.join('; ')}).`);
}

interface Held {
  keeper: ChildProcessWithoutNullStreams;
  ended: Promise<void>;
}

async function mounted(make: string[], bytes: number, folder: string): Promise<Held | { said: string }> {
  const mounts = `mount -t tmpfs -o size=${bytes} none "$0" && echo mounted && exec cat`;
  const keeper = spawn('unshare', [...make, 'sh', '-c', mounts, folder]);
  let said = '';
  keeper.once('error', (error) => (said += error.message));
  const ended = new Promise<void>((resolve) => keeper.once('close', () => resolve()));
  const stands = new Promise<void>((resolve) => {
    keeper.stdout.once('data', () => resolve());
    keeper.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()));
  });
  await Promise.race([stands, ended]);
  const isOver = keeper.pid === undefined || keeper.exitCode !== null || keeper.signalCode !== null;
  return isOver ? { said: said.trim() } : { keeper, ended };
}

function diskOf({ keeper, ended }: Held, folder: string, enter: string[]): SmallDisk {
  const seen = join('/proc', String(keeper.pid), 'root', folder);
  const ballast = join(seen, 'ballast');
  return {
    folder,
    seen,
    prefix: ['nsenter', `--target=${keeper.pid}`, ...enter, 'sh', '-c', 'cd "$0" && exec "$@"', process.cwd()],
    fill: (leftBytes) => {
      const { bavail, bsize } = statfsSync(seen);
      try {
        appendFileSync(ballast, Buffer.alloc(Math.max(0, bavail * bsize - leftBytes)));
      } catch (error) {
        // who writes there meanwhile may take the last of it first: it is as full then
        if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
      }
    },
    free: () => rmSync(ballast, { force: true }),
    gone: async () => {
      keeper.stdin.end();
      await ended;
      rmSync(folder, { recursive: true });
    },
  };
}
