import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Pool } from 'pg';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import { Database } from '../../src/platform/database.js';
import { startEmbeddedPostgres } from '../../src/platform/embedded-postgres.js';
import { migrate } from '../../src/platform/migrate.js';
import { applicationUrl } from '../../src/platform/open-database.js';
import { StockService } from '../../src/stock/stock.service.js';
import { seeded } from '../support/workshop.js';

const CLIENTS = [1, 8, 32];
/** As the application's own pool: what is compared differs in nothing but what is sent. */
const POOL_MAX = 10;
const HOT_LOTS = 3;
const COLD_LOTS = 1000;
const ROUNDS = 5;
const ROUND_MS = 600;
const TODAY = '2026-11-25';

/** Does one act, again and again, for one client. */
type Act = (client: number, pick: (below: number) => number) => Promise<unknown>;

/**
 * What the ledger's promises cost: setting aside and receiving through the service, beside the bare statements that
 * keep no promise, on one server with the settings of a real home, in turns. Between the two stands the statement of the
 * service alone, autocommitted: what lies below it is the price of a transaction, what lies above it the price of writing
 * down to whom something is promised. Printable rows.
 */
export async function ledgerRows(): Promise<string[]> {
  const home = mkdtempSync(join(tmpdir(), 'lotwright-bench-'));
  const server = await startEmbeddedPostgres({ home });
  try {
    await migrate(server.ownerUrl);
    const bare = new Pool({ connectionString: server.ownerUrl, max: POOL_MAX, options: '-c lotwright.who=bench' });
    const url = await applicationUrl(server.ownerUrl, server.appPassword);
    const app = await makeApplication({ ...readConfig({}), demo: false, today: TODAY }, url, { logger: false });
    try {
      const shelf = await prepare(bare);
      const acts = comparedActs({ bare, database: app.get(Database), stock: app.get(StockService), shelf });
      const rows = ['setting aside and receiving, per second, median of rounds in turns'];
      for (const compare of acts) for (const clients of CLIENTS) rows.push(await compared(compare, clients));
      const { rows: wrong } = await bare.query('select * from ledger_violations()');
      if (wrong.length > 0) throw new Error(`the ledger is broken: ${JSON.stringify(wrong[0])}`);
      return rows;
    } finally {
      await app.close();
      await bare.end();
    }
  } finally {
    await server.stop();
    rmSync(home, { recursive: true, force: true });
  }
}

interface Shelf {
  itemId: number;
  lotIds: number[];
  /** One for each client, so that clients meet on lots and on nothing else. */
  lineIds: number[];
}

/** An item with its lots, promised to nobody yet, order lines that take any number of it, and tables without promises. */
async function prepare(pool: Pool): Promise<Shelf> {
  const ids = async (sql: string, values: unknown[]) =>
    (await pool.query<{ id: string }>(sql, values)).rows.map(({ id }) => Number(id));
  const client = await pool.connect();
  try {
    await client.query(`
      insert into item (code, name, kind, measure) values ('BENCH', 'Bench', 'product', 'counted');
      insert into channel (code, name) values ('bench', 'Bench');
      insert into lot (code, item_id, status, came_on)
        select 'LOT-' || n, i.id, 'released', '${TODAY}' from generate_series(1, ${COLD_LOTS}) n, item i;
      insert into movement (lot_id, cause, quantity, done_on) select id, 'receipt', 1000000000, '${TODAY}' from lot;
      insert into customer_order (channel, number, placed_on, status)
        select 'bench', n::text, '${TODAY}', 'confirmed' from generate_series(1, ${Math.max(...CLIENTS)}) n;
      insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
        select o.id, 'BENCH', i.id, 1000000000, '${TODAY}' from customer_order o, item i;
      create table bench_lot (id bigint primary key, code text, on_hand bigint not null, reserved bigint not null);
      insert into bench_lot select id, code, on_hand, 0 from lot;
      create table bench_movement (id bigint generated always as identity primary key, lot_id bigint not null,
        cause text not null, quantity bigint not null, done_on date not null, recorded_at timestamptz default now());
      analyze`);
  } finally {
    client.release(true);
  }
  return {
    itemId: (await ids('select id from item', []))[0]!,
    lotIds: await ids('select id from lot order by id', []),
    lineIds: await ids('select id from order_line order by id', []),
  };
}

