import { spawn, spawnSync } from 'node:child_process';
import type { SpawnOptions } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';

/** Runs a command to its end. Never throws: a command that is not there ends with code 127. */
export function run(
  command: string,
  args: string[],
  options: SpawnOptions = {},
): Promise<{ code: number; output: string }> {
  return new Promise((resolve) => {
    let output = '';
    const child = spawn(command, args, { ...options, stdio: ['ignore', 'pipe', 'pipe'] });
    child.stdout.on('data', (chunk: Buffer) => (output += chunk.toString()));
    child.stderr.on('data', (chunk: Buffer) => (output += chunk.toString()));
    child.once('error', (error) => resolve({ code: 127, output: error.message }));
    child.once('close', (code) => resolve({ code: code ?? 1, output: output.trim() }));
  });
}

/** Whether a process with this id lives, whoever owns it; one that ended but was not yet buried by its parent does not. */
export function lives(pid: number): boolean {
  try {
    process.kill(pid, 0);
  } catch (error) {
    if (!(error instanceof Error && 'code' in error && error.code === 'EPERM')) return false;
  }
  return statOf(pid)?.state !== 'Z';
}

/**
 * When a living process was started, in whatever form the system tells it; '' where it does not tell. Process ids are
 * used again after a restart, so an id alone does not say that a process is the one that wrote it down.
 */
export function startMarkOf(pid: number): string {
  if (process.platform === 'win32') return '';
  const onLinux = statOf(pid)?.started;
  return onLinux ?? spawnSync('ps', ['-o', 'lstart=', '-p', String(pid)], { encoding: 'utf8' }).stdout?.trim() ?? '';
}

/** The processes it started that still live, as far as Linux tells; elsewhere none is known. */
export function childrenOf(pid: number): number[] {
  if (process.platform !== 'linux') return [];
  const all = readdirSync('/proc').filter((name) => /^\d+$/.test(name));
  return all.map(Number).filter((each) => statOf(each)?.parent === String(pid));
}

/**
 * What Linux tells of a process (proc(5)): the state is field 3, the parent field 4, the start in ticks since the boot
 * field 22.
 */
function statOf(pid: number): { state?: string; parent?: string; started?: string } | undefined {
  try {
    // the command may hold spaces and brackets, so fields are counted behind its last bracket
    const fields = readFileSync(`/proc/${pid}/stat`, 'latin1')
      .replace(/^.*\) /s, '')
      .split(' ');
    return { state: fields[0], parent: fields[1], started: fields[19] };
  } catch {
    return undefined;
  }
}

/** The command line of a living process, arguments parted by spaces; '' where the system does not tell. */
export function commandLineOf(pid: number): string {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, 'utf8').replaceAll('\0', ' ');
  } catch {
    return spawnSync('ps', ['-o', 'command=', '-p', String(pid)], { encoding: 'utf8' }).stdout?.trim() ?? '';
  }
}

/** The environment without PG variables, which would change what the server and its tools do. */
export function withoutPgVariables(): NodeJS.ProcessEnv {
  return Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('PG')));
}
