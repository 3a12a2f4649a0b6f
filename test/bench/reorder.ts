import { Client, Pool } from 'pg';
import { makeApplication } from '../../src/application.js';
import { readConfig } from '../../src/config.js';
import { openDatabase } from '../../src/platform/open-database.js';
import { ReorderService } from '../../src/reorder/reorder.service.js';
import { besideNaive, monthlyBottles, outOfSample } from '../support/real-demand.js';
import type { TestServer } from '../support/server.js';

const TODAY = '2026-11-25';
export const ITEMS = 5_000;
const WEEKS = 104;
const TIMES = 3;

/** Bought items of all kinds of use, each with a lot, two packs of one of 40 suppliers, and two years of use. */
export const FILL = `
  set lotwright.who = 'bench';
  insert into supplier (code, name, freight_e4, order_days)
    select 'S' || n, 'Supplier ' || n, 60000, case when n % 2 = 0 then '{1,3}'::int[] else '{}' end
    from generate_series(1, 40) n;
  insert into item (code, name, kind, measure, family, shelf_life_days)
    select 'M' || lpad(n::text, 5, '0'), 'Material ' || n, 'material', 'weighed',
      (array['fragrance', 'base', 'container', 'label', 'other'])[1 + n % 5], case when n % 3 = 0 then 540 end
    from generate_series(1, ${ITEMS}) n;
  insert into pack (supplier_id, item_id, code, size, price_e4, lead_days)
    select s.id, i.id, i.code || '-' || k, 400000 * k * k, 90000 * k * k - 9000 * k, 5 + i.id % 25
    from item i join supplier s on s.id = 1 + i.id % 40, generate_series(1, 2) k;
  insert into lot (code, item_id, status, came_on, expires_on)
    select 'L-' || code, id, 'released', date '${TODAY}' - 800, case when shelf_life_days is null then null
      else date '${TODAY}' + 30 + (id % 300)::int end from item;
  alter table movement disable trigger post_movement;
  -- every third item is used rarely, every fourth by season
  insert into movement (lot_id, cause, quantity, done_on)
    select l.id, 'consumption', -(20000 + (l.id * 7919 + w * 104729 + k * 31) % 60000
        + case when l.id % 4 = 0 then (40000 * (1 + sin(w * 0.1208)))::bigint else 0 end),
      date '${TODAY}' - 7 * w - k
    from lot l, generate_series(1, ${WEEKS}) w, generate_series(1, 2) k
    where l.id % 3 > 0 or (l.id + w * 37) % 5 = 0;
  insert into movement (lot_id, cause, quantity, done_on)
    select lot_id, 'receipt', 200000 - sum(quantity) + (lot_id * 37) % 900000, date '${TODAY}' - 799
    from movement group by lot_id;
  update lot set on_hand = m.quantity from (select lot_id, sum(quantity) as quantity from movement group by 1) m
    where m.lot_id = lot.id;
  alter table movement enable trigger post_movement;
  analyze;
`;

/** The bare read: the movements of two years, summed by item and week. */
const BARE = `
  select l.item_id, (date '${TODAY}' - m.done_on) / 7 as week, sum(-m.quantity)
  from movement m join lot l on l.id = m.lot_id where m.cause in ('consumption', 'shipment', 'own-use') group by 1, 2`;

/** What it costs to say of every item what to reorder by when, beside the bare read of its history, in one run. */
export async function reorderRows(server: TestServer): Promise<string[]> {
  const name = `lotwright_reorder_${process.pid}`;
  const admin = new Client({ connectionString: server.url });
  await admin.connect();
  await admin.query(`create database ${name}`);
  const url = new URL(server.url);
  url.pathname = `/${name}`;
  const config = { ...readConfig({ DATABASE_URL: url.href }), today: TODAY, demo: false };
  const database = await openDatabase(config);
  const app = await makeApplication(config, database.url, { logger: false });
  const owner = new Pool({ connectionString: url.href, max: 1 });
  try {
    await owner.query(FILL);
    const { rows } = await owner.query<{ movements: string }>('select count(*) as movements from movement');
    const bare = await timed(() => owner.query(BARE));
    let listed = 0;
    const anew = await timed(async (turn) => {
      // something happens, so that nothing kept can be answered
      await owner.query(
        `insert into vessel (code, kind, capacity_mg, created_by) values ('V${turn}', 'jug', 1, 'bench')`,
      );
      listed = (await app.get(ReorderService).list()).rows.length;
    });
    const again = await timed(async () => void (await app.get(ReorderService).list()));
    const movements = Number(rows[0]!.movements).toLocaleString('en');
    return [
      `what to reorder of ${ITEMS.toLocaleString('en')} items, ${movements} movements in two years, median of ${TIMES}`,
      `  bare read of the history, by item and week  ${ms(bare)}`,
      `  the whole list anew (${listed} items on it)      ${ms(anew)}`,
      `  the same again, nothing having happened     ${ms(again)}`,
      ...forecastRows(),
    ];
  } finally {
    await app.close();
    await owner.end();
    await database.close();
    await admin.query(`drop database ${name}`);
    await admin.end();
  }
}

/** How much forecasts of real demand miss, beside naive ones. */
function forecastRows(): string[] {
  const weekly = [1, 4].map((horizon) => {
    const { ratio, better, products } = besideNaive(horizon);
    return `  weekly sales, ${horizon} ahead: error ${(ratio * 100).toFixed(1)} % of the last week again, less for ${better} of ${products} products`;
  });
  const monthly = [1, 3].map((horizon) => {
    const { chosen, naive, seasonal } = outOfSample(monthlyBottles(), 48, horizon, 12);
    return `  monthly bottles, ${horizon} ahead: error ${chosen.toFixed(0)}, last month again ${naive.toFixed(0)}, same months last year ${seasonal.toFixed(0)}`;
  });
  return ['forecasts out of sample, root mean square error (test/data/demand)', ...weekly, ...monthly];
}

async function timed(work: (turn: number) => Promise<unknown>): Promise<number> {
  const times: number[] = [];
  for (let turn = 0; turn < TIMES; turn++) {
    const began = performance.now();
    await work(turn);
    times.push(performance.now() - began);
  }
  return times.sort((a, b) => a - b)[Math.floor(TIMES / 2)]!;
}

const ms = (time: number): string => `${time.toFixed(0).padStart(7)} ms`;