interface Sides {
  bare: Pool;
  database: Database;
  stock: StockService;
  shelf: Shelf;
}

interface Compared {
  name: string;
  service: Act;
  /** The statement of the service without its transaction. */
  statement?: Act;
  bare: Act;
}

function comparedActs({ bare, database, stock, shelf }: Sides): Compared[] {
  const aside = (name: string, lotCount: number): Compared => ({
    name,
    service: (client, pick) => {
      const [lotId, orderLineId] = [shelf.lotIds[pick(lotCount)], shelf.lineIds[client]];
      return database.act({ who: 'bench' }, (tx) =>
        stock.reserve(tx, [{ lotId, orderLineId, quantity: 1, needOn: TODAY }]),
      );
    },
    statement: (client, pick) =>
      bare.query({
        name: 'reserve',
        text: `insert into reservation (lot_id, order_line_id, quantity, open, need_on)
          values ($1, $2, $3, $3, $4) returning id`,
        values: [shelf.lotIds[pick(lotCount)], shelf.lineIds[client], 1, TODAY],
      }),
    bare: (_, pick) =>
      bare.query('UPDATE bench_lot SET reserved = reserved + $2 WHERE id = $1 AND on_hand - reserved >= $2', [
        shelf.lotIds[pick(lotCount)],
        1,
      ]),
  });
  const item = { id: shelf.itemId, code: 'BENCH', shelfLifeDays: null, quarantinedOnArrival: false, stocked: true };
  let serial = 0;
  const receive: Act = () => {
    const receipt = { item, quantity: 12, cause: 'receipt' as const, cameOn: TODAY, code: `NEW-${++serial}` };
    return database.act({ who: 'bench' }, (tx) => stock.receive(tx, receipt));
  };
  const insert: Act = async () => {
    const id = 1_000_000 + ++serial;
    await bare.query('INSERT INTO bench_lot VALUES ($1, $2, 12, 0)', [id, `NEW-${id}`]);
    await bare.query(`INSERT INTO bench_movement (lot_id, cause, quantity, done_on) VALUES ($1, 'receipt', 12, $2)`, [
      id,
      TODAY,
    ]);
  };
  return [
    aside(`set aside, ${HOT_LOTS} hot lots`, HOT_LOTS),
    aside(`set aside, ${COLD_LOTS} lots`, COLD_LOTS),
    { name: 'receive (bare: 2 INSERTs)', service: receive, bare: insert },
  ];
}

async function compared({ name, service, statement, bare }: Compared, clients: number): Promise<string> {
  const acts: [string, Act][] = [
    ['service', service],
    ...(statement ? [['statement', statement] satisfies [string, Act]] : []),
    ['bare', bare],
  ];
  const rates = new Map<string, number[]>(acts.map(([side]) => [side, []]));
  // the first round only warms up
  for (let round = 0; round <= ROUNDS; round++)
    for (const [side, act] of acts) {
      const measured = await rate(clients, act);
      if (round > 0) rates.get(side)!.push(measured);
    }
  const figures = [...rates].map(([side, values]) => `${side} ${median(values).toFixed(0).padStart(5)}`).join('  ');
  const ratio = (median(rates.get('service')!) / median(rates.get('bare')!)).toFixed(2);
  return `  ${name.padEnd(26)} ${String(clients).padStart(2)} clients  ratio ${ratio}  ${figures}`;
}

/** How often a second the act is done by so many clients at once, over one round. */
async function rate(clients: number, act: Act): Promise<number> {
  let done = 0;
  const begun = performance.now();
  const until = begun + ROUND_MS;
  await Promise.all(
    Array.from({ length: clients }, async (_, client) => {
      const pick = seeded(client);
      while (performance.now() < until) {
        await act(client, pick);
        done++;
      }
    }),
  );
  return (done * 1000) / (performance.now() - begun);
}

function median(values: number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)]!;
}
