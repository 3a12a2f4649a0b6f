import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { setTimeout as pause } from 'node:timers/promises';

export interface ServerProcess {
  child: ChildProcess;
  /** What it has written so far, both streams together. */
  output(): string;
  /** Resolves with the exit code; a signal that killed it counts as 128. */
  ended: Promise<number>;
  /** Waits until it serves and answers its address. Rejects with the output if it ends first. */
  serving(): Promise<string>;
  /** Ctrl-C, and the exit code that comes of it. */
  interrupt(): Promise<number>;
}

const SERVES = /serves on (http:\/\/\S+)/;
const SERVING_MS_MAX = 170_000;

export interface ServerProcessOptions {
  env: Record<string, string>;
  /** What stands before `node`, for example a command that changes the user. */
  prefix?: string[];
  /** Which program; the server unless told otherwise. */
  program?: string[];
}

/** A server as a person starts it: a process of its own, with nothing of ours but what `env` says. */
export function startServerProcess(options: ServerProcessOptions): ServerProcess {
  const program = options.program ?? ['dist/src/main.js'];
  const [command, ...args] = [...(options.prefix ?? []), process.execPath, ...program];
  const env = { PATH: process.env['PATH'], PORT: '0', ...options.env };
  const child = spawn(command!, args, { env, stdio: ['ignore', 'pipe', 'pipe'] });
  let written = '';
  child.stdout.on('data', (chunk: Buffer) => (written += chunk.toString()));
  child.stderr.on('data', (chunk: Buffer) => (written += chunk.toString()));
  const ended = new Promise<number>((resolve) => child.once('close', (code) => resolve(code ?? 128)));
  return {
    child,
    ended,
    output: () => written,
    serving: async () => {
      const deadline = Date.now() + SERVING_MS_MAX;
      while (child.exitCode === null && child.signalCode === null && Date.now() < deadline) {
        const address = SERVES.exec(written)?.[1];
        if (address) return address;
        await pause(20);
      }
      throw new Error(`does not serve: ${written}`);
    },
    interrupt: () => {
      child.kill('SIGINT');
      return ended;
    },
  };
}
