import type { EntityManager } from 'typeorm';

/** A batch whose first step is all weighed. Nothing happens to one that is further. */
export async function markWeighed(tx: EntityManager, batchId: number): Promise<void> {
  await tx.query(`update batch set status = 'weighed' where id = $1 and status = 'reserved'`, [batchId]);
}

/** A batch that lacks something again. Nothing happens to one that is not all weighed. */
export async function markLacking(tx: EntityManager, batchId: number): Promise<void> {
  await tx.query(`update batch set status = 'reserved' where id = $1 and status = 'weighed'`, [batchId]);
}

/** A batch that was poured on a day and rests: it moves to that day, and its vessel is busy as long as was planned. */
export async function putToRest(
  tx: EntityManager,
  batchId: number,
  { on, readyOn, expiresOn }: { on: string; readyOn: string; expiresOn: string | null },
): Promise<void> {
  await tx.query(
    `update batch set status = 'resting', day = $2, ready_on = $3, expires_on = $4,
       emptied_on = greatest($3, emptied_on + ($2 - day)) where id = $1`,
    [batchId, on, readyOn, expiresOn],
  );
}

/** Decides about a batch; the database refuses a step its states do not allow. */
export async function decide(
  tx: EntityManager,
  batchId: number,
  to: 'released' | 'rejected' | 'cancelled',
): Promise<void> {
  await tx.query('update batch set status = $2 where id = $1', [batchId, to]);
}
