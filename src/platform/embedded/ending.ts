import { setTimeout as pause } from 'node:timers/promises';
import { childrenOf, lives } from './processes.js';

/**
 * How PostgreSQL is asked to end, and how long it is given each time: in order, at once without writing everything down,
 * not at all. The data survive each of them; after the last two the next start recovers them.
 */
const WAYS: readonly [NodeJS.Signals, number][] = [
  ['SIGINT', 8000],
  ['SIGQUIT', 4000],
  ['SIGKILL', 2000],
];

/**
 * Ends the PostgreSQL of this process id, harder each time it does not, within 15 seconds. `isRunning` tells whether it
 * still is there. Answers whether it ended. Not for Windows, which has no such signals.
 */
export async function endPostmaster(pid: number, isRunning: () => boolean): Promise<boolean> {
  for (const [name, patienceMs] of WAYS) {
    // another process may have this id by now
    if (!isRunning()) return true;
    // a child that hangs would keep the files and the memory of the one that is gone; elsewhere than on Linux they notice
    const children = name === 'SIGKILL' ? childrenOf(pid) : [];
    for (const each of [pid, ...children]) signal(each, name);
    const deadline = Date.now() + patienceMs;
    while (isRunning() && Date.now() < deadline) await pause(50);
  }
  return !isRunning();
}

/** A process that has just ended needs no signal. */
function signal(pid: number, name: NodeJS.Signals): void {
  try {
    process.kill(pid, name);
  } catch (error) {
    if (lives(pid)) throw error;
  }
}
