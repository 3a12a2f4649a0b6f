import { spawn } from 'node:child_process';

/**
 * Runs scripts of package.json at once, each by its name. Says of each how long it took, and of those that fail all they
 * said. Ends with 1 if any failed.
 */
const outcomes = await Promise.all(process.argv.slice(2).map(run));
process.exitCode = outcomes.every(Boolean) ? 0 : 1;

/** @param {string} name */
async function run(name) {
  const began = performance.now();
  const child = spawn('npm', ['run', '--silent', name], {
    stdio: ['ignore', 'pipe', 'pipe'],
    shell: process.platform === 'win32',
  });
  let said = '';
  child.stdout.on('data', (chunk) => (said += chunk));
  child.stderr.on('data', (chunk) => (said += chunk));
  const code = await new Promise((resolve, reject) => child.once('error', reject).once('close', resolve));
  const seconds = ((performance.now() - began) / 1000).toFixed(1);
  console.log(code === 0 ? `${name}: right, ${seconds} s` : `${said.trimEnd()}\n${name}: wrong, ${seconds} s`);
  return code === 0;
}
