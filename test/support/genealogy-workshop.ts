import type { TestDatabase } from './database.js';

/** What the generator knows of a lot because it made it so, and not because it asked anybody. */
export interface KnownLot {
  id: number;
  code: string;
  item: string;
  /** Every lot it comes of, through all levels, itself included. */
  comesOf: Set<string>;
  /** The links it came by, one level up: what it was made of, and what made it. */
  cameBy: Set<string>;
  left: number;
  status: 'released' | 'held' | 'rejected';
  /** What came in and went out by cause, corrections taken off; above zero for what came in. */
  moved: Map<string, number>;
}

export interface KnownGenealogy {
  lots: Map<string, KnownLot>;
  /** Amounts by `from key` and `to key`, corrections taken off: "lot:A batch:B". */
  amounts: Map<string, number>;
  /** By lot: what was sent to whom, as "channel/number", corrections taken off. */
  sent: Map<string, Map<string, number>>;
  returned: Map<string, number>;
  /** How often each thing was done. */
  done: Map<string, number>;
}

export interface Recipe {
  item: string;
  takes: string[];
  measure: 'weighed' | 'counted';
}

export const START = '2023-01-02';
export const DAYS_A_STEP = 3;
export const MATERIALS = ['OIL-A', 'OIL-B', 'WAX', 'WATERS', 'BASE'];
/** Each made of what stands before it: five levels and the sets on top. */
export const RECIPES: Recipe[] = [
  { item: 'ACCORD', takes: ['OIL-A', 'OIL-B'], measure: 'weighed' },
  { item: 'PREMIX', takes: ['ACCORD', 'BASE'], measure: 'weighed' },
  { item: 'BULK', takes: ['PREMIX', 'WATERS', 'WAX'], measure: 'weighed' },
  { item: 'BULK-2', takes: ['BULK', 'OIL-B'], measure: 'weighed' },
  { item: 'BOTTLED', takes: ['BULK', 'BOTTLE'], measure: 'counted' },
  { item: 'BOTTLED-2', takes: ['BULK-2', 'BOTTLE'], measure: 'counted' },
  { item: 'GIFT', takes: ['BOTTLED', 'BOTTLED-2'], measure: 'counted' },
];
export const SOLD = ['BOTTLED', 'BOTTLED-2', 'GIFT'];

export interface TracedWorkshop {
  items: Map<string, number>;
  measures: Map<string, string>;
  formulas: Map<string, number>;
  lines: { id: number; order: string; orderId: number; item: string }[];
  suppliers: number[];
}

/** The workshop the generator writes for: its items and formulas, suppliers, and customers who take any number. */
export async function openTraced(database: TestDatabase): Promise<TracedWorkshop> {
  const shop: TracedWorkshop = { items: new Map(), measures: new Map(), formulas: new Map(), lines: [], suppliers: [] };
  const one = async (sql: string, values: unknown[] = []) => (await database.query<{ id: number }>(sql, values))[0]!.id;
  const kinds = new Map<string, [string, string]>([
    ...MATERIALS.map((code) => [code, ['material', 'weighed']] as [string, [string, string]]),
    ['BOTTLE', ['material', 'counted']],
    ...RECIPES.map(({ item, measure }): [string, [string, string]] => [
      item,
      [item === 'GIFT' ? 'set' : measure === 'weighed' ? 'bulk' : 'product', measure],
    ]),
  ]);
  for (const [code, [kind, measure]] of kinds) {
    const sql = 'insert into item (code, name, kind, measure) values ($1, $1, $2, $3) returning id';
    shop.items.set(code, await one(sql, [code, kind, measure]));
    shop.measures.set(code, measure);
  }
  for (const { item } of RECIPES) {
    const sql = 'insert into formula (item_id, version, batch_min) values ($1, 1, 1) returning id';
    shop.formulas.set(item, await one(sql, [shop.items.get(item)]));
  }
  for (const code of ['S-ONE', 'S-TWO'])
    shop.suppliers.push(await one('insert into supplier (code, name) values ($1, $1) returning id', [code]));
  await database.query(`insert into channel (code, name) values ('shop', 'Shop')`);
  for (let n = 1; n <= 12; n++) {
    const customer = await one('insert into customer (name) values ($1) returning id', [`Customer ${n}`]);
    const orderId = await one(
      `insert into customer_order (channel, number, customer_id, placed_on, status)
         values ('shop', $1, $2, $3, 'confirmed') returning id`,
      [`N${n}`, customer, START],
    );
    for (const item of SOLD)
      shop.lines.push({
        id: await one(
          `insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
             values ($1, $2, $3, 1000000, '2030-01-01') returning id`,
          [orderId, item, shop.items.get(item)],
        ),
        order: `shop/N${n}`,
        orderId,
        item,
      });
  }
  return shop;
}

export interface Input {
  item: string;
  lots: KnownLot[];
  reworkLotId: number | null;
}

export interface Weighed extends Input {
  inputId: number;
  /** What went in of all its lots. */
  sum: number;
}
