import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, describe, expect, it } from 'vitest';
import { startServerProcess } from '../support/server-process.js';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-backups-'));
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 }));

const homeOf = (name: string) => ({ LOTWRIGHT_HOME: join(folder, name) });

async function run(script: string, env: Record<string, string>, ...args: string[]) {
  const process = startServerProcess({
    env: { ...env, INIT_CWD: folder },
    program: [`dist/scripts/${script}.js`, ...args],
  });
  return { code: await process.ended, output: process.output() };
}

describe('npm run backup and npm run restore', () => {
  it('take a workshop from a server that is killed to another home, whole', async () => {
    const server = startServerProcess({ env: homeOf('old') });
    const address = await server.serving();
    const sent = await fetch(`${address}/api/lots`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ item: 'FO-CEDAR', quantity: '1 kg', costE4: 1_000_000 }),
    });
    const { code } = (await sent.json()) as { code: string };
    const made = await run('backup', homeOf('old'), 'w.backup');
    expect(made.output).toMatch(/w\.backup: \d{4,} rows of \d+ tables and 0 photos, \d+ kB\.\n$/);
    expect(made.code).toBe(0);
    expect((await fetch(`${address}/health/ready`)).status).toBe(200);
    const again = await run('backup', homeOf('old'), 'w.backup');
    expect(again.output).toMatch(/is there already\. Choose another name, or say --overwrite\.\n$/);
    expect(again.code).toBe(1);
    server.child.kill('SIGKILL');
    await server.ended;

    const restored = await run('restore', homeOf('new'), 'w.backup');
    expect(restored.output).toMatch(/^Restored \d{4,} rows of \d+ tables .*; every promise of the ledger holds\.\n$/);
    expect(restored.code).toBe(0);
    const replaced = await run('restore', homeOf('new'), 'w.backup', '--replace');
    expect(replaced.output).toMatch(/What was there is kept: .*-before-restore\.backup/);
    expect(replaced.code).toBe(0);
    const verified = await run('verify', homeOf('new'));
    expect(verified.output).toMatch(/: all hold\.\n$/);
    expect(verified.code).toBe(0);

    // and it can be backed up where no server runs
    const copy = await run('backup', homeOf('new'), 'copy.backup');
    expect(copy.code).toBe(0);
    for (const file of ['w.backup', 'copy.backup'])
      expect(gunzipSync(readFileSync(join(folder, file))).includes(`\t${code}\t`), file).toBe(true);
  });

  it('refuse a file that is none, or is damaged, and make nothing', async () => {
    writeFileSync(join(folder, 'text.csv'), 'Order,SKU\n1,SP-CEDAR-100\n');
    const text = await run('restore', homeOf('none'), 'text.csv');
    expect(text.output).toMatch(/text\.csv is no backup of Lotwright, .* Nothing of it was taken\.\n$/);
    expect(text.code).toBe(1);
    const bytes = readFileSync(join(folder, 'w.backup'));
    writeFileSync(join(folder, 'cut.backup'), bytes.subarray(0, -100));
    const cut = await run('restore', homeOf('none'), 'cut.backup');
    expect(cut.output).toMatch(/cut\.backup is damaged or cut .* Nothing of it was taken\.\n$/);
    expect(cut.code).toBe(1);
    const nothing = await run('restore', homeOf('none'));
    expect(nothing.output).toMatch(/^npm run restore -- FILE/);
    expect(nothing.code).toBe(1);
    expect(existsSync(join(folder, 'none'))).toBe(false);
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  });
});
