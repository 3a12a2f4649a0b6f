import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { closeSync, existsSync, openSync, readFileSync, renameSync } from 'node:fs';
import { createServer } from 'node:net';
import { setTimeout as pause } from 'node:timers/promises';
import { StartProblem } from '../start-problem.js';
import { postmasterOf } from './cluster.js';
import { endPostmaster } from './ending.js';
import { run, withoutPgVariables } from './processes.js';
import type { PostgresRunner } from './runner.js';

/** Where the embedded server listens: nobody but this machine can reach it. */
export const HOST = '127.0.0.1';

/** What `startServer` throws where it does not come up, with what PostgreSQL said itself, '' where it could not. */
export class PostgresNotStarted extends StartProblem {
  constructor(
    readonly said: string,
    log: string,
  ) {
    super(`The embedded PostgreSQL does not start: ${said || 'it says nothing'} (see ${log}).`);
  }
}

const READY_MS_MAX = 120_000;
const START_TRIES_MAX = 5;

/** Reasons to try once more: another process took the port, or the last server's children are still ending. */
const PASSING_TROUBLE = /could not bind|could not create any TCP|pre-existing shared memory block/;

export interface RunningServer {
  port: number;
  /** Resolves when the server ends without being asked to. */
  lost: Promise<void>;
  stop(): Promise<void>;
}

export interface ServerOptions {
  /** Where the server's messages go; the file before is kept beside it. */
  log: string;
  settings: Record<string, string>;
  isReady(port: number): Promise<boolean>;
}

/** Starts the server on a free port of the loopback address and waits until it is ready. Throws StartProblem. */
export async function startServer(runner: PostgresRunner, options: ServerOptions): Promise<RunningServer> {
  const { log } = options;
  for (let tries = 1; ; tries++) {
    const port = await freePort();
    if (existsSync(log)) renameSync(log, `${log}.1`);
    const child = spawnServer(runner, port, options);
    const ended = new Promise<void>((resolve) => child.once('close', () => resolve()));
    let isAsked = false;
    const stop = async () => {
      isAsked = true;
      const isRunning = () => child.exitCode === null && child.signalCode === null;
      await askToStop(child, runner, isRunning);
      if (isRunning())
        throw new StartProblem(`The PostgreSQL on ${runner.data} does not stop. End it before the next start.`);
      await ended;
    };
    if (await becomesReady(child, () => options.isReady(port))) {
      const lost = ended.then(() => (isAsked ? new Promise<void>(() => {}) : undefined));
      return { port, lost, stop };
    }
    await stop();
    const said = readFileSync(log, 'utf8');
    if (tries === START_TRIES_MAX || !PASSING_TROUBLE.test(said)) {
      throw new PostgresNotStarted(reasonIn(said), log);
    }
    await pause(300 * tries);
  }
}

/** What comes first is often only that it was asked too early; a full disk is what the rest comes of. */
function reasonIn(log: string): string {
  const reasons = (log.match(/(?:FATAL|PANIC|ERROR): .*/g) ?? []).filter((line) => !line.includes('not yet accepting'));
  const full = reasons.find((line) => line.includes('No space left'));
  return full ?? reasons[0] ?? log.trim().split('\n').at(-1) ?? '';
}

/**
 * A shell stands between: it holds the other end of a pipe from this process, and when that closes, because the server
 * is asked to stop or because this process was killed, it lets PostgreSQL shut down in order. The session of its own
 * keeps Ctrl-C in the terminal from reaching PostgreSQL before the requests in work are answered.
 */
const KEEPER = `
exec 3<&0
"$@" </dev/null 3<&- &
server=$!
(cat <&3 >/dev/null 2>&1; kill -INT $server 2>/dev/null) &
exec 3<&-
wait $server`;

const isWindows = process.platform === 'win32';

function spawnServer(runner: PostgresRunner, port: number, { log, settings }: ServerOptions): ChildProcess {
  const all = {
    port: String(port),
    listen_addresses: HOST,
    unix_socket_directories: '',
    timezone: 'UTC',
    log_timezone: 'UTC',
    ...settings,
  };
  const settingArgs = Object.entries(all).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const { file, args, options } = runner.command('postgres', ['-D', runner.data, ...settingArgs]);
  const output = openSync(log, 'w', 0o600);
  const child = spawn(isWindows ? file : 'sh', isWindows ? args : ['-c', KEEPER, 'keeper', file, ...args], {
    ...options,
    env: withoutPgVariables(),
    detached: !isWindows,
    stdio: ['pipe', output, output],
  });
  closeSync(output);
  // the pipe is closed by the other side when the server ends first
  child.stdin?.on('error', () => {});
  return child;
}

/** Asks it to end, and harder where it does not: a PostgreSQL that was hit by a kill can hang in its recovery. */
async function askToStop(child: ChildProcess, runner: PostgresRunner, isRunning: () => boolean): Promise<void> {
  const pid = postmasterOf(runner.data)?.pid;
  child.stdin?.end();
  if (isWindows) {
    for (const how of ['fast', 'immediate']) {
      const { file, args, options } = runner.command('pg_ctl', ['stop', '-D', runner.data, '-m', how, '-t', '8']);
      if (isRunning()) await run(file, args, options);
    }
    if (isRunning()) child.kill('SIGKILL');
  } else if (pid !== undefined) await endPostmaster(pid, isRunning);
}

async function becomesReady(child: ChildProcess, isReady: () => Promise<boolean>): Promise<boolean> {
  const deadline = Date.now() + READY_MS_MAX;
  while (Date.now() < deadline && child.exitCode === null && child.signalCode === null) {
    if (await isReady()) return true;
    await pause(50);
  }
  return false;
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', reject);
    probe.listen(0, HOST, () => {
      const address = probe.address();
      probe.close(() =>
        address && typeof address === 'object' ? resolve(address.port) : reject(new Error('no port')),
      );
    });
  });
}
