import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

const MINUTES_MS = 60_000;
/** Somebody else may be installing something. */
const PATIENT = ['-qq', '-o', 'DPkg::Lock::Timeout=240'];

/**
 * Installs the first of these packages of Debian that can be had, where this is root on a Debian. Answers whether one was.
 * Not for files that run beside each other: apt-get serves one at a time.
 */
export function installFirst(...packages: string[]): boolean {
  if (process.getuid?.() !== 0 || !existsSync('/usr/bin/apt-get')) return false;
  const apt = (...args: string[]) =>
    spawnSync('apt-get', [...PATIENT, ...args], { stdio: 'ignore', timeout: 5 * MINUTES_MS }).status === 0;
  apt('update');
  return packages.some((name) => apt('install', '-y', '--no-install-recommends', name));
}
