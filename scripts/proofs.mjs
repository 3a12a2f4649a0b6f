import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

/**
 * What takes longer than `npm test` may: the files that have a larger version at that length, a thousand kills of the
 * ledger's servers, and mutants of the arithmetic. Each part is run, whatever came of the one before. Ends with 1 if any
 * failed.
 */
const { scripts } = JSON.parse(readFileSync('package.json', 'utf8'));
const AT_LENGTH = /from 'fast-check'|support\/scale\.js'/;
const files = readdirSync('test', { recursive: true, encoding: 'utf8' })
  .filter((name) => name.endsWith('.test.ts'))
  .map((name) => join('test', name))
  .filter((name) => AT_LENGTH.test(readFileSync(name, 'utf8')));

const parts = [
  { name: 'random runs and exact optima', command: ['npx', 'vitest', 'run', ...files], env: { LOTWRIGHT_PROOFS: '1' } },
  {
    name: 'kills',
    command: ['npm', 'run', '--silent', 'faults'],
    env: { FAULTS_OPERATIONS: '400000', FAULTS_KILLS: '1000' },
  },
  ...(scripts.mutants === undefined
    ? []
    : [{ name: 'mutants', command: ['npm', 'run', '--silent', 'mutants'], env: {} }]),
];

const failed = parts.filter(({ name, command, env }) => {
  console.log(`Proofs: ${name}`);
  const [program, ...args] = command;
  // what is said in the environment goes before
  const { status } = spawnSync(program, args, { stdio: 'inherit', env: { ...env, ...process.env } });
  return status !== 0;
});
for (const { name } of failed) console.log(`Proofs: ${name} failed`);
process.exitCode = failed.length > 0 ? 1 : 0;
