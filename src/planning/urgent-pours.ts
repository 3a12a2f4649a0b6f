import type { EntityManager } from 'typeorm';
import type { ProposedBatch } from '../kernel/plan/proposal.js';

/** What a batch of a proposal is made for. */
export type Pegged = Pick<ProposedBatch, 'key' | 'madeFor'>;

const IS_OPEN_AND_URGENT = `o.urgent and o.status = 'confirmed' and l.quantity > l.shipped + l.cancelled`;

/** Keys of the open lines of urgent orders, as it is now. */
export async function urgentLines(tx: EntityManager): Promise<Set<string>> {
  const rows = await tx.query<{ key: string }[]>(
    `select o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence as key
     from customer_order o join order_line l on l.order_id = o.id where ${IS_OPEN_AND_URGENT}`,
  );
  return new Set(rows.map(({ key }) => key));
}

/** Codes of a week's batches that are made for an urgent line, through whatever is made of them. */
export async function urgentBatches(tx: EntityManager, start: string): Promise<Set<string>> {
  const rows = await tx.query<{ code: string }[]>(
    `with recursive made_for as (
       select b.code, p.for_batch_id, p.order_line_id from batch b join peg p on p.batch_id = b.id
       where b.day between $1::date and $1::date + 6 and b.status <> 'cancelled'
       union
       select m.code, p.for_batch_id, p.order_line_id from made_for m join peg p on p.batch_id = m.for_batch_id)
     select distinct m.code from made_for m join order_line l on l.id = m.order_line_id
       join customer_order o on o.id = l.order_id where ${IS_OPEN_AND_URGENT}`,
    [start],
  );
  return new Set(rows.map(({ code }) => code));
}

/** The same of what is proposed, by the keys of its batches. */
export function urgentProposed(pegged: readonly Pegged[], lines: ReadonlySet<string>): Set<string> {
  const urgent = new Set<string>();
  // what is made of a batch stands in any order beside it: so often as levels lie between
  for (let before = -1; before < urgent.size;) {
    before = urgent.size;
    for (const { key, madeFor } of pegged)
      if (madeFor.some((peg) => (peg.for === 'line' ? lines.has(peg.key) : peg.for === 'batch' && urgent.has(peg.key))))
        urgent.add(key);
  }
  return urgent;
}
