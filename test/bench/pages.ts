import { Client, Pool } from 'pg';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import { loadDemoIfEmpty } from '../../src/terminal.js';
import { openDatabase } from '../../src/platform/open-database.js';
import type { TestServer } from '../support/server.js';
import { heldRows } from './held.js';

const TODAY = '2026-11-25';
const WEEK = '2026-11-30';
const ORDERS = 10_000;
const LOTS = 20_000;
const TIMES = 7;

const PAGES = [
  `/week/${WEEK}`,
  '/orders',
  '/orders?search=77',
  '/orders/webshop/X00077',
  '/shelf',
  '/shelf/items/FO-CEDAR',
  '/formulas',
  '/formulas/BLK-SP-CEDAR',
  '/reorder',
  '/find?q=X00077',
];

/** The demonstration, grown to a large workshop: orders over ten weeks, lots of every material, room to make it all. */
const GROW = `
  set lotwright.who = 'bench';
  insert into customer_order (channel, number, placed_on, status)
    select 'webshop', 'X' || lpad(n::text, 5, '0'), date '${TODAY}' - n % 20, 'confirmed'
    from generate_series(1, ${ORDERS}) n;
  insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
    select o.id, i.code, i.id, 1 + o.id % 4, date '${TODAY}' + 12 + (o.id % 60)::int
    from customer_order o
    join (select code, id, row_number() over (order by code) - 1 as n, count(*) over () as many
      from item where kind = 'product' and policy <> 'seasonal') i on i.n = o.id % i.many
    where o.number like 'X%';
  insert into lot (code, item_id, status, came_on, expires_on)
    select 'BENCH-' || s.n, i.id, 'released', date '${TODAY}' - s.n % 200, date '${TODAY}' + 100 + s.n % 600
    from generate_series(1, ${LOTS}) s (n)
    join (select id, row_number() over (order by code) - 1 as n, count(*) over () as many
      from item where kind = 'material' and stocked) i on i.n = s.n % i.many;
  insert into movement (lot_id, cause, quantity, value_e4, done_on)
    select l.id, 'receipt', case when i.measure = 'weighed' then 2000000 else 500 end, 10000, came_on
    from lot l join item i on i.id = l.item_id where l.code like 'BENCH-%';
  update workshop set bench_minutes = '{1440,1440,1440,1440,1440,1440,1440}';
  insert into vessel (code, kind, capacity_mg)
    select 'LARGE-' || v.code || '-' || n, v.kind, v.capacity_mg * 10 from vessel v, generate_series(1, 8) n;
  analyze;
`;

/** Server time and statements of each page of a workshop with 10,000 open orders and 20,000 lots. */
export async function pageRows(server: TestServer): Promise<string[]> {
  const name = `lotwright_pages_${process.pid}`;
  const admin = new Client({ connectionString: server.url });
  await admin.connect();
  await admin.query(`create database ${name}`);
  const url = new URL(server.url);
  url.pathname = `/${name}`;
  const config = { ...readConfig({ DATABASE_URL: url.href }), today: TODAY, demo: true };
  const database = await openDatabase(config);
  const app = await makeApplication(config, database.url, { logger: false });
  const statements = countStatements();
  try {
    await loadDemoIfEmpty(app, config);
    const owner = new Pool({ connectionString: url.href, max: 1 });
    await owner.query(GROW);
    await owner.end();
    const planned = performance.now();
    const draft = await app.inject({ method: 'POST', url: '/api/runs', payload: { weekStart: WEEK } });
    const rows = [
      `pages with ${ORDERS} open orders and ${LOTS} lots, median of ${TIMES}`,
      `  planning the week through the API  ${(performance.now() - planned).toFixed(0).padStart(6)} ms  (${draft.statusCode})`,
    ];
    for (const page of PAGES) {
      const times: number[] = [];
      let made = 0;
      let status = 0;
      for (let i = 0; i < TIMES; i++) {
        const before = statements();
        const start = performance.now();
        status = (await app.inject({ method: 'GET', url: page })).statusCode;
        times.push(performance.now() - start);
        made = statements() - before;
      }
      const ms = times.sort((a, b) => a - b)[Math.floor(TIMES / 2)]!;
      rows.push(
        `  ${page.padEnd(34)} ${ms.toFixed(1).padStart(6)} ms  ${String(made).padStart(3)} statements  (${status})`,
      );
    }
    return [...rows, await afterChange(app), ...(await heldRows(app, WEEK))];
  } finally {
    await app.close();
    await database.close();
    await admin.query(`drop database ${name} with (force)`);
    await admin.end();
  }
}

/** The one page that plans: after a new order it reads and plans anew, before it answers as often as it likes. */
async function afterChange(app: Awaited<ReturnType<typeof makeApplication>>): Promise<string> {
  const lines = [{ code: 'SP-FIG-100', quantity: 1, shipBy: '2026-12-30' }];
  const payload = { channel: 'webshop', number: 'BENCH-NEW', lines };
  const { statusCode } = await app.inject({ method: 'POST', url: '/api/orders', payload });
  const start = performance.now();
  await app.inject({ method: 'GET', url: '/reorder' });
  return `  /reorder after a new order (${statusCode})     ${(performance.now() - start).toFixed(1).padStart(6)} ms`;
}

/** Counts what is sent to the database from now on, whoever sends it. */
function countStatements(): () => number {
  let count = 0;
  const send = Client.prototype.query as (...args: unknown[]) => unknown;
  Client.prototype.query = function (this: Client, ...args: unknown[]): unknown {
    count++;
    return send.apply(this, args);
  } as typeof Client.prototype.query;
  return () => count;
}
