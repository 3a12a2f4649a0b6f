import { randomBytes } from 'node:crypto';
import type { EntityManager } from 'typeorm';
import { Database } from '../../src/platform/database.js';
import type { NewReservation } from '../../src/stock/stock.service.js';
import { StockService } from '../../src/stock/stock.service.js';
import type { TestApp } from './app.js';

/** An order line for `quantity` of a counted or weighed item, straight into the tables; answers its id. */
export async function orderLine(app: TestApp, item: string, quantity: number, shipBy: string): Promise<number> {
  const number = randomBytes(4).toString('hex');
  const { query } = app.database;
  await query(`insert into channel (code, name) values ('test', 'Test') on conflict do nothing`);
  const rows = await query<{ id: number }>(
    `with placed as (insert into customer_order (channel, number, placed_on, status)
       values ('test', $1, '2026-03-01', 'confirmed') returning id)
     insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
       select placed.id, $2, item.id, $3, $4 from placed, item where item.code = $2 returning id`,
    [number, item, quantity, shipBy],
  );
  return rows[0]!.id;
}

/** Runs `work` with the ledger in one act by `test`. */
export function onLedger<T>(app: TestApp, work: (tx: EntityManager, stock: StockService) => Promise<T>): Promise<T> {
  return app.app.get(Database).act({ who: 'test' }, (tx) => work(tx, app.app.get(StockService)));
}

export function reserve(app: TestApp, reservations: NewReservation[]): Promise<number[]> {
  return onLedger(app, (tx, stock) => stock.reserve(tx, reservations));
}

export async function idOf(app: TestApp, table: 'lot' | 'item' | 'delivery', code: string): Promise<number> {
  const rows = await app.database.query<{ id: number }>(`select id from ${table} where code = $1`, [code]);
  return rows[0]!.id;
}
