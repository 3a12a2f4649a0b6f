import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Pool } from 'pg';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import { startEmbeddedPostgres } from '../../src/platform/embedded-postgres.js';
import { migrate } from '../../src/platform/migrate.js';
import { applicationUrl } from '../../src/platform/open-database.js';
import { TraceService } from '../../src/trace/trace.service.js';
import type { TraceView } from '../../src/trace/trace.schema.js';
import { seeded } from '../support/workshop.js';

const TODAY = '2026-11-25';
const DEPTH = 6;
/** Batches on each level; each takes two lots of the level before and four of what was bought. */
const BATCHES = 10_000;
const BOUGHT = 40_000;
const SHIPMENTS = 450_000;
const PARCELS = 10_000;
const MOVEMENTS = 1_000_000;
/** Lots that went into so many batches each, so that breadth can be seen growing. */
const FANS = [1, 10, 100, 1_000];
const STARTS = 200;
const WARM_UP = 20;

/**
 * What it costs to follow a lot in a history of a million movements: through the service as the API does, by one recursive
 * statement that a person at a console would write, level by level with the service's own statements of one level, and
 * beside them the bare look for one row by its code, all in the same run. Printable rows.
 */
export async function traceRows(): Promise<string[]> {
  const home = mkdtempSync(join(tmpdir(), 'lotwright-bench-'));
  const server = await startEmbeddedPostgres({ home });
  try {
    await migrate(server.ownerUrl);
    const pool = new Pool({ connectionString: server.ownerUrl, max: 4, options: '-c lotwright.who=bench' });
    const url = await applicationUrl(server.ownerUrl, server.appPassword);
    const app = await makeApplication({ ...readConfig({}), demo: false, worker: 'separate', today: TODAY }, url, {
      logger: false,
    });
    try {
      const movements = await writeHistory(pool);
      const service = app.get(TraceService);
      const trace = (code: string, direction: TraceView['direction']) => service.trace(code, direction);
      return [
        `following a lot in ${movements.toLocaleString('en')} movements, ${DEPTH} levels, median (95 %) of ${STARTS} lots`,
        ...(await compared(pool, trace)),
        ...(await growth(trace)),
        ...(await parcels(trace)),
      ];
    } finally {
      await app.close();
      await pool.end();
    }
  } finally {
    await server.stop();
    rmSync(home, { recursive: true, force: true });
  }
}

type Trace = (code: string, direction: TraceView['direction']) => Promise<TraceView>;

const made = (level: number, n: number) => `M${level}-${n}`;

async function compared(pool: Pool, trace: Trace): Promise<string[]> {
  const pick = seeded(7);
  const products = Array.from({ length: STARTS + WARM_UP }, () => made(DEPTH, 1 + pick(BATCHES)));
  const bought = Array.from({ length: STARTS + WARM_UP }, () => `R-${1 + pick(BOUGHT)}`);
  let lots = 0;
  const through = (direction: 'back' | 'forward') => async (code: string) =>
    void (lots += (await trace(code, direction)).lots.length);
  const look = (code: string) =>
    pool.query({ name: 'look', text: 'select * from lot where code = $1', values: [code] });
  const rows: string[] = [];
  for (const [direction, codes] of [
    ['back', products],
    ['forward', bought],
  ] as const) {
    lots = 0;
    rows.push(
      row(
        `${direction}, service`,
        await timed(codes, through(direction)),
        ` ${Math.round(lots / codes.length)} lots each`,
      ),
    );
    rows.push(
      row(`${direction}, recursive SQL`, await timed(codes, (code) => pool.query(RECURSIVE[direction], [code]))),
    );
    rows.push(row(`${direction}, level by level`, await timed(codes, (code) => levelByLevel(pool, direction, code))));
  }
  rows.push(row('bare look by code', await timed(products, look)));
  return rows;
}

/** How the time grows with the levels above a lot, and with the batches that took of it. */
async function growth(trace: Trace): Promise<string[]> {
  const pick = seeded(11);
  const rows: string[] = [];
  for (let level = 1; level <= DEPTH; level++) {
    let lots = 0;
    const codes = Array.from({ length: 60 }, () => made(level, 1 + pick(BATCHES)));
    const times = await timed(codes, async (code) => void (lots += (await trace(code, 'back')).lots.length));
    rows.push(row(`back over ${level} levels`, times, ` ${Math.round(lots / codes.length)} lots each`));
  }
  for (const fan of FANS) {
    let lots = 0;
    const codes = Array.from({ length: 20 + WARM_UP }, () => `F-${fan}`);
    const times = await timed(codes, async (code) => void (lots += (await trace(code, 'forward')).lots.length));
    rows.push(row(`forward into ${fan} batches`, times, ` ${Math.round(lots / codes.length)} lots each`));
  }
  return rows;
}

