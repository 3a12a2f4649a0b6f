import type { EntityManager } from 'typeorm';
import { CustomerOrder } from './orders.entity.js';

/** Moves an order on; the database refuses a step its states do not allow. */
export async function setStatus(
  tx: EntityManager,
  order: CustomerOrder,
  status: CustomerOrder['status'],
): Promise<void> {
  await tx.update(CustomerOrder, { id: order.id }, { status });
  order.status = status;
}

/** An order with nothing open left is fulfilled. */
export async function fulfilIfDone(tx: EntityManager, orderId: number): Promise<void> {
  await tx.query(
    `update customer_order set status = 'fulfilled' where id = $1 and status = 'confirmed'
       and not exists (select from order_line where order_id = $1 and quantity > shipped + cancelled)`,
    [orderId],
  );
}

/** An order that is no longer all shipped is open again. */
export async function reopenIfOpen(tx: EntityManager, orderId: number | null): Promise<void> {
  await tx.query(
    `update customer_order set status = 'confirmed' where id = $1 and status = 'fulfilled'
       and exists (select from order_line where order_id = $1 and quantity > shipped + cancelled)`,
    [orderId],
  );
}

/** What is still open of an order is cancelled. */
export async function cancelOpen(tx: EntityManager, orderId: number): Promise<void> {
  await tx.query('update order_line set cancelled = quantity - shipped where order_id = $1', [orderId]);
}
