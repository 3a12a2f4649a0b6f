import type { EntityManager } from 'typeorm';

/** Moves a batch with its rest and its inputs; what is packed is needed only once it is ready. */
export async function moveTo(tx: EntityManager, batchId: number, day: string, readyOn: string): Promise<void> {
  await tx.query(
    `update batch set day = $2, ready_on = $3, emptied_on = greatest($3, emptied_on + ($2 - day)),
       expires_on = expires_on + ($2 - day) where id = $1`,
    [batchId, day, readyOn],
  );
  await tx.query(
    `update batch_input set need_on = case when step = 'pack' then $3::date else $2::date end where batch_id = $1`,
    [batchId, day, readyOn],
  );
  await keepSourcesBusy(tx, batchId);
}

/** A vessel a batch is filled from is busy until the last filling that draws from it. */
async function keepSourcesBusy(tx: EntityManager, batchId: number): Promise<void> {
  await tx.query(
    `update batch s set emptied_on = greatest(s.emptied_on, s.ready_on, b.day)
     from reservation r join batch_input i on i.id = r.batch_input_id join batch b on b.id = i.batch_id
     where b.id = $1 and r.batch_id = s.id and r.open > 0 and s.status in ('planned', 'reserved')
       and s.emptied_on < b.day`,
    [batchId],
  );
}

/** Puts a batch into another vessel. */
export async function putInto(tx: EntityManager, batchId: number, vessel: string): Promise<void> {
  await tx.query('update batch set vessel_id = (select id from vessel where code = $2) where id = $1', [
    batchId,
    vessel,
  ]);
}

/** What is to come out, in the item's unit, what goes in for it, and how long that takes without washing. */
export async function setSize(
  tx: EntityManager,
  batchId: number,
  { output, putInMg, minutes }: { output: number; putInMg: number; minutes: number },
): Promise<void> {
  await tx.query('update batch set output = $2, put_in_mg = $3, minutes = $4 + wash_minutes where id = $1', [
    batchId,
    output,
    putInMg,
    minutes,
  ]);
}

/** How many minutes of its day a batch has for washing its vessel first, beside those it takes itself; `after`: an item. */
export async function setWashing(
  tx: EntityManager,
  batchId: number,
  { minutes, after }: { minutes: number; after: string | null },
): Promise<void> {
  await tx.query(
    `update batch set minutes = minutes - wash_minutes + $2, wash_minutes = $2,
       wash_after_id = case when $2 > 0 then (select id from item where code = $3) end where id = $1`,
    [batchId, minutes, after],
  );
}
