import { Pool } from 'pg';
import { startTestServer } from '../support/server.js';
import { explosionRows } from './explosion.js';
import { ledgerRows } from './ledger.js';
import { pageRows } from './pages.js';
import { planningRows } from './planning.js';
import { queueRows } from './queue.js';
import { reorderRows } from './reorder.js';
import { simulationRows } from './reorder-simulation.js';
import { traceRows } from './trace.js';

/**
 * Prints what planning, pages and the ledger cost. Every figure stands beside what it is compared with, both measured in
 * this run; nothing here passes or fails, because a slow machine is no fault.
 */
async function main(): Promise<void> {
  console.log(planningRows().join('\n'));
  const server = await startTestServer();
  const pool = new Pool({ connectionString: server.url });
  try {
    console.log((await explosionRows(pool)).join('\n'));
    console.log((await pageRows(server)).join('\n'));
    console.log((await reorderRows(server)).join('\n'));
    console.log((await queueRows(server)).join('\n'));
  } finally {
    await pool.end();
    await server.stop();
  }
  console.log((await ledgerRows()).join('\n'));
  console.log((await traceRows()).join('\n'));
  console.log(simulationRows().join('\n'));
}

await main();
