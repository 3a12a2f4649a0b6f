import type { EntityManager } from 'typeorm';

/**
 * Gives back what is reserved for lines of these orders past their open quantity, the latest need first. To be called in
 * the act that lowered an open quantity, after it did.
 */
export async function freeExcess(tx: EntityManager, orderIds: readonly number[]): Promise<void> {
  await tx.query(
    `select free_reservation(id, unused)
     from (
       select r.id, r.lot_id, r.batch_id, r.delivery_line_id,
         least(r.open, sum(r.open) over (partition by l.id order by r.need_on, r.id)
           - (l.quantity - l.shipped - l.cancelled))::bigint as unused
       from order_line l join reservation r on r.order_line_id = l.id and r.open > 0
       where l.order_id = any($1::bigint[])
       order by r.lot_id, r.batch_id, r.delivery_line_id, r.id
     ) in_lock_order
     where unused > 0`,
    [orderIds],
  );
}

/** Gives back all that is reserved for these lines: to be called before they become lines of another item. */
export async function freeAll(tx: EntityManager, lineIds: readonly number[]): Promise<void> {
  await tx.query(
    `select free_reservation(id, open)
     from (
       select id, open from reservation where order_line_id = any($1::bigint[]) and open > 0
       order by lot_id, batch_id, delivery_line_id, id
     ) in_lock_order`,
    [lineIds],
  );
}
