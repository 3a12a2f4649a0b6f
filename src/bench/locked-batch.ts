import type { EntityManager } from 'typeorm';
import { closeInputs } from '../batches/inputs.js';
import type { ItemKind } from '../catalog/item.entity.js';
import type { Step } from '../catalog/formula.entity.js';
import type { Basis } from '../kernel/formula/formula.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { conflict, notFound } from '../platform/problem.js';

/** A batch nobody else can change until this act ends, with what its item and its formula say. */
export interface LockedBatch {
  id: number;
  code: string;
  status: string;
  itemId: number;
  item: string;
  kind: ItemKind;
  measure: Measure;
  shelfLifeDays: number | null;
  lossPpb: number;
  residueMg: number;
  restDays: number;
  day: string;
  readyOn: string;
  made: number | null;
  promised: number;
  minutes: number;
  isRework: boolean;
  isPaused: boolean;
  /** The lot it made. */
  lotId: number | null;
}

/** Locks a batch. Throws a 404 problem. */
export async function lockBatch(tx: EntityManager, code: string): Promise<LockedBatch> {
  const locked = await tx.query<{ id: number }[]>('select id from batch where code = $1 for update', [code]);
  if (!locked[0]) throw notFound('batch', code);
  // read once the batch is locked: what hangs on it would else be of the moment before the wait
  const rows = await tx.query<LockedBatch[]>(
    `select b.id, b.code, b.status, b.item_id as "itemId", i.code as item, i.kind, i.measure,
       i.shelf_life_days as "shelfLifeDays", f.loss_ppb as "lossPpb", f.residue_mg as "residueMg",
       f.rest_days as "restDays", b.day, b.ready_on as "readyOn", b.made, b.promised, b.minutes,
       b.is_rework as "isRework", ${PAUSED} as "isPaused",
       (select lot_id from batch_output where batch_id = b.id and kind = 'made') as "lotId"
     from batch b join item i on i.id = b.item_id join formula f on f.id = b.formula_id where b.id = $1`,
    [locked[0].id],
  );
  return rows[0]!;
}

/** Whether batch `b` is paused: what was said last of it. */
export const PAUSED = `coalesce((select e.kind = 'pause' from bench_entry e
  where e.batch_id = b.id and e.kind in ('pause', 'resume') order by e.id desc limit 1), false)`;

/** Throws 409 `wrong-state` or `paused` where the batch is not at the bench. */
export function refuseUnlessAtBench(batch: Pick<LockedBatch, 'code' | 'status' | 'isPaused'>, act: string): void {
  if (batch.status !== 'reserved' && batch.status !== 'weighed')
    throw conflict('wrong-state', `Batch ${batch.code} is ${batch.status}, so it is not ${act}.`);
  if (batch.isPaused) throw conflict('paused', `Batch ${batch.code} is paused. Resume it first.`);
}

/** One line of a batch as it stands. Amounts in milligrams or units. */
export interface BatchLine {
  id: number;
  position: number;
  itemId: number;
  item: string;
  name: string;
  measure: Measure;
  stocked: boolean;
  step: Step;
  quantity: number;
  /** Of lots. */
  weighed: number;
  /** Of what is in no lot. */
  unbooked: number;
  closed: boolean;
  /** The rejected lot that is worked in. */
  reworkLotId: number | null;
  /** How the formula states it; null for what the formula does not know. */
  basis: Basis | null;
  amount: number | null;
  /** What went in cost so much. */
  valueE4: number;
}

/** The lines of a locked batch by position. */
export function linesOfBatch(tx: EntityManager, batchId: number): Promise<BatchLine[]> {
  return tx.query<BatchLine[]>(
    `select bi.id, bi.position, bi.item_id as "itemId", i.code as item, i.name, i.measure, i.stocked, bi.step,
       bi.quantity, bi.weighed, bi.closed, bi.rework_lot_id as "reworkLotId", fl.basis, fl.amount,
       (select coalesce(sum(e.quantity), 0)::bigint from bench_entry e where e.batch_input_id = bi.id) as unbooked,
       (select coalesce(-sum(m.value_e4), 0)::bigint from movement m where m.batch_input_id = bi.id) as "valueE4"
     from batch_input bi join item i on i.id = bi.item_id join batch b on b.id = bi.batch_id
       left join formula_line fl on fl.formula_id = b.formula_id and fl.position = bi.position
         and fl.item_id = bi.item_id and bi.rework_lot_id is null and not b.is_rework
     where bi.batch_id = $1 order by bi.position`,
    [batchId],
  );
}

/** Closes lines and gives back all that is still set aside for them. */
export async function closeLines(tx: EntityManager, ids: readonly number[]): Promise<void> {
  await closeInputs(tx, ids);
  await tx.query(
    `select free_reservation(id, open) from (select id, open from reservation
       where batch_input_id = any($1::bigint[]) and open > 0
       order by lot_id, batch_id, delivery_line_id, id) in_lock_order`,
    [ids],
  );
}
