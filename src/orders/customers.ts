import type { EntityManager } from 'typeorm';

/** How a customer is reached. */
export async function setContact(tx: EntityManager, customerId: number, contact: string): Promise<void> {
  await tx.query('update customer set contact = $2 where id = $1', [customerId, contact]);
}

/** The id of the customer of this name, whatever its case. */
export async function customerIdOf(tx: EntityManager, name: string): Promise<number | undefined> {
  const [row] = await tx.query<{ id: number }[]>('select id from customer where lower(name) = lower($1)', [name]);
  return row?.id;
}
