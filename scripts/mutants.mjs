import { spawnSync } from 'node:child_process';
import { existsSync, statSync } from 'node:fs';

/**
 * Makes mutants of the arithmetic and runs its tests against each. What does that is a quarter of all packages and no test
 * needs it, so it has a folder and a lock of its own and is installed when it is first wanted. The tests run in the vitest
 * of the project. Arguments are handed on.
 */
const INSTALLED = 'mutants/node_modules/.package-lock.json';
const STRYKER = 'mutants/node_modules/@stryker-mutator/core/bin/stryker.js';

function run(program, ...args) {
  const { status, error } = spawnSync(program, args, { stdio: 'inherit' });
  if (error) throw error;
  if (status !== 0) process.exit(status ?? 1);
}

const isInstalled =
  existsSync(INSTALLED) && statSync(INSTALLED).mtimeMs > statSync('mutants/package-lock.json').mtimeMs;
if (!isInstalled) run('npm', 'ci', '--prefix', 'mutants', '--no-audit', '--no-fund');
run(process.execPath, STRYKER, 'run', 'mutants/stryker.config.json', ...process.argv.slice(2));
