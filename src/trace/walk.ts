import type { EntityManager } from 'typeorm';

/** As many lots as one walk visits: a workshop of many years stays far below, and nothing grows without end. */
export const LOTS_MAX = 50_000;

export type Direction = 'back' | 'forward';

/* Every statement here leaves out what was corrected: an entry that another one reverses never happened. */
const STANDS = (entry: string) => `not exists (select from movement undo where undo.reverses_id = ${entry}.id)`;

/* What a lot was split off or sent back from; a split that was taken back brought nothing. */
const CAME_AS_PART = `exists (select from movement came where came.lot_id = l.id and came.cause in ('split', 'return')
  and came.quantity > 0 and ${STANDS('came')})`;

/* What a lot comes of: of what was left over of an input only what was weighed for it, of what was made everything. */
const SOURCES = `
  select m.lot_id as id from batch_output o join movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
    where o.lot_id = w.lot_id and (o.kind = 'made' or m.batch_input_id = o.batch_input_id) and ${STANDS('m')}
  union all
  select l.parent_lot_id from lot l where l.id = w.lot_id and l.parent_lot_id is not null and ${CAME_AS_PART}`;

const RESULTS = `
  select o.lot_id as id from movement m join batch_output o on o.batch_id = m.batch_id
      and (o.kind = 'made' or o.batch_input_id = m.batch_input_id)
    where m.lot_id = w.lot_id and m.cause = 'consumption' and ${STANDS('m')}
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

const USED = `
  select m.lot_id as "lotId", m.batch_id as "batchId", m.batch_input_id as "batchInputId",
    -sum(m.quantity)::bigint as quantity
  from movement m
  where m.lot_id = any($1::bigint[]) and m.cause = 'consumption' and m.batch_id is not null and ${STANDS('m')}`;

/** What the links between lots are made of, for lots that were found by a walk in this direction. */
export async function linkRows(
  tx: EntityManager,
  direction: Direction,
  lotIds: readonly number[],
): Promise<{ used: UsedRow[]; outputs: OutputRow[]; parts: PartRow[] }> {
  const used = await tx.query<UsedRow[]>(
    direction === 'forward'
      ? `${USED} group by 1, 2, 3 order by 2, 3, 1`
      : `${USED} and exists (select from batch_output o where o.batch_id = m.batch_id and o.lot_id = any($1::bigint[])
           and (o.kind = 'made' or o.batch_input_id = m.batch_input_id))
         group by 1, 2, 3 order by 2, 3, 1`,
    [lotIds],
  );
  const batchIds = direction === 'forward' ? [...new Set(used.map(({ batchId }) => batchId))] : null;
  const outputs = await tx.query<OutputRow[]>(
    `select o.batch_id as "batchId", o.lot_id as "lotId", o.kind, o.batch_input_id as "batchInputId",
       sum(m.quantity)::bigint as quantity
     from batch_output o join movement m on m.lot_id = o.lot_id and m.cause = 'production'
     where o.lot_id = any($1::bigint[]) and ($2::bigint[] is null or o.batch_id = any($2::bigint[])) and ${STANDS('m')}
     group by o.batch_id, o.lot_id order by o.batch_id, o.lot_id`,
    [lotIds, batchIds],
  );
  const parts = await tx.query<PartRow[]>(
    `select l.parent_lot_id as "parentId", l.id as "lotId", m.cause as kind, sum(m.quantity)::bigint as quantity
     from lot l join movement m on m.lot_id = l.id and m.cause in ('split', 'return') and m.quantity > 0
     where l.id = any($1::bigint[]) and l.parent_lot_id = any($1::bigint[]) and ${STANDS('m')}
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

/** Everything that was shipped of these lots, by day, order and lot. */
export function shippedRows(tx: EntityManager, lotIds: readonly number[]): Promise<ShippedRow[]> {
  return tx.query<ShippedRow[]>(SHIPPED, [lotIds]);
}

const SHIPPED = `
  with sent as materialized (
    select m.lot_id, m.order_line_id, m.shipment_id, min(m.done_on) as day, -sum(m.quantity)::bigint as quantity
    from movement m
    where m.lot_id = any($1::bigint[]) and m.cause = 'shipment' and ${STANDS('m')}
    group by 1, 2, 3
  ), back as materialized (
    select l.parent_lot_id as lot_id, m.order_line_id, sum(m.quantity)::bigint as quantity
    from lot l join movement m on m.lot_id = l.id and m.cause = 'return' and ${STANDS('m')}
    where l.parent_lot_id = any($1::bigint[])
    group by 1, 2
  ), placed as (
    select s.*, coalesce(b.quantity, 0) as back,
      coalesce(sum(s.quantity) over (partition by s.lot_id, s.order_line_id order by s.day, s.shipment_id
        rows between unbounded preceding and 1 preceding), 0) as before
    from sent s left join back b on b.lot_id = s.lot_id and b.order_line_id = s.order_line_id
  )
  select p.lot_id as "lotId", o.id as "orderId", p.order_line_id as "orderLineId", p.shipment_id as "shipmentId",
    o.channel, o.number, c.id as "customerId", c.name as customer, i.code as item, p.day as "shippedOn", p.quantity,
    least(p.quantity, greatest(0, p.back - p.before))::bigint as returned
  from placed p join order_line ol on ol.id = p.order_line_id join customer_order o on o.id = ol.order_id
    join item i on i.id = ol.item_id left join customer c on c.id = o.customer_id
  order by p.day, o.channel, o.number, p.lot_id, p.order_line_id, p.shipment_id`;
