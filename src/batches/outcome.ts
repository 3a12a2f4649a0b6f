import type { EntityManager } from 'typeorm';

/** What came of a batch: weights in milligrams, `made` in the item's unit, money in 1/10 000. */
export interface Outcome {
  on: string;
  putInMg: number;
  unbookedMg: number;
  made: number;
  madeMg: number;
  leftMg: number;
  lossMg: number;
  expectedLossMg: number;
  lossReason: string;
  densityUgPerMl: number | null;
  minutes: number;
  labourE4: number;
  inputsE4: number;
  lostE4: number;
  keepsUntil: string | null;
  materialsUntil: string | null;
}

/** Closes a batch, once: what it was meant to make is from now on what it made. */
export async function close(tx: EntityManager, batchId: number, came: Outcome): Promise<void> {
  await tx.query(
    `insert into batch_finish (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg,
       expected_loss_mg, loss_reason, density_ug_per_ml, minutes, labour_e4, inputs_e4, lost_e4, keeps_until,
       materials_until)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)`,
    [
      batchId,
      came.on,
      came.putInMg,
      came.unbookedMg,
      came.made,
      came.madeMg,
      came.leftMg,
      came.lossMg,
      came.expectedLossMg,
      came.lossReason,
      came.densityUgPerMl,
      came.minutes,
      came.labourE4,
      came.inputsE4,
      came.lostE4,
      came.keepsUntil,
      came.materialsUntil,
    ],
  );
}

/** What went into a set that is packed, weighed by the book, is what it weighs: nothing is lost in packing. */
export async function closePacked(
  tx: EntityManager,
  batchId: number,
  came: Pick<Outcome, 'on' | 'made' | 'minutes' | 'labourE4' | 'inputsE4'>,
): Promise<void> {
  await tx.query(
    `insert into batch_finish (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg,
       expected_loss_mg, minutes, labour_e4, inputs_e4, lost_e4)
     select $1, $2, weights.mg, 0, $3, weights.mg, 0, 0, 0, $4, $5, $6, 0
     from (select coalesce(-sum(m.quantity) filter (where i.measure = 'weighed' and bi.step <> 'pack'), 0)::bigint as mg
       from movement m join batch_input bi on bi.id = m.batch_input_id join item i on i.id = bi.item_id
       where m.batch_id = $1 and m.cause = 'consumption') weights`,
    [batchId, came.on, came.made, came.minutes, came.labourE4, came.inputsE4],
  );
}

/** The lot a batch made. */
export async function noteMade(tx: EntityManager, batchId: number, lotId: number): Promise<void> {
  await tx.query(`insert into batch_output (batch_id, lot_id, kind) values ($1, $2, 'made')`, [batchId, lotId]);
}

/** A lot of what was left over of one of its inputs. */
export async function noteLeftover(tx: EntityManager, batchId: number, lotId: number, inputId: number): Promise<void> {
  await tx.query(`insert into batch_output (batch_id, lot_id, kind, batch_input_id) values ($1, $2, 'leftover', $3)`, [
    batchId,
    lotId,
    inputId,
  ]);
}
