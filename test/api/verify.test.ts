import { Client } from 'pg';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { readConfig } from '../../src/config.js';
import type { Committed, RunView } from '../../src/planning/planning.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { loadDemoIfEmpty } from '../../src/terminal.js';
import { printChecks, verifyLedger } from '../../src/verify.js';
import type { Check } from '../../src/verify.js';
import { startTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { testDatabase } from '../support/database.js';
import type { TestDatabase } from '../support/database.js';
import { liveBatches } from '../support/batch-acts.js';
import { FAULTS } from '../support/ledger-faults.js';
import { recallOnce } from '../support/recall-acts.js';

/** The day of the demonstration. */
const TODAY = '2026-11-25';

let app: TestApp;
beforeAll(async () => {
  app = await startTestApp({ today: TODAY });
  await oneOfEachAct();
});
afterAll(() => app.close());

async function done<Body>(url: string, body?: unknown): Promise<Body> {
  const answer = await app.request<Body>('POST', url, body);
  expect([200, 201], `${url} ${answer.text}`).toContain(answer.status);
  return answer.body;
}

const one = async <Row>(sql: string, values: unknown[] = []) => {
  const [row] = await app.database.query<Row>(sql, values);
  expect(row, sql).toBeDefined();
  return row!;
};

/** The demonstration with its week committed, and one of each act, so that every promise has rows it holds for. */
async function oneOfEachAct(): Promise<void> {
  await loadDemoIfEmpty(app.app, { ...readConfig({}), demo: true });
  const run = await done<RunView>('/api/runs', {});
  const { batches } = await done<Committed>(`/api/runs/${run.id}/commit`);
  expect(batches.length).toBeGreaterThan(10);
  await weighAndShip();
  await liveBatches(app);
  await checkAndKeep();
  const { code } = await done<LotView>('/api/lots', { item: 'FO-CEDAR', quantity: '1 kg', costE4: 1_000_001 });
  const scrap = await done<{ movement: number }>(`/api/lots/${code}/scrap`, { quantity: '10 g', reason: 'spilt' });
  await done(`/api/movements/${scrap.movement}/correct`, { reason: 'was another lot' });
  await done(`/api/lots/${code}/samples`, { quantity: '3 g', reason: 'kept' });
  await done('/api/counts', { reason: 'shelf', lots: [{ lot: code, counted: '990 g' }] });
  await done(`/api/lots/${code}/split`, { quantity: '100 g', place: 'the fair', reason: 'a fair' });
  await done(`/api/lots/${code}/revaluation`, { amountE4: 777, reason: 'freight' });
  await orderAPack();
  for (const to of ['held', 'released', 'held']) await done(`/api/lots/${code}/status`, { to, why: 'smells odd' });
  await recallOnce(app);
}

/** A number, weights that were judged, and a sample of one of the batches that were made. */
async function checkAndKeep(): Promise<void> {
  const made = await one<{ batch: string; lot: string }>(
    `select b.code as batch, l.code as lot from batch_output o join batch b on b.id = o.batch_id
       join lot l on l.id = o.lot_id join item i on i.id = l.item_id
     where o.kind = 'made' and l.on_hand > 1000 or (o.kind = 'made' and l.on_hand > 1 and i.measure = 'counted') limit 1`,
  );
  const place = { place: 'cabinet', discardOn: '2029-01-01' };
  const { measure } = await one<{ measure: string }>(
    `select i.measure from lot l join item i on i.id = l.item_id where l.code = $1`,
    [made.lot],
  );
  const quantity = measure === 'counted' ? 1 : '1 g';
  await done(`/api/batches/${made.batch}/samples`, { lot: made.lot, quantity, ...place });
  const candle = await one<{ batch: string; grams: string }>(
    `select b.code as batch, substring(i.code from '[0-9]+$') as grams from batch b join item i on i.id = b.item_id
     where i.family = 'candle' and i.kind = 'product' and b.status not in ('planned', 'cancelled') limit 1`,
  );
  const url = `/api/batches/${candle.batch}/checks`;
  await done(url, { kind: 'candle-flame', value: 25 });
  await done(url, { kind: 'candle-weights', weights: Array<string>(12).fill(`${Number(candle.grams) + 1} g`) });
}

async function orderAPack(): Promise<void> {
  const { supplier, pack } = await one<{ supplier: string; pack: string }>(
    `select s.code as supplier, p.code as pack from pack p join supplier s on s.id = p.supplier_id order by p.id limit 1`,
  );
  const body = { supplier, lines: [{ pack, packs: 5 }], freightE4: 70_001 };
  const { code } = await done<{ code: string }>('/api/purchase-orders', body);
  await done(`/api/purchase-orders/${code}/send`, { sentBy: 'download' });
  await done(`/api/purchase-orders/${code}/confirm`, { expectedOn: '2026-12-09' });
}

async function weighAndShip(): Promise<void> {
  const input = await one<{ batch: string; position: number; lot: string; item: string; quantity: number }>(
    `select b.code as batch, i.position, (select code from item where id = i.item_id) as item, l.code as lot, r.quantity from reservation r join lot l on l.id = r.lot_id
       join batch_input i on i.id = r.batch_input_id join batch b on b.id = i.batch_id
     where i.step = 'make' and r.quantity = i.quantity order by r.id limit 1`,
  );
  await done(`/api/batches/${input.batch}/weighings`, {
    position: input.position,
    lot: input.lot,
    quantity: input.quantity,
  });
  const { code } = await done<LotView>('/api/lots', { item: input.item, quantity: '1 g' });
  await done(`/api/batches/${input.batch}/weighings`, {
    position: input.position,
    lot: code,
    quantity: '1.5 g',
    further: true,
    off: true,
    found: true,
  });
  const line = await one<{ channel: string; number: string; code: string; occurrence: number; lot: string }>(
    `select o.channel, o.number, ol.shop_code as code, ol.occurrence, l.code as lot from reservation r
       join lot l on l.id = r.lot_id join order_line ol on ol.id = r.order_line_id join customer_order o on o.id = ol.order_id
       join item i on i.id = ol.item_id
     where r.open > 0 and coalesce(ol.not_before, '${TODAY}') <= '${TODAY}'
       and (l.expires_on is null or l.expires_on >= date '${TODAY}' + i.owed_life_days) and l.value_e4 > 0
     order by r.id limit 1`,
  );
  const { lot, ...orderLine } = line;
  const { channel, number, ...sold } = orderLine;
  await done('/api/shipments', { channel, number, lines: [{ ...sold, lot, quantity: 1 }] });
  await done('/api/returns', { orderLine, lot, quantity: 1, reason: 'leaks', place: 'returns' });
}

describe('npm run verify', () => {
  it('finds nothing wrong, says what it checked, and every promise had rows to hold for', async () => {
    const checks = await verifyLedger(app.database.url);
    const text = printChecks(checks);
    expect(checks.filter(({ wrong }) => wrong > 0)).toEqual([]);
    expect(checks.filter(({ checked }) => checked === 0)).toEqual([]);
    const { n } = await one<{ n: number }>('select count(*) as n from movement');
    expect(checks.find(({ rule }) => rule === 'ledger replayed')!.checked).toBe(n);
    expect(text.split('\n').filter((row) => /^ {2}[a-z -]+ +\d+ rows? +\d+\.\d ms {2}holds$/.test(row))).toHaveLength(
      checks.length,
    );
    const rows = checks.reduce((sum, { checked }) => sum + checked, 0);
    expect(text).toMatch(new RegExp(`\\n${checks.length} promises checked on ${rows} rows in \\d+ ms: all hold\\.$`));
  });

  it('looks at one moment while others go on', async () => {
    const lot = await done<LotView>('/api/lots', { item: 'FO-CEDAR', quantity: '1 kg' });
    const acts = Promise.all(
      Array.from({ length: 30 }, (_, n) => done(`/api/lots/${lot.code}/scrap`, { quantity: 1 + n, reason: 'spilt' })),
    );
    for (let look = 0; look < 5; look++)
      expect((await verifyLedger(app.database.url)).filter(({ wrong }) => wrong > 0)).toEqual([]);
    await acts;
  });

  describe('finds a planted fault:', () => {
    let client: Client;
    const checks = async () => {
      const { rows } = await client.query<Check>(
        'select rule, checked::int, wrong::int, took_ms as "tookMs", faults from ledger_checks()',
      );
      return rows;
    };

    beforeAll(async () => {
      client = new Client({ connectionString: app.database.ownerUrl, options: '-c lotwright.who=test' });
      await client.connect();
      await client.query('begin');
      await client.query(LOOSEN);
      await client.query('savepoint loosened');
    });
    afterEach(() => client.query('rollback to savepoint loosened'));
    afterAll(async () => {
      await client.query('rollback');
      await client.end();
    });

    it.each(FAULTS)('%s (%#)', async (rule, plant) => {
      expect((await checks()).filter(({ wrong }) => wrong > 0)).toEqual([]);
      const { rowCount } = await client.query(plant);
      expect(rowCount).toBeGreaterThan(0);
      const found = await checks();
      const check = found.find((each) => each.rule === rule)!;
      expect(check.wrong).toBeGreaterThan(0);
      expect(check.faults[0]!.subject).not.toBe('');
      const text = printChecks(found);
      expect(text).toContain(`  ${rule}, ${check.faults[0]!.subject}: `);
      expect(text).toMatch(/: \d+ rows? (is|are) wrong\.$/);
    });

    it('of every kind there is', async () => {
      const rules = (await checks()).map(({ rule }) => rule);
      expect(new Set(FAULTS.map(([rule]) => rule))).toEqual(new Set(rules));
    });

    it('and names fifty of many', async () => {
      await client.query('update lot set on_hand = on_hand + 1');
      const found = await checks();
      const wrong = found.reduce((sum, check) => sum + check.wrong, 0);
      const text = printChecks(found);
      const named = text.slice(text.indexOf('Wrong:\n') + 7, text.indexOf('\n\n', text.indexOf('Wrong:'))).split('\n');
      expect(named).toHaveLength(51);
      expect(named[50]).toBe(`  and ${wrong - 50} more`);
      expect(found[0]).toMatchObject({ rule: 'lot on hand', faults: { length: 50 } });
    });
  });
});

/** Whoever owns the tables can take the guards away: all triggers of ours, CHECKs, foreign keys and what keeps rows apart. */
const LOOSEN = `
  do $$ declare t record; begin
    for t in select c.oid::regclass as name from pg_class c where c.relnamespace = 'public'::regnamespace and c.relkind = 'r'
    loop execute format('alter table %s disable trigger user', t.name); end loop;
    for t in select conrelid::regclass as name, conname from pg_constraint
      where connamespace = 'public'::regnamespace and contype in ('c', 'f', 'x') and conrelid <> 0
    loop execute format('alter table %s drop constraint %I', t.name, t.conname); end loop;
  end $$`;

describe('the role the application serves as', () => {
  let files: TestDatabase;
  let client: Client;
  beforeAll(async () => {
    files = await testDatabase();
    await files.query(`insert into item (code, name, kind, measure) values ('A', 'A', 'material', 'counted')`);
    await files.query(
      `insert into lot (code, item_id, status, came_on) select 'L', id, 'released', '2026-03-02' from item`,
    );
    await files.query(
      `insert into movement (lot_id, cause, quantity, done_on) select id, 'receipt', 9, '2026-03-02' from lot`,
    );
    client = new Client({ connectionString: files.url });
    await client.connect();
    await client.query(`select set_config('lotwright.who', 'test', false)`);
  });
  afterAll(async () => {
    await client.end();
    await files.drop();
  });

  const REFUSED_RIGHT = [
    'update movement set quantity = 1',
    'update movement set value_e4 = 1',
    'delete from movement',
    'truncate movement',
    `insert into movement (lot_id, cause, quantity, done_on, recorded_at) select id, 'count', 1, '2026-03-02', now() from lot`,
    `insert into movement (lot_id, cause, quantity, done_on, created_by) select id, 'count', 1, '2026-03-02', 'else' from lot`,
    `insert into movement (lot_id, cause, quantity, done_on, taken) select id, 'count', 1, '2026-03-02', 1 from lot`,
    'update lot set on_hand = 1',
    'update lot set reserved = 1',
    'update lot set value_e4 = 1',
    'update lot set expires_on = null',
    `update lot set first_status = 'held'`,
    `insert into lot (code, item_id, status, came_on, on_hand) select 'M', id, 'released', '2026-03-02', 5 from item`,
    `insert into lot (code, item_id, status, came_on, value_e4) select 'M', id, 'released', '2026-03-02', 5 from item`,
    'delete from lot',
    'truncate lot cascade',
    'update reservation set open = 0',
    'update reservation set consumed = 1',
    'delete from reservation',
    'truncate reservation',
    'update batch set promised = 0',
    'update delivery_line set promised = 0',
    'update order_line set from_stock = 0',
    'update order_line set returned = 0',
    'update batch_input set weighed = 0',
    'update state_change set to_status = from_status',
    'delete from state_change',
    `insert into state_change (subject, subject_id, from_status, to_status, done_by) values ('lot', 1, 'held', 'released', 'x')`,
    `insert into transition values ('lot', 'rejected', 'released')`,
    'update shelf_count_line set counted = 0',
    'delete from shipment',
    'update idempotency set status = 200',
    'delete from idempotency',
    'delete from order_line',
    'delete from batch',
    'alter table movement disable trigger all',
    'alter table movement disable trigger append_only',
    'alter table lot drop constraint lot_check',
    'alter table lot owner to current_user',
    'drop trigger append_only on movement',
    'drop table movement',
    'drop function post_movement cascade',
    'create or replace function refuse_change() returns trigger language plpgsql as $$ begin return new; end $$',
    'create table public.shadow (id int)',
    'create schema shadow',
    `create trigger mine before insert on movement for each row execute function refuse_change()`,
    `set session_replication_role = 'replica'`,
    'alter role lotwright_app superuser',
  ];

  it.each(REFUSED_RIGHT)('has no right to: %s', async (sql) => {
    await expect(client.query(sql)).rejects.toMatchObject({ code: '42501' });
  });

  const REFUSED_BY_RULE: [string, string][] = [
    [`update customer_order set first_status = 'waiting'`, 'LW007'],
    [`insert into movement (lot_id, cause, quantity, done_on) select id, 'scrap', -10, '2026-03-02' from lot`, 'LW005'],
    [`update lot set status = 'quarantine'`, 'LW008'],
    [`insert into movement (lot_id, cause, quantity, done_on) select id, 'receipt', 9, '2026-03-02' from lot`, 'LW008'],
  ];

  it.each(REFUSED_BY_RULE)('is refused by the database: %s', async (sql, code) => {
    await files.query(`insert into channel (code, name) values ('shop', 'Shop') on conflict do nothing`);
    await files.query(`insert into customer_order (channel, number, placed_on, status)
      values ('shop', '1', '2026-03-02', 'confirmed') on conflict do nothing`);
    await expect(client.query(sql)).rejects.toMatchObject({ code });
  });

  it.each([
    'update movement set quantity = 1',
    'delete from movement',
    'truncate movement cascade',
    'truncate reservation cascade',
  ])('is not the only one refused; so is the owner: %s', async (sql) => {
    await expect(files.query(sql)).rejects.toMatchObject({ code: 'LW007' });
  });

  it('has changed nothing by all of that', async () => {
    expect(await files.query('select on_hand, reserved, status from lot')).toEqual([
      { on_hand: 9, reserved: 0, status: 'released' },
    ]);
    expect(await files.violations()).toEqual([]);
  });
});
