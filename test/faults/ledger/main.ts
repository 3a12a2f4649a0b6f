import { isWhole, printed } from './print.js';
import { runLedger } from './run.js';

/**
 * The long run: half of it on the server's own PostgreSQL, half on one apart. FAULTS_OPERATIONS, FAULTS_KILLS and
 * FAULTS_SEED change its size and its choices. Exits 1 where anything was lost, doubled or broken.
 */
async function main(): Promise<void> {
  const setting = (name: string, usual: number): number => {
    const value = Number(process.env[name] ?? usual);
    if (!Number.isSafeInteger(value) || value < 0) throw new Error(`${name} must be a whole number`);
    return value;
  };
  const operations = Math.ceil(setting('FAULTS_OPERATIONS', 60_000) / 2);
  const kills = Math.ceil(setting('FAULTS_KILLS', 30) / 2);
  const seed = setting('FAULTS_SEED', 1);
  for (const arrangement of ['own', 'apart'] as const) {
    const size = { arrangement, seed, operations, kills, clients: 32, lots: 300, replays: 3000 };
    const figures = await runLedger(size);
    process.stdout.write(`${printed(figures)}\n`);
    if (!isWhole(figures)) process.exitCode = 1;
  }
}

await main();
