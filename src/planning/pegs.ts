import type { EntityManager } from 'typeorm';

/** What the output is for still sums to it: the stock's part takes up the difference. */
export async function repeg(tx: EntityManager, batchId: number, output: number): Promise<void> {
  const pegs = await tx.query<{ position: number; isStock: boolean; quantity: number }[]>(
    `select position, order_line_id is null and for_batch_id is null as "isStock", quantity from peg
     where batch_id = $1 order by position`,
    [batchId],
  );
  let more = output - pegs.reduce((sum, peg) => sum + peg.quantity, 0);
  // stock gives way first, then what is named last; what is promised was checked before
  for (const peg of [...pegs].sort((a, b) => Number(b.isStock) - Number(a.isStock) || b.position - a.position)) {
    if (more === 0) break;
    if (more > 0 && !peg.isStock) continue;
    const quantity = Math.max(0, peg.quantity + more);
    more += peg.quantity - quantity;
    await tx.query(
      quantity === 0
        ? 'delete from peg where batch_id = $1 and position = $2'
        : 'update peg set quantity = $3 where batch_id = $1 and position = $2',
      quantity === 0 ? [batchId, peg.position] : [batchId, peg.position, quantity],
    );
  }
  if (more > 0) await pegForStock(tx, batchId, more);
}

/**
 * What other batches were to make for this one and no longer give it, because it takes less or is cancelled, they make for
 * stock. To be called once its promises are given back.
 */
export async function releasePegs(tx: EntityManager, batchId: number): Promise<void> {
  const pegs = await tx.query<{ batchId: number; position: number; quantity: number; kept: number }[]>(
    `select p.batch_id as "batchId", p.position, p.quantity, coalesce(sum(r.open + r.consumed), 0)::bigint as kept
     from peg p join batch s on s.id = p.batch_id and s.status in ('planned', 'reserved', 'weighed', 'resting')
       left join reservation r on r.batch_id = s.id and r.batch_input_id in (select id from batch_input where batch_id = $1)
     where p.for_batch_id = $1 group by p.batch_id, p.position
     having p.quantity > coalesce(sum(r.open + r.consumed), 0) order by p.batch_id, p.position`,
    [batchId],
  );
  for (const { batchId: source, position, quantity, kept } of pegs) {
    if (kept === 0) await tx.query('delete from peg where batch_id = $1 and position = $2', [source, position]);
    else await tx.query('update peg set quantity = $3 where batch_id = $1 and position = $2', [source, position, kept]);
    await pegForStock(tx, source, quantity - kept);
  }
}

async function pegForStock(tx: EntityManager, batchId: number, quantity: number): Promise<void> {
  await tx.query(
    `with grown as (
       update peg set quantity = quantity + $2 where batch_id = $1 and position = (select min(position) from peg
         where batch_id = $1 and order_line_id is null and for_batch_id is null) returning position)
     insert into peg (batch_id, position, quantity)
     select $1, (select coalesce(max(position), 0) + 1 from peg where batch_id = $1), $2
     where not exists (select from grown)`,
    [batchId, quantity],
  );
}

/** For whom so much of a batch is made; for nobody it is stock. */
export interface NewPeg {
  orderLineId: number | null;
  forBatchId: number | null;
  quantity: number;
}

/** Says for whom a batch is made; the quantities sum to its output. */
export async function pegBatch(tx: EntityManager, batchId: number, pegs: readonly NewPeg[]): Promise<void> {
  await tx.query(
    `insert into peg (batch_id, position, order_line_id, for_batch_id, quantity)
     select $1, r.position, r."orderLineId", r."forBatchId", r.quantity
     from jsonb_to_recordset($2::jsonb)
       as r (position int, "orderLineId" bigint, "forBatchId" bigint, quantity bigint)`,
    [batchId, JSON.stringify(pegs.map((one, at) => ({ ...one, position: at + 1 })))],
  );
}