async function parcels(trace: Trace): Promise<string[]> {
  let sent = 0;
  const times = await timed(
    Array.from({ length: 20 + WARM_UP }, () => 'PARCELS'),
    async (code) => void (sent = (await trace(code, 'forward')).parcels.length),
  );
  if (sent !== PARCELS) throw new Error(`${sent} parcels instead of ${PARCELS}`);
  return [row(`forward to ${PARCELS.toLocaleString('en')} parcels`, times)];
}

/** Milliseconds of each, the first few left out. */
async function timed(codes: readonly string[], act: (code: string) => Promise<unknown>): Promise<number[]> {
  const times: number[] = [];
  for (const [at, code] of codes.entries()) {
    const begun = performance.now();
    await act(code);
    if (at >= Math.min(WARM_UP, codes.length / 2)) times.push(performance.now() - begun);
  }
  return times.sort((a, b) => a - b);
}

function row(name: string, times: readonly number[], more = ''): string {
  const at = (part: number) =>
    times[Math.min(times.length - 1, Math.floor(times.length * part))]!.toFixed(2).padStart(8);
  return `  ${name.padEnd(28)} ${at(0.5)} ms  (${at(0.95)} ms)${more}`;
}

/** Lots and batches alone, without names, amounts, deliveries or parcels. */
const RECURSIVE = {
  back: `
    with recursive walk (lot_id) as (
      select id from lot where code = $1
      union
      select m.lot_id from walk w join batch_output o on o.lot_id = w.lot_id
        join movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
    ) select lot_id from walk`,
  forward: `
    with recursive walk (lot_id) as (
      select id from lot where code = $1
      union
      select o.lot_id from walk w join movement m on m.lot_id = w.lot_id and m.cause = 'consumption'
        join batch_output o on o.batch_id = m.batch_id
    ) select lot_id from walk`,
};

const ONE_LEVEL = {
  back: `select distinct m.lot_id as id from batch_output o
    join movement m on m.batch_id = o.batch_id and m.cause = 'consumption' where o.lot_id = any($1::bigint[])`,
  forward: `select distinct o.lot_id as id from movement m join batch_output o on o.batch_id = m.batch_id
    where m.lot_id = any($1::bigint[]) and m.cause = 'consumption'`,
};

async function levelByLevel(pool: Pool, direction: 'back' | 'forward', code: string): Promise<void> {
  const { rows } = await pool.query<{ id: string }>('select id from lot where code = $1', [code]);
  const seen = new Set(rows.map(({ id }) => id));
  for (let level = [...seen]; level.length > 0;) {
    const { rows: next } = await pool.query<{ id: string }>(ONE_LEVEL[direction], [level]);
    level = next.map(({ id }) => id).filter((id) => !seen.has(id));
    for (const id of level) seen.add(id);
  }
}

/**
 * Writes the history in bulk, with the guards of the tables off, as only who owns the server may; answers how many
 * movements there are. Levels of batches, the first of what was bought only, the last shipped.
 */
async function writeHistory(pool: Pool): Promise<number> {
  const client = await pool.connect();
  try {
    await client.query(`set session_replication_role = replica`);
    await client.query(MASTER);
    for (let level = 1; level <= DEPTH; level++) await client.query(LEVEL, [level, level * BATCHES]);
    for (const fan of FANS) await client.query(FAN, [fan]);
    await client.query(SENT, [SHIPMENTS]);
    await client.query(MANY_PARCELS, [PARCELS]);
    await client.query(FILL_UP, [MOVEMENTS]);
    await client.query('analyze');
    const { rows } = await client.query<{ rows: string }>('select count(*) as rows from movement');
    return Number(rows[0]!.rows);
  } finally {
    client.release(true);
  }
}

const MASTER = `
  insert into item (code, name, kind, measure)
    select 'RAW-' || n, 'Material ' || n, 'material', 'weighed' from generate_series(1, 40) n;
  insert into item (code, name, kind, measure)
    select 'MADE-' || n, 'Level ' || n, case when n = ${DEPTH} then 'product' else 'bulk' end,
      case when n = ${DEPTH} then 'counted' else 'weighed' end from generate_series(1, ${DEPTH}) n;
  insert into formula (item_id, version, batch_min) select id, 1, 1 from item where code like 'MADE-%';
  insert into vessel (code, kind, capacity_mg) select 'V-' || n, 'jug', 1000000 from generate_series(1, 20) n;
  insert into channel (code, name) values ('shop', 'Shop');
  insert into customer (name) select 'Customer ' || n from generate_series(1, 20000) n;
  insert into customer_order (channel, number, customer_id, placed_on, status)
    select 'shop', n::text, 1 + n % 20000, '2024-01-01', 'fulfilled' from generate_series(1, 100000) n;
  insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
    select o.id, 'MADE', i.id, 1000, '2026-01-01' from customer_order o, item i where i.code = 'MADE-${DEPTH}';
  insert into lot (code, item_id, status, came_on, on_hand)
    select 'R-' || n, i.id, 'released', '2023-01-01'::date + n % 1000, 1000
    from generate_series(1, ${BOUGHT}) n join item i on i.code = 'RAW-' || 1 + n % 40;
  insert into movement (lot_id, cause, quantity, done_on, created_by)
    select id, 'receipt', 100000, came_on, 'bench' from lot;`;

