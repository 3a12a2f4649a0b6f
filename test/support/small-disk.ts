import { spawn } from 'node:child_process';
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

/**
 * Mounts a disk of so many bytes where only those see it who are started for it: as root, or as root of a user namespace of its
 * own. Throws, and says so, where the machine lets nobody do that.
 */
export async function smallDisk(bytes: number): Promise<SmallDisk> {
  const folder = mkdtempSync(join(tmpdir(), 'lotwright-disk-'));
  const isRoot = process.getuid?.() === 0;
  const space = isRoot ? ['--mount'] : ['--user', '--map-root-user', '--mount'];
  const mounts = `mount -t tmpfs -o size=${bytes} none "$0" && echo mounted && exec cat`;
  const keeper = spawn('unshare', [...space, 'sh', '-c', mounts, folder]);
  const ended = new Promise<void>((resolve) => keeper.once('close', () => resolve()));
  let said = '';
  const mounted = new Promise<void>((resolve) => {
    for (const stream of [keeper.stdout, keeper.stderr])
      stream.on('data', (chunk: Buffer) => (said += chunk.toString()) === 'mounted\n' && resolve());
    keeper.once('error', (error) => (said = error.message));
  });
  await Promise.race([mounted, ended]);
  if (said !== 'mounted\n') {
    rmSync(folder, { recursive: true });
    throw new Error(`What happens on a full disk was not tried: no small disk can be mounted here (${said.trim()}).`);
  }
  const seen = join('/proc', String(keeper.pid), 'root', folder);
  const ballast = join(seen, 'ballast');
  const entered = [`--target=${keeper.pid}`, ...(isRoot ? [] : ['--user', '--preserve-credentials']), '--mount'];
  return {
    folder,
    seen,
    prefix: ['nsenter', ...entered, 'sh', '-c', 'cd "$0" && exec "$@"', process.cwd()],
    fill: (leftBytes) => {
      const { bavail, bsize } = statfsSync(seen);
      appendFileSync(ballast, Buffer.alloc(Math.max(0, bavail * bsize - leftBytes)));
    },
    free: () => rmSync(ballast, { force: true }),
    gone: async () => {
      keeper.stdin.end();
      await ended;
      rmSync(folder, { recursive: true });
    },
  };
}
