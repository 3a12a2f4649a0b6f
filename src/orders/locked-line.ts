import type { EntityManager } from 'typeorm';

/** An order line in words: a shop's code may stand in an order more than once. */
export interface OrderLineName {
  channel: string;
  number: string;
  code: string;
  occurrence: number;
}

export interface LockedLine {
  id: number;
  orderId: number;
  itemId: number;
  /** Neither shipped nor cancelled, and how much of that is set aside. */
  open: number;
  reserved: number;
  shipBy: string;
  owedDays: number;
}

/** Locks the order, then the line. Undefined where there is none. The lot is to be locked after it, never before. */
export async function lockOrderLine(tx: EntityManager, name: OrderLineName): Promise<LockedLine | undefined> {
  const orders = await tx.query<{ id: number }[]>(
    'select id from customer_order where channel = $1 and number = $2 for update',
    [name.channel, name.number],
  );
  if (!orders[0]) return undefined;
  const lines = await tx.query<{ id: number }[]>(
    'select id from order_line where order_id = $1 and shop_code = $2 and occurrence = $3 for update',
    [orders[0].id, name.code, name.occurrence],
  );
  // asked once the line is locked: a sum in the statement that waits would be of the moment before the wait
  const rows = await tx.query<LockedLine[]>(
    `select ol.id, ol.order_id as "orderId", ol.item_id as "itemId", ol.quantity - ol.shipped - ol.cancelled as open,
       (select coalesce(sum(open), 0)::bigint from reservation where order_line_id = ol.id) as reserved,
       ol.ship_by as "shipBy", i.owed_life_days as "owedDays"
     from order_line ol join item i on i.id = ol.item_id where ol.id = $1`,
    [lines[0]?.id ?? null],
  );
  return rows[0];
}
