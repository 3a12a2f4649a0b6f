import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { addDays } from '../kernel/measure/day.js';
import { Problem } from '../platform/problem.js';
import type { ClosingView } from './finish.schema.js';
import type { BatchLine, LockedBatch } from './locked-batch.js';

/**
 * The weight that went into the goods: of lots, of what is in no lot (as planned where nobody weighed it), and in pieces
 * that were worked in. What is only packed around them does not count.
 */
export async function putInOf(
  tx: EntityManager,
  batch: LockedBatch,
  lines: readonly BatchLine[],
): Promise<{ putInMg: number; unbookedMg: number }> {
  let bookedMg = 0;
  let unbookedMg = 0;
  for (const line of lines) {
    if (line.step === 'pack') continue;
    if (line.measure === 'weighed') bookedMg += line.weighed;
    if (!line.stocked && line.measure === 'weighed') unbookedMg += line.unbooked === 0 ? line.quantity : line.unbooked;
    if (line.measure === 'counted' && line.reworkLotId !== null) unbookedMg += await contentsOf(tx, line);
  }
  if (!Number.isSafeInteger(bookedMg + unbookedMg))
    throw new Problem({ status: 422, code: 'too-large', detail: `Batch ${batch.code} is too large to weigh.` });
  return { putInMg: bookedMg + unbookedMg, unbookedMg };
}

/** What is in pieces that were made here, by what their own batch says of them. */
async function contentsOf(tx: EntityManager, line: BatchLine): Promise<number> {
  const [row] = await tx.query<{ mg: number }[]>(
    `select coalesce(floor(f.made_mg::numeric * $2 / nullif(f.made, 0)), 0)::bigint as mg
     from lot l left join batch_finish f on f.batch_id = (select o.batch_id from batch_output o
       where o.lot_id in (l.id, l.parent_lot_id) and o.kind = 'made' limit 1)
     where l.id = $1`,
    [line.reworkLotId, line.weighed],
  );
  return row!.mg;
}

/** The weight of what was made: of a bulk itself, of a product what its units hold by the formula. */
export async function madeMgOf(tx: EntityManager, batch: LockedBatch, made: number): Promise<number> {
  if (batch.measure === 'weighed') return made;
  const [row] = await tx.query<{ mg: string }[]>(
    `select (coalesce(sum(fl.amount), 0) * $2::bigint)::text as mg from batch b
       join formula_line fl on fl.formula_id = b.formula_id and fl.basis = 'each' and fl.step <> 'pack'
       join item i on i.id = fl.item_id and i.measure = 'weighed'
     where b.id = $1`,
    [batch.id, made],
  );
  return Number(row!.mg);
}

/**
 * How long what a batch made keeps: by its own shelf life from the day it was poured, and by the earliest date of the
 * materials in it, through every bulk between. The workshop says whether the second shortens the first.
 */
export async function usableUntil(
  tx: EntityManager,
  batch: LockedBatch,
  on: string,
): Promise<{ keepsUntil: string | null; materialsUntil: string | null; expiresOn: string | null }> {
  const keepsUntil = batch.shelfLifeDays === null ? null : addDays(on, batch.shelfLifeDays);
  const [row] = await tx.query<{ until: string | null }[]>(
    `select min(case when i.kind = 'material' then l.expires_on else f.materials_until end) as until
     from (select distinct lot_id from standing_movement where batch_id = $1 and cause = 'consumption') used
       join lot l on l.id = used.lot_id join item i on i.id = l.item_id and i.measure = 'weighed'
       left join batch_output o on o.lot_id in (l.id, l.parent_lot_id) and o.kind = 'made'
       left join batch_finish f on f.batch_id = o.batch_id`,
    [batch.id],
  );
  const materialsUntil = row!.until;
  const { isBestBeforeOfMaterials } = await workshopOf(tx);
  const isShortened =
    isBestBeforeOfMaterials && materialsUntil !== null && (keepsUntil === null || materialsUntil < keepsUntil);
  return { keepsUntil, materialsUntil, expiresOn: isShortened ? materialsUntil : keepsUntil };
}

/** What the closing of a batch said; undefined for one that is not closed. */
export async function closingOfBatch(tx: EntityManager, batchId: number): Promise<ClosingView | undefined> {
  const rows = await tx.query<ClosingView[]>(
    `select finished_on as "finishedOn", put_in_mg as "putInMg", unbooked_mg as "unbookedMg", made, made_mg as "madeMg",
       left_mg as "leftMg", loss_mg as "lossMg", expected_loss_mg as "expectedLossMg", loss_reason as "lossReason",
       density_ug_per_ml as "densityUgPerMl", minutes, labour_e4 as "labourE4", inputs_e4 as "inputsE4",
       lost_e4 as "lostE4", keeps_until as "keepsUntil", materials_until as "materialsUntil"
     from batch_finish where batch_id = $1`,
    [batchId],
  );
  return rows[0];
}
