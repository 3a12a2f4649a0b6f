import { readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { lives, startMarkOf } from './processes.js';
import { StartProblem } from '../start-problem.js';

/** Longer than it takes another process that judged the same old lock to put its own in its place. */
const SETTLE_MS = 150;

/** The id of the living Lotwright process that uses this home, or undefined. */
export function holderOf(home: string): number | undefined {
  let text: string;
  try {
    text = readFileSync(lockFile(home), 'utf8');
  } catch {
    return undefined;
  }
  const [pid = '', mark = ''] = text.split('\n');
  const alive = /^\d+$/.test(pid) && lives(Number(pid)) && startMarkOf(Number(pid)) === mark;
  return alive ? Number(pid) : undefined;
}

/**
 * Makes this process the only one that runs the database in `home`, until the returned function is called or the
 * process ends in whatever way. Throws StartProblem while another living process has it.
 */
export async function lockHome(home: string): Promise<() => void> {
  const mine = `${process.pid}\n${startMarkOf(process.pid)}\n`;
  const file = lockFile(home);
  refuseIfHeld(home);
  // a rename puts the whole file in place at once; of two that do so together, the last one has the lock
  const own = `${file}.${process.pid}`;
  try {
    writeFileSync(own, mine, { mode: 0o600 });
    renameSync(own, file);
  } catch (error) {
    rmSync(own, { force: true });
    throw error;
  }
  await pause(SETTLE_MS);
  if (readFileSync(file, 'utf8') !== mine) refuseIfHeld(home);
  return () => rmSync(file, { force: true });
}

function refuseIfHeld(home: string): void {
  const holder = holderOf(home);
  if (holder === undefined || holder === process.pid) return;
  throw new StartProblem(
    `Lotwright already runs on ${home} (process ${holder}). Stop it, or choose another folder with LOTWRIGHT_HOME.`,
  );
}

function lockFile(home: string): string {
  return join(home, 'lotwright.pid');
}
