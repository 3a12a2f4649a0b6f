import type { EntityManager } from 'typeorm';

/** The order of whoever walks in somewhere, on a channel of its own; nothing happens where there is one of that number. */
export async function openWalkInOrder(
  tx: EntityManager,
  { channel, name, number, day }: { channel: string; name: string; number: string; day: string },
): Promise<void> {
  await tx.query('insert into channel (code, name) values ($1, $2) on conflict do nothing', [channel, name]);
  await tx.query(
    `insert into customer_order (channel, number, placed_on, status) values ($1, $2, $3, 'confirmed')
     on conflict do nothing`,
    [channel, number, day],
  );
}

/** One more line of a locked order, for an item under its own code; answers its id. */
export async function addLine(
  tx: EntityManager,
  orderId: number,
  line: { item: string; itemId: number; quantity: number; shipBy: string },
): Promise<number> {
  const [added] = await tx.query<{ id: number }[]>(
    `insert into order_line (order_id, shop_code, occurrence, item_id, quantity, ship_by)
     select $1, $2, coalesce(max(occurrence), 0) + 1, $3, $4, $5 from order_line where order_id = $1 and shop_code = $2
     returning id`,
    [orderId, line.item, line.itemId, line.quantity, line.shipBy],
  );
  return added!.id;
}
