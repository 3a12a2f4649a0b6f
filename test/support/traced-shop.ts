import type { TestDatabase } from './database.js';

/** A day of every act unless it says otherwise. */
const DAY = '2026-02-02';

/** A workshop whose lots a test makes one by one, straight into the tables with all guards on. Amounts in base units. */
export class TracedShop {
  constructor(private readonly database: TestDatabase) {}

  private async id(sql: string, values: unknown[]): Promise<number> {
    return (await this.database.query<{ id: number }>(sql, values))[0]!.id;
  }

  async open(): Promise<void> {
    const items: [string, string, string][] = [
      ['OIL', 'material', 'weighed'],
      ['WAX', 'material', 'weighed'],
      ['JAR', 'material', 'counted'],
      ['POUR', 'bulk', 'weighed'],
      ['CANDLE', 'product', 'counted'],
    ];
    for (const [code, kind, measure] of items)
      await this.database.query('insert into item (code, name, kind, measure) values ($1, $1, $2, $3)', [
        code,
        kind,
        measure,
      ]);
    await this.database.query(
      `insert into formula (item_id, version, batch_min) select id, 1, 1 from item where code in ('POUR', 'CANDLE')`,
    );
    await this.database.query(`insert into vessel (code, kind, capacity_mg) values ('JUG', 'jug', 9000000)`);
    await this.database.query(`insert into channel (code, name) values ('shop', 'Shop')`);
    await this.database.query(`insert into supplier (code, name) values ('OILS', 'Oils of nowhere')`);
    await this.database.query(`insert into workshop (name) values ('Test workshop')`);
  }

  /** A bought lot, on a delivery of its own. */
  async buy(item: string, code: string, quantity: number): Promise<void> {
    const line = await this.id(
      `with d as (insert into delivery (code, supplier_id, status, expected_on) select $1, id, 'received', '${DAY}' from supplier
         returning id)
       insert into delivery_line (delivery_id, item_id, quantity, received)
       select d.id, i.id, $3::bigint, $3::bigint from d, item i where i.code = $2 returning id`,
      [`D-${code}`, item, quantity],
    );
    const lot = await this.lot(code, item, 'released');
    await this.database.query(
      `insert into movement (lot_id, cause, quantity, done_on, delivery_line_id) values ($1, 'receipt', $2, '${DAY}', $3)`,
      [lot, quantity, line],
    );
  }

  private lot(code: string, item: string, status: string): Promise<number> {
    return this.id(
      `insert into lot (code, item_id, status, came_on, supplier_lot) select $1, id, $3, '${DAY}', 'S-' || $1 from item
       where code = $2 returning id`,
      [code, item, status],
    );
  }

  /** A batch that is closed: takes of lots, and made one lot, released unless it still rests. */
  async make(item: string, code: string, takes: [lot: string, quantity: number][], made: number, rests = false) {
    const batch = await this.begin(item, `B-${code}`, takes);
    const isBulk = item === 'POUR';
    const inMg = await this.weighedOf(takes);
    const madeMg = isBulk ? made : inMg;
    await this.database.query(
      `insert into batch_finish (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg,
         expected_loss_mg, minutes, labour_e4, inputs_e4, lost_e4) values ($1, '${DAY}', $2, 0, $3, $4, 0, $5, 0, 0, 0, 0, 0)`,
      [batch, inMg, made, madeMg, inMg - madeMg],
    );
    const lot = await this.lot(code, item, 'quarantine');
    await this.database.query('update lot set batch_id = $2 where id = $1', [lot, batch]);
    await this.database.query(
      `insert into movement (lot_id, cause, quantity, done_on, batch_id) values ($1, 'production', $2, '${DAY}', $3)`,
      [lot, made, batch],
    );
    await this.database.query(`insert into batch_output (batch_id, lot_id, kind) values ($1, $2, 'made')`, [
      batch,
      lot,
    ]);
    for (const status of ['weighed', 'resting', ...(rests ? [] : ['released'])])
      await this.database.query('update batch set status = $2 where id = $1', [batch, status]);
    if (!rests) await this.database.query(`update lot set status = 'released' where id = $1`, [lot]);
  }

  private async weighedOf(takes: readonly [string, number][]): Promise<number> {
    let sum = 0;
    for (const [lot, quantity] of takes) {
      const [row] = await this.database.query<{ measure: string }>(
        'select i.measure from lot l join item i on i.id = l.item_id where l.code = $1',
        [lot],
      );
      if (row!.measure === 'weighed') sum += quantity;
    }
    return sum;
  }

  /** A batch at the bench that took of lots and is not closed; answers its id. */
  async begin(item: string, code: string, takes: readonly [lot: string, quantity: number][]): Promise<number> {
    const batch = await this.id(
      `insert into batch (code, formula_id, item_id, vessel_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
       select $1, f.id, i.id, v.id, 'reserved', '${DAY}', '${DAY}', '${DAY}', 1000, 0, 0
       from item i join formula f on f.item_id = i.id, vessel v where i.code = $2 returning id`,
      [code, item],
    );
    await this.database.query('insert into peg (batch_id, position, quantity) values ($1, 1, 1000)', [batch]);
    for (const [at, [lot, quantity]] of takes.entries()) {
      const input = await this.id(
        `insert into batch_input (batch_id, position, item_id, step, need_on, quantity)
         select $1, $2, item_id, 'make', '${DAY}', $4 from lot where code = $3 returning id`,
        [batch, at + 1, lot, quantity],
      );
      await this.database.query(
        `insert into movement (lot_id, cause, quantity, done_on, batch_id, batch_input_id)
         select id, 'consumption', -$2::bigint, '${DAY}', $3, $4 from lot where code = $1`,
        [lot, quantity, batch, input],
      );
    }
    return batch;
  }

  /** An order of a customer for candles, some of which are sent from these lots at once. */
  async order(number: string, customer: string, quantity: number, sent: [lot: string, quantity: number][], day = DAY) {
    const order = await this.id(
      `with c as (insert into customer (name, contact) values ($2, $2 || '@example.org')
         on conflict (lower(name)) do update set contact = excluded.contact returning id)
       insert into customer_order (channel, number, customer_id, placed_on, status)
       select 'shop', $1, c.id, '${DAY}', 'confirmed' from c returning id`,
      [number, customer],
    );
    const line = await this.id(
      `insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
       select $1, 'CANDLE', id, $2, '2026-03-20' from item where code = 'CANDLE' returning id`,
      [order, quantity],
    );
    for (const [lot, part] of sent) {
      const shipment = await this.id('insert into shipment (order_id, shipped_on) values ($1, $2) returning id', [
        order,
        day,
      ]);
      await this.database.query(
        `insert into movement (lot_id, cause, quantity, done_on, order_line_id, shipment_id)
         select id, 'shipment', -$2::bigint, $5, $3, $4 from lot where code = $1`,
        [lot, part, line, shipment, day],
      );
    }
  }
}
