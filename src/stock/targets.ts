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

export interface LockedInput {
  id: number;
  batchId: number;
  batchStatus: string;
  itemId: number;
  item: string;
  quantity: number;
  weighed: number;
  closed: boolean;
  reserved: number;
  needOn: string;
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

/**
 * Locks the batch, then the input: whoever sets something aside for an input holds its batch. Undefined where there is
 * none. The lot is to be locked after it, never before.
 */
export async function lockInput(tx: EntityManager, batch: string, position: number): Promise<LockedInput | undefined> {
  const batches = await tx.query<{ id: number; status: string }[]>(
    'select id, status from batch where code = $1 for update',
    [batch],
  );
  if (!batches[0]) return undefined;
  const rows = await tx.query<Omit<LockedInput, 'batchId' | 'batchStatus'>[]>(
    `select bi.id, bi.item_id as "itemId", i.code as item, bi.quantity, bi.weighed, bi.closed,
       (select coalesce(sum(open), 0)::bigint from reservation where batch_input_id = bi.id) as reserved,
       bi.need_on as "needOn"
     from batch_input bi join item i on i.id = bi.item_id
     where bi.batch_id = $1 and bi.position = $2 for update of bi`,
    [batches[0].id, position],
  );
  return rows[0] && { ...rows[0], batchId: batches[0].id, batchStatus: batches[0].status };
}

/**
 * Whether everything of a batch that is weighed in its first step is weighed, or said to be all. A batch that only fills
 * or packs has one step: then everything counts, but for what goes on after a rest. Water from the tap is in no lot, so
 * nobody waits for it.
 */
export async function isAllWeighed(tx: EntityManager, batchId: number): Promise<boolean> {
  const rows = await tx.query<{ done: boolean }[]>(
    `select not exists (select from batch_input bi join item i on i.id = bi.item_id
       where bi.batch_id = $1 and i.stocked and not bi.closed and bi.weighed < bi.quantity
         and (bi.step = 'make' or not exists (select from batch_input where batch_id = $1 and step = 'make'))
         and not (bi.step = 'pack' and exists (select from batch where id = $1 and ready_on > day)
           and exists (select from batch_input where batch_id = $1 and step <> 'pack'))) as done`,
    [batchId],
  );
  return rows[0]!.done;
}
