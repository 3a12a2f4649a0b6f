import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { testDatabase } from '../support/database.js';
import { startServerProcess } from '../support/server-process.js';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-verify-'));

afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 }));

async function verify(env: Record<string, string>): Promise<{ code: number; output: string }> {
  const run = startServerProcess({ env, program: ['dist/scripts/verify.js'] });
  return { code: await run.ended, output: run.output() };
}

describe('npm run verify', () => {
  it('joins the server that runs on the same home and finds the demonstration whole', async () => {
    const env = { LOTWRIGHT_HOME: join(folder, 'home') };
    const server = startServerProcess({ env });
    try {
      const address = await server.serving();
      const { code, output } = await verify(env);
      expect(output).toMatch(/\d+ promises checked on \d+ rows in \d+ ms: all hold\./);
      expect(code).toBe(0);
      expect((await fetch(`${address}/health/ready`)).status).toBe(200);
    } finally {
      await server.interrupt();
    }
  });

  it('names the row that is wrong and ends with 1', async () => {
    const files = await testDatabase();
    try {
      await files.query(`insert into item (code, name, kind, measure) values ('A', 'A', 'material', 'counted')`);
      await files.query(`insert into lot (code, item_id, status, came_on)
        select 'LOT-7', id, 'released', '2026-03-02' from item`);
      await files.query('alter table lot disable trigger user; update lot set on_hand = 5');
      const { code, output } = await verify({ DATABASE_URL: files.ownerUrl });
      expect(output).toContain('  lot on hand, LOT-7: 5, not 0');
      expect(output).toMatch(/: 1 rows? (is|are) wrong\.$/m);
      expect(code).toBe(1);
    } finally {
      await files.drop();
    }
  });

  it('ends with 2 where there is no database to look at', async () => {
    const { code, output } = await verify({ DATABASE_URL: 'postgres://nobody@127.0.0.1:1/none' });
    expect(output).toContain('Cannot reach the database');
    expect(code).toBe(2);
  });
});
