import type { EntityManager } from 'typeorm';
import { byText } from '../kernel/measure/text-order.js';

/** As many lots as one walk visits: a workshop of many years stays far below, and nothing grows without end. */
export const LOTS_MAX = 50_000;

export type Direction = 'back' | 'forward';

/* What a lot was split off or sent back from; a split that was taken back brought nothing. */
const CAME_AS_PART = `exists (select from standing_movement came where came.lot_id = l.id
  and came.cause in ('split', 'return') and came.quantity > 0)`;

/**
 * To be said before the statements here: they look up rows by their keys, and the ledger of a workshop lies in memory. At
 * the default price of a page read at random, a list of some thousand parcels would read every order line there is (76 ms
 * of 136 ms among 100 000 of them).
 */
export async function lookUp(tx: EntityManager): Promise<void> {
  await tx.query('set local random_page_cost = 1.1');
}

/* What a lot comes of: of what was left over of an input only what was weighed for it, of what was made everything. */
const SOURCES = `
  select m.lot_id as id from batch_output o join standing_movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
    where o.lot_id = w.lot_id and (o.kind = 'made' or m.batch_input_id = o.batch_input_id)
  union all
  select l.parent_lot_id from lot l where l.id = w.lot_id and l.parent_lot_id is not null and ${CAME_AS_PART}`;

const RESULTS = `
  select o.lot_id as id from standing_movement m join batch_output o on o.batch_id = m.batch_id
      and (o.kind = 'made' or o.batch_input_id = m.batch_input_id)
    where m.lot_id = w.lot_id and m.cause = 'consumption'
  union all
  select l.id from lot l where l.parent_lot_id = w.lot_id and ${CAME_AS_PART}`;

/*
 * One recursive statement: `union` visits a lot once, and the limit ends the walk as soon as so many were found. Level by
 * level from here it takes a round trip for each, for the same rows; test/bench/trace.ts has both.
 */
const walkSql = (next: string) => `
  with recursive walk (lot_id) as (
    select unnest($1::bigint[]) union select next.id from walk w cross join lateral (${next}) next
  )
  select lot_id as id from walk limit $2`;

const walkEachSql = (next: string) => `
  with recursive walk (start, lot_id) as (
    select s, s from unnest($1::bigint[]) s
    union
    select w.start, next.id from walk w cross join lateral (${next}) next
  )
  select start, lot_id as id from walk limit $2`;

const WALK = { back: walkSql(SOURCES), forward: walkSql(RESULTS) };
const WALK_EACH = { back: walkEachSql(SOURCES), forward: walkEachSql(RESULTS) };

/** Every lot these come of, or went into, themselves included; one more than `most` where there are more. */
export async function walkLots(
  tx: EntityManager,
  direction: Direction,
  lotIds: readonly number[],
  most = LOTS_MAX,
): Promise<number[]> {
  const rows = await tx.query<{ id: number }[]>(WALK[direction], [lotIds, most + 1]);
  return rows.map(({ id }) => id);
}

/**
 * Which lots each of these reaches, itself included, as pairs: one statement for all of them. At most `most` pairs, and
 * one more where there are more.
 */
export function walkEach(
  tx: EntityManager,
  direction: Direction,
  lotIds: readonly number[],
  most: number,
): Promise<{ start: number; id: number }[]> {
  return tx.query<{ start: number; id: number }[]>(WALK_EACH[direction], [lotIds, most + 1]);
}

/** Of one lot, so much went into a batch, for one of its inputs. */
export interface UsedRow {
  lotId: number;
  batchId: number;
  batchInputId: number | null;
  quantity: number;
}

/** A batch made so much of a lot, or left so much of an input over. */
export interface OutputRow {
  batchId: number;
  lotId: number;
  kind: 'made' | 'leftover';
  batchInputId: number | null;
  quantity: number;
}

/** So much of a lot stands apart as another, split off or sent back. */
export interface PartRow {
  parentId: number;
  lotId: number;
  kind: 'split' | 'return';
  quantity: number;
}

const USED = {
  // of a batch that only left something over, no more than what was weighed for that input
  back: `
    with target as materialized (
      select batch_id, bool_or(kind = 'made') as is_whole, array_agg(batch_input_id) as inputs
      from batch_output where lot_id = any($1::bigint[]) group by batch_id
    )
    select m.lot_id as "lotId", m.batch_id as "batchId", m.batch_input_id as "batchInputId",
      -sum(m.quantity)::bigint as quantity
    from target t join standing_movement m on m.batch_id = t.batch_id
    where m.cause = 'consumption' and (t.is_whole or m.batch_input_id = any(t.inputs))
    group by 1, 2, 3 order by 2, 3, 1`,
  forward: `
    select m.lot_id as "lotId", m.batch_id as "batchId", m.batch_input_id as "batchInputId",
      -sum(m.quantity)::bigint as quantity
    from standing_movement m
    where m.lot_id = any($1::bigint[]) and m.cause = 'consumption' and m.batch_id is not null
    group by 1, 2, 3 order by 2, 3, 1`,
};

