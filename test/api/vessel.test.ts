import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Client } from 'pg';
import { DataSource } from 'typeorm';
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest';
import { readConfig } from '../../src/config.js';
import type { ChangedBatch, Committed, RunView } from '../../src/planning/planning.schema.js';
import { problemOfDatabase } from '../../src/platform/database-problems.js';
import { migrate, MIGRATIONS } from '../../src/platform/migrate.js';
import { poolOptions } from '../../src/platform/pool-options.js';
import { lookForVesselConflicts, printVesselConflicts, verifyLedger } from '../../src/verify.js';
import { startTestApp, type TestApp, TODAY } from '../support/app.js';
import { weighAll } from '../support/batch-acts.js';
import { backup, on, restore } from '../support/backups.js';
import { bareDatabase } from '../support/bare-database.js';
import { benchOf } from '../support/bench.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

const folder = mkdtempSync(join(tmpdir(), 'lotwright-vessel-'));
afterAll(() => rmSync(folder, { recursive: true }));

let app: TestApp;
/** As the role the application serves as. */
let role: Client;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  role = new Client({ connectionString: app.database.url });
  await role.connect();
  await role.query(`set lotwright.who = 'somebody'`);
});
afterEach(async () => {
  await role.end();
  await app.close();
});

const draft = async (weekStart: string): Promise<RunView> =>
  (await app.request<RunView>('POST', '/api/runs', { weekStart })).body;
const commit = (id: number) =>
  app.request<Committed & { code?: string; detail?: string }>('POST', `/api/runs/${id}/commit`);
const change = (run: number, code: string, body: unknown) =>
  app.request<ChangedBatch & { code: string }>('POST', `/api/runs/${run}/batches/${code}/change`, body);

/** One that is put down by hand. */
async function batch(code: string, vessel: string | null, day: string, emptiedOn: string, status = 'reserved') {
  await role.query(
    `with made as (
       insert into batch (code, formula_id, item_id, vessel_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
       select $1, f.id, f.item_id, (select id from vessel where code = $2), $3, $4, $4, $5, 1, 0, 0
       from formula f join item i on i.id = f.item_id where i.code = 'CEDAR-BULK' returning id)
     insert into peg (batch_id, position, quantity) select id, 1, 1 from made`,
    [code, vessel, status, day, emptiedOn],
  );
}

const conflicts = () => lookForVesselConflicts(app.database.url);
const taken = { code: '23P01', constraint: 'vessel_holds_one' };

describe('the database', () => {
  beforeEach(() => batch('HERE', 'JUG', '2026-03-10', '2026-03-12'));

  it('refuses another plan for a vessel on any of the same days', async () => {
    for (const [day, emptiedOn] of [
      ['2026-03-10', '2026-03-12'],
      ['2026-03-12', '2026-03-15'],
      ['2026-03-01', '2026-03-10'],
      ['2026-03-11', '2026-03-11'],
      ['2026-01-01', '2026-12-31'],
    ] as const)
      for (const status of ['planned', 'reserved'])
        await expect(batch('LATE', 'JUG', day, emptiedOn, status), `${day} to ${emptiedOn}`).rejects.toMatchObject(
          taken,
        );
  });

  it('takes it on the day before and the day after, in another vessel, and in none', async () => {
    await app.request('POST', '/api/vessels', { code: 'JUG-2', kind: 'jug', capacity: '5 kg' });
    await batch('BEFORE', 'JUG', '0001-01-01', '2026-03-09');
    await batch('AFTER', 'JUG', '2026-03-13', '9999-12-31');
    // the days of one vessel reach into no other's
    await batch('ELSEWHERE', 'JUG-2', '0001-01-01', '9999-12-31');
    for (const code of ['BENCH-1', 'BENCH-2']) await batch(code, null, '2026-03-10', '2026-03-12');
    expect(await conflicts()).toEqual([]);
  });

  it('refuses a move into its way, and nobody can say that it may', async () => {
    await batch('NEXT', 'JUG', '2026-03-20', '2026-03-22');
    await expect(role.query(`update batch set day = '2026-03-12' where code = 'NEXT'`)).rejects.toMatchObject(taken);
    await expect(role.query(`update batch set emptied_on = '2026-03-20' where code = 'HERE'`)).rejects.toMatchObject(
      taken,
    );
    await expect(role.query('update batch set shares_vessel = true')).rejects.toMatchObject({ code: '42501' });
    await expect(role.query('insert into batch (shares_vessel) values (true)')).rejects.toMatchObject({
      code: '42501',
    });
  });

  it('lets two change their days in one act, and looks at the end of it', async () => {
    await batch('NEXT', 'JUG', '2026-03-20', '2026-03-22');
    await role.query('begin');
    await role.query(
      `update batch set day = '2026-03-20', ready_on = '2026-03-20', emptied_on = '2026-03-22' where code = 'HERE'`,
    );
    await role.query(
      `update batch set day = '2026-03-10', ready_on = '2026-03-10', emptied_on = '2026-03-12' where code = 'NEXT'`,
    );
    await role.query('commit');
    expect(await app.database.query(`select code from batch order by day`)).toEqual([
      { code: 'NEXT' },
      { code: 'HERE' },
    ]);
  });

  it('has what it refuses said in words', async () => {
    const refused: unknown = await batch('LATE', 'JUG', '2026-03-11', '2026-03-20').catch((error: unknown) => error);
    expect(problemOfDatabase(refused)).toMatchObject({
      status: 409,
      code: 'vessel-taken',
      message: 'The vessel holds another batch from 2026-03-10 to 2026-03-12, and holds one thing at a time.',
    });
  });

  it('takes the place of one that was cancelled', async () => {
    await role.query(`update batch set status = 'cancelled' where code = 'HERE'`);
    await batch('INSTEAD', 'JUG', '2026-03-10', '2026-03-12');
    expect(await conflicts()).toEqual([]);
  });

  it('lets a weighing be taken back wherever another is planned, and forgets that once the batch is put elsewhere', async () => {
    await role.query(`update batch set status = 'weighed' where code = 'HERE'`);
    await batch('LATE', 'JUG', '2026-03-12', '2026-03-14');
    await role.query(`update batch set status = 'reserved' where code = 'HERE'`);
    expect(await conflicts()).toEqual([
      { vessel: 'JUG', first: 'HERE', other: 'LATE', from: '2026-03-12', to: '2026-03-12' },
    ]);
    expect(await app.database.violations()).toEqual([]);
    await expect(role.query(`update batch set emptied_on = '2026-03-13' where code = 'HERE'`)).rejects.toMatchObject(
      taken,
    );
    await role.query(`update batch set emptied_on = '2026-03-11' where code = 'HERE'`);
    expect(await app.database.query('select distinct shares_vessel from batch')).toEqual([{ shares_vessel: false }]);
    expect(await conflicts()).toEqual([]);
  });
});

