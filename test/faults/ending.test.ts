import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Client } from 'pg';
import { expect, it } from 'vitest';
import { postmasterOf } from '../../src/platform/embedded/cluster.js';
import { lives } from '../../src/platform/embedded/processes.js';
import { startEmbeddedPostgres } from '../../src/platform/embedded-postgres.js';

it('a PostgreSQL that hangs is ended, and the next start recovers what was committed', async () => {
  const home = mkdtempSync(join(tmpdir(), 'lotwright-ending-'));
  try {
    const hanging = await startEmbeddedPostgres({ home });
    const client = new Client({ connectionString: hanging.ownerUrl });
    client.on('error', () => {});
    await client.connect();
    await client.query('create table kept as select 1 as one');
    const { pid } = postmasterOf(join(home, 'data'))!;
    // answers no signal but the last
    process.kill(pid, 'SIGSTOP');
    await hanging.stop();
    expect(lives(pid)).toBe(false);
    const again = await startEmbeddedPostgres({ home });
    const reader = new Client({ connectionString: again.ownerUrl });
    await reader.connect();
    expect((await reader.query('select one from kept')).rows).toEqual([{ one: 1 }]);
    await reader.end();
    await again.stop();
  } finally {
    rmSync(home, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 });
  }
});
