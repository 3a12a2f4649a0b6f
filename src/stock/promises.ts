import type { EntityManager } from 'typeorm';
import type { BrokenPromise } from './stock.schema.js';

/** An open reservation with its target in words. */
export interface OpenPromise extends BrokenPromise {
  id: number;
  runId: number | null;
  deliveryLineId: number | null;
  batchInputId: number | null;
  orderLineId: number | null;
}

/** Open reservations on these lots, batches' outputs or delivery lines, the one needed first first, then by id. */
export function openPromises(
  tx: EntityManager,
  on: { lotIds?: readonly number[]; batchIds?: readonly number[]; deliveryLineIds?: readonly number[] },
): Promise<OpenPromise[]> {
  return tx.query<OpenPromise[]>(
    `select r.id, r.run_id as "runId", r.delivery_line_id as "deliveryLineId", r.batch_input_id as "batchInputId",
       r.order_line_id as "orderLineId", r.open as quantity, r.need_on as "needOn", i.code as item, b.code as batch,
       o.channel || ' ' || o.number as "order"
     from reservation r
       left join batch_input bi on bi.id = r.batch_input_id
       left join batch b on b.id = bi.batch_id
       left join order_line ol on ol.id = r.order_line_id
       left join customer_order o on o.id = ol.order_id
       join item i on i.id = coalesce(bi.item_id, ol.item_id)
     where r.open > 0 and (r.lot_id = any($1::bigint[]) or r.delivery_line_id = any($2::bigint[])
       or r.batch_id = any($3::bigint[]))
     order by r.need_on, r.id`,
    [on.lotIds ?? [], on.deliveryLineIds ?? [], on.batchIds ?? []],
  );
}

/** The part of a promise that an answer shows. */
export function brokenOf(promise: OpenPromise, quantity: number): BrokenPromise {
  return { item: promise.item, quantity, needOn: promise.needOn, batch: promise.batch, order: promise.order };
}
