import { execFileSync, spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Redis } from 'ioredis';
import { installFirst } from './packages.js';

export interface TestRedis {
  url: string;
  /** Empties it, as when its data was lost. */
  flush(): Promise<void>;
  /** Ends it as a power cut would, and starts it again where it was. Only one of our own can be. */
  restart(awayMs: number): Promise<void>;
  stop(): Promise<void>;
}

const START_MS_MAX = 10_000;

/**
 * A real Redis: TEST_REDIS_URL, else a redis-server of this machine. Where there is none: why, so that a test can say that
 * it did not run.
 */
export async function startTestRedis(): Promise<TestRedis | { missing: string }> {
  const given = process.env['TEST_REDIS_URL'];
  if (given) return { url: given, flush: () => flush(given), restart: refuseRestart, stop: async () => {} };
  return isThere() ? startOwn() : { missing: 'no redis-server is installed or may be here (or set TEST_REDIS_URL)' };
}

const refuseRestart = () => Promise.reject(new Error('a Redis that is not ours is not ended'));

/** Once before all files: where there is none and it may be, Debian's is installed. */
export function provideRedis(): void {
  if (!process.env['TEST_REDIS_URL'] && !isThere()) installFirst('redis-server');
}

function isThere(): boolean {
  try {
    execFileSync('redis-server', ['--version'], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

async function startOwn(): Promise<TestRedis> {
  const folder = mkdtempSync(join(tmpdir(), 'lotwright-redis-'));
  const port = await freePort();
  const url = `redis://127.0.0.1:${port}`;
  let child = await start(port, folder);
  return {
    url,
    flush: () => flush(url),
    restart: async (awayMs) => {
      await end(child, 'SIGKILL');
      await new Promise((resolve) => setTimeout(resolve, awayMs));
      child = await start(port, folder);
    },
    stop: async () => {
      await end(child, 'SIGTERM');
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** As one for jobs should be set: nothing thrown away, everything written to disk each second. */
async function start(port: number, folder: string): Promise<ChildProcess> {
  const args = ['--port', String(port), '--bind', '127.0.0.1', '--dir', folder];
  const child = spawn(
    'redis-server',
    [...args, '--appendonly', 'yes', '--save', '', '--maxmemory-policy', 'noeviction'],
    {
      stdio: 'ignore',
    },
  );
  const deadline = Date.now() + START_MS_MAX;
  while (Date.now() < deadline) {
    if (await answers(port)) return child;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  child.kill('SIGKILL');
  throw new Error('redis-server does not answer');
}

async function answers(port: number): Promise<boolean> {
  const client = new Redis(port, '127.0.0.1', {
    lazyConnect: true,
    retryStrategy: () => null,
    maxRetriesPerRequest: 0,
  });
  client.on('error', () => {});
  try {
    await client.connect();
    return (await client.ping()) === 'PONG';
  } catch {
    return false;
  } finally {
    client.disconnect();
  }
}

function end(child: ChildProcess, signal: NodeJS.Signals): Promise<void> {
  return new Promise((resolve) => {
    if (child.exitCode !== null || child.signalCode !== null) return resolve();
    child.once('exit', () => resolve());
    child.kill(signal);
  });
}

async function flush(url: string): Promise<void> {
  const client = new Redis(url);
  try {
    await client.flushall();
  } finally {
    client.disconnect();
  }
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.once('error', reject);
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address() as { port: number };
      server.close(() => resolve(port));
    });
  });
}
