import type { EntityManager } from 'typeorm';
import type { OutboxService } from '../messages/outbox.service.js';
import { conflict, notFound } from '../platform/problem.js';
import type { PurchaseOrderView } from './purchase-orders.schema.js';

/** What is known of a pack `p` for so many of them: the lowest price among the breaks they reach. */
export const PRICE_FOR = (packs: string): string => `least(p.price_e4,
  (select min(b.price_e4) from pack_break b where b.pack_id = p.id and b.from_packs <= ${packs}))`;

const LINES = `
  select l.position as line, i.code as item, i.name, i.measure, p.code as pack, p.size, l.packs, l.price_e4 as "priceE4",
    ${PRICE_FOR('l.packs')} as "priceNowE4", l.confirmed_price_e4 as "confirmedPriceE4",
    case when l.confirmed_price_e4 is not null then coalesce(x.packs, 0) end as "confirmedPacks",
    coalesce(x.received, 0) as received, coalesce(x.to_come, 0) as "toCome", x.cost_e4 as "landedE4"
  from purchase_line l join pack p on p.id = l.pack_id join item i on i.id = p.item_id
    left join lateral (
      select sum(part.packs)::bigint as packs, sum(dl.received)::bigint as received, sum(dl.cost_e4)::bigint as cost_e4,
        sum(case when d.status = 'expected' then greatest(dl.quantity - dl.received, 0) else 0 end)::bigint as to_come
      from purchase_part part join delivery_line dl on dl.id = part.delivery_line_id
        join delivery d on d.id = dl.delivery_id
      where part.purchase_line_id = l.id) x on true
  where l.purchase_order_id = o.id`;

/* The lines of a delivery are numbered by their id, as where it is received. */
const DELIVERIES = `
  select d.code, d.status, d.expected_on as "expectedOn", (
    select json_agg(json_build_object('line', n.line, 'of', l.position, 'packs', part.packs, 'quantity', n.quantity,
        'received', n.received) order by n.line)
    from (select dl.*, row_number() over (order by dl.id) as line from delivery_line dl where dl.delivery_id = d.id) n
      join purchase_part part on part.delivery_line_id = n.id join purchase_line l on l.id = part.purchase_line_id
  ) as lines
  from delivery d where d.id in (
    select dl.delivery_id from purchase_line l join purchase_part part on part.purchase_line_id = l.id
      join delivery_line dl on dl.id = part.delivery_line_id where l.purchase_order_id = o.id)`;

const STATUS = `case when o.status = 'confirmed' then (
    select case when bool_and(d.status <> 'expected') then 'received'
      when bool_or(dl.received > 0) then 'partly-received' else 'confirmed' end
    from purchase_line l join purchase_part part on part.purchase_line_id = l.id
      join delivery_line dl on dl.id = part.delivery_line_id join delivery d on d.id = dl.delivery_id
    where l.purchase_order_id = o.id) else o.status end`;

/** Orders as they are shown, with a condition on `o` (the order with its `shown` status and `supplier` code). */
const ORDER_ROWS = `
  select o.code, o.supplier, o."supplierName", o.shown as status, o.note, o.freight_e4 as "freightE4",
    o.sent_on as "sentOn", o.sent_by as "sentBy", o.reference, 
    (o.created_at at time zone coalesce((select time_zone from workshop), 'UTC'))::date as "createdOn",
    o.created_by as "createdBy", o."supplierEmail", (
      select json_build_object('message', m.uuid, 'to', m.letter->'to'->>0, 'status', m.status, 'error', m.last_error)
      from message m where m.id = o.message_id) as letter,
    (select coalesce(json_agg(x order by x.line), '[]') from (${LINES}) x) as lines,
    (select coalesce(sum(l.packs * l.price_e4), 0)::bigint from purchase_line l where l.purchase_order_id = o.id)
      as "goodsE4",
    (select coalesce(json_agg(x order by x.code), '[]') from (${DELIVERIES}) x) as deliveries
  from (
    select o.*, s.code as supplier, s.name as "supplierName", s.email as "supplierEmail", coalesce(${STATUS}, 'confirmed') as shown
    from purchase_order o join supplier s on s.id = o.supplier_id) o`;

export function orderRows(tx: EntityManager, condition: string, values: unknown[]): Promise<PurchaseOrderView[]> {
  return tx.query<PurchaseOrderView[]>(`${ORDER_ROWS} where ${condition}`, values);
}

export async function orderByCode(tx: EntityManager, code: string): Promise<PurchaseOrderView> {
  const [row] = await orderRows(tx, 'o.code = $1', [code]);
  if (!row) throw notFound('purchase order', code);
  return row;
}

export interface LockedOrder {
  id: number;
  code: string;
  supplier: string;
  supplierId: number;
  status: 'draft' | 'sent' | 'confirmed' | 'cancelled';
  sentOn: string | null;
  freightE4: number;
  /** The email it went out in. */
  messageId: number | null;
}

/** Keeps an email that has not left from leaving. Throws a 409 problem while it is leaving. */
export async function withdrawLetter(tx: EntityManager, outbox: OutboxService, order: LockedOrder): Promise<void> {
  if (order.messageId === null) return;
  if ((await outbox.withdraw(tx, order.messageId)) === null)
    throw conflict('being-sent', 'Its email is leaving right now. Look again in a minute.');
}

/** The order, locked until the act is over, in one of these states. Throws 404 and 409 problems. */
export async function lockOrder(
  tx: EntityManager,
  code: string,
  ...states: LockedOrder['status'][]
): Promise<LockedOrder> {
  const [row] = await tx.query<LockedOrder[]>(
    `select o.id, o.code, s.code as supplier, s.id as "supplierId", o.status, o.sent_on as "sentOn",
       o.freight_e4 as "freightE4", o.message_id as "messageId"
     from purchase_order o join supplier s on s.id = o.supplier_id where o.code = $1 for update of o`,
    [code],
  );
  if (!row) throw notFound('purchase order', code);
  if (!states.includes(row.status)) throw conflict('wrong-status', `Purchase order ${code} is ${row.status}.`);
  return row;
}
