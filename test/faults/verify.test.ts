import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import type { ChangedBatch, RunView } from '../../src/planning/planning.schema.js';
import { asOwner } from '../support/as-owner.js';
import { testDatabase } from '../support/database.js';
import { startServerProcess } from '../support/server-process.js';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-verify-'));

afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 }));

async function verify(env: Record<string, string>): Promise<{ code: number; output: string }> {
  const run = startServerProcess({ env, program: ['dist/scripts/verify.js'] });
  return { code: await run.ended, output: run.output() };
}

interface Refusal {
  code: string;
  detail: string;
}

async function post<Body>(url: string, body: unknown = {}): Promise<{ status: number; body: Body & Refusal }> {
  const sent = { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) };
  const answer = await fetch(url, sent);
  return { status: answer.status, body: (await answer.json()) as Body & Refusal };
}

/** Of two answers that came at once: what was refused, where the other was not. */
function refusedOne(answers: { status: number; body: Refusal }[]): Refusal {
  expect(answers.map(({ status }) => status).sort(), JSON.stringify(answers)).toEqual([200, 409]);
  return answers.find(({ status }) => status === 409)!.body;
}

/** Two plans for the same vessels and days, as two people might have made them before either was kept. */
async function commitTwice(address: string, home: string): Promise<number> {
  const { body: run } = await post<RunView>(`${address}/api/runs`);
  const [twin] = await asOwner(
    home,
    `insert into run (week_start, planned_on, status, snapshot_hash, snapshot, proposal, created_by)
     select week_start, planned_on, status, snapshot_hash, snapshot, proposal, 'somebody' from run where id = ${run.id}
     returning id`,
  );
  const ids = [run.id, Number(twin!['id'])];
  const answers = await Promise.all(ids.map((id) => post(`${address}/api/runs/${id}/commit`)));
  expect(refusedOne(answers).detail).toMatch(/^Stock, orders or formulas have changed since this draft was made\./);
  return ids[answers.findIndex(({ status }) => status === 200)]!;
}

/** Two batches moved into one vessel on one day, each of which might go there alone. */
async function moveTwoIntoOne(address: string, home: string, run: number): Promise<void> {
  const change = (code: unknown, body: object) =>
    post<ChangedBatch>(`${address}/api/runs/${run}/batches/${String(code)}/change`, { why: 'a test', ...body });
  // nothing is filled from them any more, so nothing holds them to their days
  for (const { code } of await asOwner(home, `select code from batch where run_id = ${run} and vessel_id is null`))
    expect((await change(code, { cancel: true })).status).toBe(200);
  const pours = await asOwner(
    home,
    `select b.code, (select max(code) from vessel o where o.kind = v.kind and o.capacity_mg >= b.put_in_mg) as vessel
     from batch b join vessel v on v.id = b.vessel_id where b.run_id = ${run} and v.kind = 'jug' order by b.id limit 2`,
  );
  expect(pours).toHaveLength(2);
  const vessel = pours[0]!['vessel'];
  for (const { code } of pours)
    expect(await change(code, { day: MOVED_TO, vessel, preview: true })).toMatchObject({ status: 200 });
  const answers = await Promise.all(pours.map(({ code }) => change(code, { day: MOVED_TO, vessel })));
  const { code, detail } = refusedOne(answers);
  expect(code).toBe('vessel-taken');
  expect(detail).toMatch(
    new RegExp(`^B\\S+ would need ${String(vessel)} while B\\S+ is in it, ${MOVED_TO} to \\d{4}-\\d\\d-\\d\\d\\.$`),
  );
}

const TODAY = '2026-11-25';
const MOVED_TO = '2026-12-08';

describe('npm run verify', () => {
  it('joins the server that runs on the same home, finds its data whole, and no two batches in one vessel', async () => {
    const home = join(folder, 'home');
    const env = { LOTWRIGHT_HOME: home, LOTWRIGHT_TODAY: TODAY };
    const server = startServerProcess({ env });
    try {
      const address = await server.serving();
      await moveTwoIntoOne(address, home, await commitTwice(address, home));
      const { code, output } = await verify(env);
      expect(output).toMatch(/\d+ promises checked on \d+ rows in \d+ ms: all hold\./);
      expect(output).toMatch(/vessel held once +[1-9]\d* rows .* holds\n/);
      expect(output).not.toContain('Two in one vessel');
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

describe('a formula for a vessel that nobody has', () => {
  it('holds neither the server that plans with it nor the next that starts', async () => {
    const home = join(folder, 'another');
    const env = { LOTWRIGHT_HOME: home, LOTWRIGHT_TODAY: TODAY };
    const server = startServerProcess({ env });
    try {
      const address = await server.serving();
      // as it was written down before that was refused
      await asOwner(
        home,
        `alter table formula disable trigger user;
         update formula set vessel_kind = 'cauldron' where item_id = (select id from item where code = 'BLK-SP-FIG');
         alter table formula enable trigger user`,
      );
      const order = { channel: 'wholesale', number: 'LARGE-1', lines: [{ code: 'SP-FIG-100', quantity: 500 }] };
      expect(await post(`${address}/api/orders`, order)).toMatchObject({ status: 201 });
      const { status, body } = await post<RunView>(`${address}/api/runs`);
      expect(status).toBe(201);
      const poured = body.proposal.batches.filter(({ item }) => item === 'BLK-SP-FIG');
      expect(poured.length).toBeGreaterThan(0);
      // as many as the largest batch of the formula asks for, and no day for any
      expect(poured.length).toBeLessThan(20);
      for (const { day, heldUpBy } of poured) expect([day, heldUpBy]).toEqual([null, 'too-large']);
      expect((await fetch(`${address}/health/live`)).status).toBe(200);
    } finally {
      expect(await server.interrupt()).toBe(0);
    }
    const next = startServerProcess({ env });
    try {
      const address = await next.serving();
      await expect.poll(next.output, { timeout: 60_000 }).toContain("Week's plan, ");
      expect((await fetch(`${address}/health/ready`)).status).toBe(200);
    } finally {
      expect(await next.interrupt()).toBe(0);
    }
  });
});
