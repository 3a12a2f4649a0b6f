import { Pool } from 'pg';
import { startTestServer } from '../support/server.js';
import { explosionRows } from './explosion.js';
import { ledgerRows } from './ledger.js';
import { pageRows } from './pages.js';
import { runParts } from './parts.js';
import { planningRows } from './planning.js';
import { queueRows } from './queue.js';
import { reorderRows } from './reorder.js';
import { saidRows } from './reorder-said.js';
import { simulationRows } from './reorder-simulation.js';
import { traceRows } from './trace.js';

/**
 * Prints what planning, pages and the ledger cost. Every figure stands beside what it is compared with, both measured in
 * this run; a slow machine is no fault. Ends with 1 only if a part could not be measured.
 */
async function main(): Promise<void> {
  const server = await startTestServer();
  const pool = new Pool({ connectionString: server.url });
  const stop = async () => {
    // its connections may still be closing when the server is gone
    pool.on('error', () => {});
    await pool.end();
    await server.stop();
    return [];
  };
  const broken = await runParts(
    [
      ['planning', planningRows],
      ['explosion', () => explosionRows(pool)],
      ['pages', () => pageRows(server)],
      ['reorder', () => reorderRows(server)],
      ['queue', () => queueRows(server)],
      ['stopping the server', stop],
      ['ledger', ledgerRows],
      ['trace', traceRows],
      ['a year of reordering', simulationRows],
      ['two years of what is new or uneven', async () => saidRows()],
    ],
    (line) => console.log(line),
  );
  if (broken.length === 0) return;
  console.log(`Not measured: ${broken.join(', ')}.`);
  process.exitCode = 1;
}

await main();