/** What the links between lots are made of, for lots that were found by a walk in this direction. */
export async function linkRows(
  tx: EntityManager,
  direction: Direction,
  lotIds: readonly number[],
): Promise<{ used: UsedRow[]; outputs: OutputRow[]; parts: PartRow[] }> {
  const among = new Set(lotIds);
  const used = (await tx.query<UsedRow[]>(USED[direction], [lotIds])).filter(({ lotId }) => among.has(lotId));
  const batchIds = direction === 'forward' ? [...new Set(used.map(({ batchId }) => batchId))] : null;
  const outputs = await tx.query<OutputRow[]>(
    `select o.batch_id as "batchId", o.lot_id as "lotId", o.kind, o.batch_input_id as "batchInputId",
       sum(m.quantity)::bigint as quantity
     from batch_output o join standing_movement m on m.lot_id = o.lot_id and m.batch_id = o.batch_id and m.cause = 'production'
     where o.lot_id = any($1::bigint[]) and ($2::bigint[] is null or o.batch_id = any($2::bigint[]))
     group by o.batch_id, o.lot_id order by o.batch_id, o.lot_id`,
    [lotIds, batchIds],
  );
  const parts = await tx.query<PartRow[]>(
    `select l.parent_lot_id as "parentId", l.id as "lotId", m.cause as kind, sum(m.quantity)::bigint as quantity
     from lot l join standing_movement m on m.lot_id = l.id and m.cause in ('split', 'return') and m.quantity > 0
     where l.id = any($1::bigint[]) and l.parent_lot_id = any($1::bigint[])
       and (m.cause = 'return' or m.other_lot_id = l.parent_lot_id)
     group by l.id, m.cause order by l.id`,
    [lotIds],
  );
  return { used, outputs, parts };
}

/** What went out of these lots: one row for each lot, order line and shipment. */
export interface ShippedRow {
  lotId: number;
  orderId: number;
  orderLineId: number;
  shipmentId: number | null;
  channel: string;
  number: string;
  customerId: number | null;
  customer: string | null;
  item: string;
  shippedOn: string;
  quantity: number;
  /** Of it, what came back. Of a lot sent for a line in several parcels, the first are taken to have come back first. */
  returned: number;
}

/**
 * Everything that was shipped of these lots, by day, order and lot. Three plain statements: what went, what of it came
 * back, and to whom. One that also ranked the parcels for the returns took twice as long for 3 000 of them.
 */
export async function shippedRows(tx: EntityManager, lotIds: readonly number[]): Promise<ShippedRow[]> {
  const sent = await tx.query<SentRow[]>(SENT, [lotIds]);
  const lineIds = [...new Set(sent.map(({ orderLineId }) => orderLineId))];
  const lines = new Map((await tx.query<LineRow[]>(LINES, [lineIds])).map((line) => [line.orderLineId, line]));
  const back = new Map<string, number>();
  for (const { lotId, orderLineId, quantity } of await tx.query<BackRow[]>(CAME_BACK, [lotIds]))
    back.set(`${lotId} ${orderLineId}`, quantity);
  const rows = sent.map((row) => shippedOf(row, lines.get(row.orderLineId)!)).sort(byParcel);
  for (const row of rows) {
    const key = `${row.lotId} ${row.orderLineId}`;
    const left = back.get(key);
    if (left === undefined) continue;
    row.returned = Math.min(left, row.quantity);
    back.set(key, left - row.returned);
  }
  return rows;
}

type SentRow = Pick<ShippedRow, 'lotId' | 'orderLineId' | 'shipmentId' | 'shippedOn' | 'quantity'>;
type LineRow = Pick<ShippedRow, 'orderLineId' | 'orderId' | 'channel' | 'number' | 'customerId' | 'customer' | 'item'>;
type BackRow = Pick<ShippedRow, 'lotId' | 'orderLineId' | 'quantity'>;

/** Member by member: spreading both took a third of the time of a whole trace. */
function shippedOf(sent: SentRow, line: LineRow): ShippedRow {
  return {
    lotId: sent.lotId,
    orderId: line.orderId,
    orderLineId: sent.orderLineId,
    shipmentId: sent.shipmentId,
    channel: line.channel,
    number: line.number,
    customerId: line.customerId,
    customer: line.customer,
    item: line.item,
    shippedOn: sent.shippedOn,
    quantity: sent.quantity,
    returned: 0,
  };
}

const byParcel = (a: ShippedRow, b: ShippedRow): number =>
  byText(a.shippedOn, b.shippedOn) ||
  byText(a.channel, b.channel) ||
  byText(a.number, b.number) ||
  a.lotId - b.lotId ||
  a.orderLineId - b.orderLineId ||
  (a.shipmentId ?? 0) - (b.shipmentId ?? 0);

const SENT = `
  select m.lot_id as "lotId", m.order_line_id as "orderLineId", m.shipment_id as "shipmentId",
    min(m.done_on) as "shippedOn", -sum(m.quantity)::bigint as quantity
  from standing_movement m where m.lot_id = any($1::bigint[]) and m.cause = 'shipment'
    and m.order_line_id is not null
  group by 1, 2, 3`;

const LINES = `
  select ol.id as "orderLineId", o.id as "orderId", o.channel, o.number, c.id as "customerId", c.name as customer,
    i.code as item
  from order_line ol join customer_order o on o.id = ol.order_id join item i on i.id = ol.item_id
    left join customer c on c.id = o.customer_id
  where ol.id = any($1::bigint[])`;

const CAME_BACK = `
  select l.parent_lot_id as "lotId", m.order_line_id as "orderLineId", sum(m.quantity)::bigint as quantity
  from lot l join standing_movement m on m.lot_id = l.id and m.cause = 'return'
    and m.order_line_id is not null
  where l.parent_lot_id = any($1::bigint[]) group by 1, 2`;