/** $1 the level, $2 how many batches there are at its end. */
const LEVEL = `
  with b as (
    insert into batch (code, formula_id, item_id, vessel_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
    select 'B' || $1::text || '-' || n, f.id, i.id, 1 + n % 20, 'released', d, d, d, 1000, 1000, 0
    from generate_series(1, ${BATCHES}) n join item i on i.code = 'MADE-' || $1::text join formula f on f.item_id = i.id
      cross join lateral (select '2023-02-01'::date + (n % 1000) + $1::int * 20 as d) days
    returning id, code, item_id, day, split_part(code, '-', 2)::int as n
  ), f as (
    insert into batch_finish (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg,
      expected_loss_mg, minutes, labour_e4, inputs_e4, lost_e4, created_by)
    select id, day, 1000, 0, 1000, 1000, 0, 0, 0, 0, 0, 0, 0, 'bench' from b
  ), l as (
    insert into lot (code, item_id, status, came_on, on_hand, batch_id)
    select 'M' || $1::text || '-' || n, item_id, 'released', day, 100, id from b returning id, batch_id, came_on
  ), o as (
    insert into batch_output (batch_id, lot_id, kind) select batch_id, id, 'made' from l
  ), p as (
    insert into movement (lot_id, cause, quantity, done_on, batch_id, created_by)
    select id, 'production', 1000, came_on, batch_id, 'bench' from l
  )
  insert into movement (lot_id, cause, quantity, done_on, batch_id, created_by)
  select s.id, 'consumption', -100, b.day, b.id, 'bench'
  from b cross join lateral (
    select 'R-' || 1 + (b.n * 7919::bigint + k * 104729 + $2::int) % ${BOUGHT} as code from generate_series(1, 4) k
    union
    select 'M' || ($1::int - 1) || '-' || 1 + (b.n * 31::bigint + k * 577) % ${BATCHES}
      from generate_series(1, 2) k where $1::int > 1
  ) takes join lot s on s.code = takes.code`;

/** A lot that went into $1 batches of the last level. */
const FAN = `
  with f as (
    insert into lot (code, item_id, status, came_on, on_hand)
    select 'F-' || $1::text, id, 'released', '2023-01-01', 1000 from item where code = 'RAW-1' returning id
  )
  insert into movement (lot_id, cause, quantity, done_on, batch_id, created_by)
  select f.id, 'consumption', -1, b.day, b.id, 'bench' from f, batch b join item i on i.id = b.item_id
  where i.code = 'MADE-${DEPTH}' and b.code in (select 'B${DEPTH}-' || 1 + n * 7 % ${BATCHES} from generate_series(1, $1::int) n)`;

const SENT = `
  with s as (
    insert into shipment (order_id, shipped_on, created_by)
    select 1 + (n * 7919::bigint) % 100000, '2024-01-01'::date + n % 900, 'bench' from generate_series(1, $1::int) n
    returning id, order_id, shipped_on
  )
  insert into movement (lot_id, cause, quantity, done_on, order_line_id, shipment_id, created_by)
  select l.id, 'shipment', -2, s.shipped_on, s.order_id, s.id, 'bench'
  from s join lot l on l.code = 'M${DEPTH}-' || 1 + s.id % ${BATCHES}`;

/** One lot that went out in $1 parcels. */
const MANY_PARCELS = `
  with one as (
    insert into lot (code, item_id, status, came_on, on_hand)
    select 'PARCELS', id, 'released', '2023-01-01', 1000 from item where code = 'MADE-${DEPTH}' returning id
  ), s as (
    insert into shipment (order_id, shipped_on, created_by)
    select n, '2024-01-01'::date + n % 900, 'bench' from generate_series(1, $1::int) n returning id, order_id, shipped_on
  )
  insert into movement (lot_id, cause, quantity, done_on, order_line_id, shipment_id, created_by)
  select one.id, 'shipment', -2, s.shipped_on, s.order_id, s.id, 'bench' from one, s`;

const FILL_UP = `
  insert into movement (lot_id, cause, quantity, done_on, created_by)
  select 1 + n % ${BOUGHT}, 'sample', -1, '2025-01-01', 'bench'
  from generate_series(1, (select $1::int - count(*)::int from movement)) n`;
