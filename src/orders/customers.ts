import type { EntityManager } from 'typeorm';

/** How a customer is reached. */
export async function setContact(tx: EntityManager, customerId: number, contact: string): Promise<void> {
  await tx.query('update customer set contact = $2 where id = $1', [customerId, contact]);
}
