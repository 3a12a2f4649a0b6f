import type { EntityManager } from 'typeorm';
import type { CustomerOrder } from './orders.entity.js';

/** The most one order may count for beside others. */
export const WEIGHT_MAX = 100;

/** What is said of how an order stands beside others; what is left out stays as it is. */
export interface Precedence {
  /** 1 to 100; null: as its channel's orders. */
  weight?: number | null | undefined;
  urgent?: boolean | undefined;
}

export const saysPrecedence = ({ weight, urgent }: Precedence): boolean => weight !== undefined || urgent !== undefined;

/** A person says it of a locked order, which holds from then on whatever a shop's file says. */
export async function sayPrecedence(
  tx: EntityManager,
  order: CustomerOrder,
  { weight = order.weight, urgent = order.urgent }: Precedence,
): Promise<void> {
  await tx.query(
    `update customer_order set weight = $2, urgent = $3, precedence_by = acting_person(), precedence_at = now()
     where id = $1`,
    [order.id, weight, urgent],
  );
  Object.assign(order, { weight, urgent });
}