describe('two plans for one vessel and the same days', () => {
  it('are committed at once: one is kept, one is refused with a sentence', async () => {
    const run = await draft('2026-03-09');
    const [twin] = await app.database.query<{ id: number }>(
      `insert into run (week_start, planned_on, status, snapshot_hash, snapshot, proposal)
       select week_start, planned_on, status, snapshot_hash, snapshot, proposal from run where id = $1 returning id`,
      [run.id],
    );
    const answers = await Promise.all([commit(run.id), commit(twin!.id)]);
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
    expect(answers.find(({ status }) => status === 409)!.body.detail).toMatch(
      /^Stock, orders or formulas have changed/,
    );
    expect(await app.database.query('select code from batch')).toEqual([{ code: 'B26071-01' }]);
  });

  it('in one draft are refused as a whole, with the vessel and the days', async () => {
    const run = await draft('2026-03-09');
    // no plan says so; a fault in the planning might
    await app.database.query(
      `update run set proposal = jsonb_set(proposal, '{batches}', proposal -> 'batches' || (
         select jsonb_agg(jsonb_set(jsonb_set(b, '{key}', '"again"'), '{madeFor}', '[]') || '{"inputs": []}')
         from jsonb_array_elements(proposal -> 'batches') b where b ->> 'vessel' = 'JUG')) where id = $1`,
      [run.id],
    );
    const { body } = await commit(run.id);
    expect(body).toMatchObject({ status: 409, code: 'vessel-taken', vessel: 'JUG' });
    expect(body.detail).toMatch(/^B26071-0\d would need JUG while B26071-0\d is in it, 2026-03-12 to 2026-03-\d\d\.$/);
    expect(await app.database.query('select from batch')).toEqual([]);
  });

  it("as drafts are in nobody's way", async () => {
    await draft('2026-03-09');
    await order(app, '1002', 6, '2026-03-20');
    await draft('2026-03-09');
    expect(await app.database.query(`select count(*) from run where status = 'draft'`)).toEqual([{ count: 2 }]);
    expect(await app.database.query('select from batch')).toEqual([]);
  });
});

