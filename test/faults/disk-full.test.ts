import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startServerProcess } from '../support/server-process.js';
import type { ServerProcess } from '../support/server-process.js';
import { smallDisk } from '../support/small-disk.js';
import type { SmallDisk } from '../support/small-disk.js';

const MB = 1024 * 1024;
/** A workshop with nothing in it takes 63 MB of it. */
const DISK_BYTES = 160 * MB;
/** Room for PostgreSQL, and too little for acts where we run it. */
const SCARCE_BYTES = 24 * MB;
const ACTS_MAX = 3000;

const FULL = /^The disk is full: nothing was written\. Free some space, then do it again; /;

let disk: SmallDisk;
const elsewhere = mkdtempSync(join(tmpdir(), 'lotwright-elsewhere-'));
const processes: ServerProcess[] = [];

beforeAll(async () => void (disk = await smallDisk(DISK_BYTES)));
afterAll(async () => {
  for (const server of processes) await server.interrupt();
  await disk?.gone();
  rmSync(elsewhere, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 });
});

function start(env: Record<string, string>, prefix?: string[]): ServerProcess {
  const server = startServerProcess({ env: { LOTWRIGHT_DEMO: '0', LOTWRIGHT_TODAY: '2026-11-25', ...env }, prefix });
  processes.push(server);
  return server;
}
/** On the small disk, with the PostgreSQL that comes along. */
const startThere = () => start({ LOTWRIGHT_HOME: join(disk.folder, 'home') }, disk.prefix);

/** The same database for a server that did not start it, and does not see its disk. */
function databaseUrl(postgres: string): string {
  const home = join(postgres, 'home');
  const [, , , port] = readFileSync(join(home, 'data', 'postmaster.pid'), 'utf8').split('\n');
  return `postgres://lotwright:${readFileSync(join(home, 'password'), 'utf8')}@127.0.0.1:${port}/lotwright`;
}

const kept: string[] = [];

/** Writes one row; whatever was answered 201 must be there for ever. */
async function act(address: string): Promise<{ status: number; detail: string }> {
  const code = `V-${kept.length + 1}`;
  const answer = await fetch(`${address}/api/vessels`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ code, kind: 'pot', capacity: '1 kg' }),
  });
  if (answer.status === 201) kept.push(code);
  const { detail = '' } = (await answer.json()) as { detail?: string };
  return { status: answer.status, detail };
}

async function ready(address: string): Promise<{ status: number; detail?: string }> {
  const answer = await fetch(`${address}/health/ready`);
  return { status: answer.status, detail: ((await answer.json()) as { detail?: string }).detail };
}

/** What is there can be read, by programs and on pages. */
async function expectReadable(address: string): Promise<void> {
  const read = await fetch(`${address}/api/vessels`);
  const { vessels } = (await read.json()) as { vessels: { code: string }[] };
  expect(vessels.map(({ code }) => code).sort()).toEqual(kept.toSorted());
  const page = await fetch(`${address}/week/2026-11-23`, { headers: { accept: 'text/html' } });
  expect(page.status).toBe(200);
}

const refused = (status: number) => ({ status, detail: expect.stringMatching(FULL) as string });

it('on a full disk acts are refused with the reason, reading goes on, and with room again all is as it was', async () => {
  const own = startThere();
  const address = await own.serving();
  expect(await act(address)).toMatchObject({ status: 201 });
  const other = start({ DATABASE_URL: databaseUrl(disk.seen), LOTWRIGHT_HOME: elsewhere });
  const foreign = await other.serving();

  // where we run PostgreSQL, acts stop before it has no room itself; who cannot see its disk goes on
  disk.fill(SCARCE_BYTES);
  await expect.poll(() => act(address), { timeout: 10_000 }).toMatchObject(refused(507));
  expect(await ready(address)).toMatchObject(refused(503));
  const form = await fetch(`${address}/week/2026-11-23/plan`, {
    method: 'POST',
    headers: { accept: 'text/html', 'content-type': 'application/x-www-form-urlencoded' },
    redirect: 'manual',
  });
  expect(form.status).toBe(507);
  expect(await form.text()).toMatch(/<h1>The disk is full<\/h1>[^]*The disk is full: nothing was written\./);
  await expectReadable(address);
  expect((await ready(foreign)).status).toBe(200);
  expect((await act(foreign)).status).toBe(201);

  // until the database refuses one
  disk.fill(0);
  let last = await act(foreign);
  for (let acts = 0; acts < ACTS_MAX && last.status === 201; acts++) last = await act(foreign);
  expect(last).toEqual(refused(507));
  expect(await ready(foreign)).toMatchObject(refused(503));
  expect(await act(foreign)).toEqual(refused(507));
  await expectReadable(foreign);
  await expectReadable(address);

  disk.free();
  await expect.poll(() => ready(address), { timeout: 10_000 }).toMatchObject({ status: 200 });
  await expect.poll(() => ready(foreign), { timeout: 10_000 }).toMatchObject({ status: 200 });
  for (const each of [address, foreign]) expect((await act(each)).status).toBe(201);

  expect(await other.interrupt()).toBe(0);
  disk.fill(0);
  await own.interrupt();
  const full = startThere();
  expect(await full.ended).toBe(1);
  expect(full.output()).toMatch(
    /^The embedded PostgreSQL does not start, because the disk that holds \S+ is full \(\d+ kB are free\)[^\n]*\. Free some space, then start again\.\n$/,
  );

  disk.free();
  const again = startThere();
  await expectReadable(await again.serving());
  expect(await act(await again.serving())).toMatchObject({ status: 201 });
  await expectReadable(await again.serving());
});
