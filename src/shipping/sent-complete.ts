import type { EntityManager } from 'typeorm';
import { SENT_AS } from '../orders/sends.js';
import { conflict } from '../platform/problem.js';
import { FAIR_CHANNEL } from './fair-channel.js';

const NAMED_MOST = 3;

/** Throws a 409 problem where something of an order is left that is sent complete: then nothing of it goes. */
export async function refusePartOfComplete(tx: EntityManager, order: { id: number; number: string }): Promise<void> {
  const left = await tx.query<{ name: string; open: number }[]>(
    `select i.name, l.quantity - l.shipped - l.cancelled as open
     from order_line l join customer_order o on o.id = l.order_id join channel c on c.code = o.channel
       join item i on i.id = l.item_id
     where o.id = $1 and o.channel <> $2 and ${SENT_AS} = 'complete' and l.quantity > l.shipped + l.cancelled
     order by l.id`,
    [order.id, FAIR_CHANNEL],
  );
  if (left.length === 0) return;
  const named = left.slice(0, NAMED_MOST).map(({ name, open }) => `${open} ${name}`);
  const more = left.length > named.length ? [`${left.length - named.length} more lines`] : [];
  throw conflict(
    'sent-complete',
    `Order ${order.number} goes all at once, and this would leave ${[...named, ...more].join(', ')}. To send a part of it, say on its page that it goes in parts or line by line.`,
  );
}