describe('a batch that is moved', () => {
  it('onto a vessel that is taken is refused, with the vessel, the other and its days', async () => {
    const first = (await commit((await draft('2026-03-09')).id)).body;
    await order(app, '1002', 6, '2026-04-10');
    const next = (await commit((await draft('2026-03-30')).id)).body;
    const pour = next.batches.find(({ item }) => item === 'CEDAR-BULK')!;
    const before = await app.database.query('select * from batch order by id');
    const answer = await change(next.id, pour.code, { day: '2026-03-16' });
    expect(answer).toMatchObject({
      status: 409,
      body: { code: 'vessel-taken', vessel: 'JUG', batch: first.batches[0]!.code },
    });
    expect(answer.text).toMatch(
      new RegExp(`${pour.code} would need JUG while B26071-01 is in it, 2026-03-12 to 2026-03-\\d\\d\\.`),
    );
    expect(await app.database.query('select * from batch order by id')).toEqual(before);
  });

  it('to the days of another and into another vessel at once is taken', async () => {
    await app.request('POST', '/api/vessels', { code: 'JUG-2', kind: 'jug', capacity: '5 kg' });
    await commit((await draft('2026-03-09')).id);
    await order(app, '1002', 6, '2026-04-10');
    const next = (await commit((await draft('2026-03-30')).id)).body;
    const pour = next.batches.find(({ item }) => item === 'CEDAR-BULK')!;
    const at = { day: '2026-03-12', vessel: 'JUG-2' };
    expect(await change(next.id, pour.code, at)).toMatchObject({ status: 200, body: at });
    expect(await conflicts()).toEqual([]);
  });
});

describe('what happened otherwise than planned', () => {
  it('is written down, and shown on the week and by verify', async () => {
    const pour = (await commit((await draft('2026-03-09')).id)).body.batches[0]!.code;
    await order(app, '1002', 6, '2026-04-10');
    const run = (await commit((await draft('2026-03-30')).id)).body;
    const next = run.batches.find(({ item }) => item === 'CEDAR-BULK')!;
    const bench = benchOf(app);
    const { output } = await weighAll(bench, pour);
    // poured today instead of next week, and two days later the next is to be poured into the same jug
    const day = '2026-03-04';
    expect(await change(run.id, next.code, { day })).toMatchObject({ status: 200, body: { vessel: 'JUG' } });
    const { batch: poured } = await bench.finish(pour, output, { lossReason: 'as it goes' });
    expect(poured).toMatchObject({ status: 'resting', day: TODAY });
    const [conflict] = await conflicts();
    expect(conflict).toMatchObject({ vessel: 'JUG', first: pour, other: next.code, from: day });
    expect((await verifyLedger(app.database.url)).filter(({ wrong }) => wrong > 0)).toEqual([]);
    expect(printVesselConflicts(await conflicts())).toBe(
      `Two in one vessel, as it was written down (no promise is broken by it; look who has to move):\n` +
        `  JUG: ${pour} and ${next.code}, ${day} to ${conflict!.to}`,
    );
    const { text } = await app.request('GET', '/week/2026-03-02');
    expect(text).toContain('<h2>Two in one vessel</h2>');
    expect(text).toContain(`JUG holds ${pour} and ${next.code}, `);
    expect((await app.request('GET', '/week/2026-06-01')).text).not.toContain('Two in one vessel');
  });
});

describe('what stood in the way of another before that was refused', () => {
  it('keeps its days, is marked and shown, and is refused only once it is put elsewhere', async () => {
    const owner = await new DataSource({ ...poolOptions(app.database.ownerUrl), migrations: MIGRATIONS }).initialize();
    const refused = `select from pg_constraint where conname = 'vessel_holds_one'`;
    while ((await owner.query(refused)).length > 0) await owner.undoLastMigration({ transaction: 'each' });
    await owner.destroy();
    const days: [string, string, string][] = [
      ['A', '2026-03-10', '2026-03-12'],
      ['B', '2026-03-12', '2026-03-14'],
      // in the way of B alone, which is marked: so the third may stay
      ['C', '2026-03-13', '2026-03-15'],
    ];
    for (const [code, day, emptiedOn] of days) await batch(code, 'JUG', day, emptiedOn);
    const before = join(folder, 'before.backup');
    await backup(app.database, before);
    await migrate(app.database.ownerUrl);
    const kept = 'select code, day::text, emptied_on::text, shares_vessel from batch order by code';
    const marked = days.map(([code, day, emptied_on]) => ({ code, day, emptied_on, shares_vessel: code === 'B' }));
    expect(await app.database.query(kept)).toEqual(marked);
    // a backup of then and one of now are put back as they are
    const now = join(folder, 'now.backup');
    await backup(app.database, now);
    for (const file of [before, now])
      await on(bareDatabase(), async (empty) => {
        await restore(empty, file, { ...readConfig({}), home: folder });
        expect(await empty.query(kept)).toEqual(marked);
      });
    expect((await conflicts()).map(({ first, other }) => first + other)).toEqual(['AB', 'BC']);
    expect(await app.database.violations()).toEqual([]);
    await expect(
      role.query(`update batch set day = '2026-03-11', ready_on = '2026-03-11' where code = 'B'`),
    ).rejects.toMatchObject(taken);
    await role.query(
      `update batch set day = '2026-03-16', ready_on = '2026-03-16', emptied_on = '2026-03-18' where code = 'B'`,
    );
    expect(await conflicts()).toEqual([]);
    await expect(role.query(`update batch set emptied_on = '2026-03-16' where code = 'C'`)).rejects.toMatchObject(
      taken,
    );
  });
});
