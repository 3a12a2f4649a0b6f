import type { EntityManager } from 'typeorm';
import type { Step } from '../catalog/formula.entity.js';

export interface LockedInput {
  id: number;
  batchId: number;
  batchStatus: string;
  itemId: number;
  item: string;
  quantity: number;
  weighed: number;
  closed: boolean;
  reserved: number;
  needOn: string;
}

/**
 * Locks the batch, then the input: whoever sets something aside for an input holds its batch. Undefined where there is
 * none. The lot is to be locked after it, never before.
 */
export async function lockInput(tx: EntityManager, batch: string, position: number): Promise<LockedInput | undefined> {
  const batches = await tx.query<{ id: number; status: string }[]>(
    'select id, status from batch where code = $1 for update',
    [batch],
  );
  if (!batches[0]) return undefined;
  const rows = await tx.query<Omit<LockedInput, 'batchId' | 'batchStatus'>[]>(
    `select bi.id, bi.item_id as "itemId", i.code as item, bi.quantity, bi.weighed, bi.closed,
       (select coalesce(sum(open), 0)::bigint from reservation where batch_input_id = bi.id) as reserved,
       bi.need_on as "needOn"
     from batch_input bi join item i on i.id = bi.item_id
     where bi.batch_id = $1 and bi.position = $2 for update of bi`,
    [batches[0].id, position],
  );
  return rows[0] && { ...rows[0], batchId: batches[0].id, batchStatus: batches[0].status };
}

/** Whether a line goes on after the rest, so that the pour does not wait for it: a label, a box. */
export function isAfterRest(line: { step: Step }, lines: readonly { step: Step }[], restDays: number): boolean {
  return restDays > 0 && line.step === 'pack' && lines.some(({ step }) => step !== 'pack');
}

/**
 * Whether everything of a batch that is weighed in its first step is weighed, or said to be all. A batch that only fills
 * or packs has one step: then everything counts, but for what goes on after a rest. Water from the tap is in no lot, so
 * nobody waits for it.
 */
export async function isAllWeighed(tx: EntityManager, batchId: number): Promise<boolean> {
  const lines = await tx.query<{ step: Step; done: boolean; restDays: number }[]>(
    `select bi.step, not i.stocked or bi.closed or bi.weighed >= bi.quantity as done, f.rest_days as "restDays"
     from batch_input bi join item i on i.id = bi.item_id join batch b on b.id = bi.batch_id
       join formula f on f.id = b.formula_id
     where bi.batch_id = $1`,
    [batchId],
  );
  const isMade = lines.some(({ step }) => step === 'make');
  const waitsFor = (line: (typeof lines)[number]) =>
    isMade ? line.step === 'make' : !isAfterRest(line, lines, line.restDays);
  return lines.every((line) => line.done || !waitsFor(line));
}

/** Another amount of an input is wanted, in the item's unit. */
export async function setWanted(tx: EntityManager, inputId: number, quantity: number): Promise<void> {
  await tx.query('update batch_input set quantity = $2 where id = $1', [inputId, quantity]);
}

/** As `setWanted`, at the bench: what was meant before is kept beside it. */
export async function rescale(tx: EntityManager, inputId: number, quantity: number): Promise<void> {
  await tx.query('update batch_input set meant = coalesce(meant, quantity), quantity = $2 where id = $1', [
    inputId,
    quantity,
  ]);
}

/** Nothing more goes into these inputs. */
export async function closeInputs(tx: EntityManager, inputIds: readonly number[]): Promise<void> {
  await tx.query('update batch_input set closed = true where id = any($1::bigint[])', [inputIds]);
}

/** Nothing more goes into a batch. */
export async function closeAllInputs(tx: EntityManager, batchId: number): Promise<void> {
  await tx.query('update batch_input set closed = true where batch_id = $1', [batchId]);
}

/** An input after the last that takes a rejected lot which is worked in; answers its id. */
export async function addReworkInput(
  tx: EntityManager,
  batchId: number,
  { itemId, lotId, needOn, quantity }: { itemId: number; lotId: number; needOn: string; quantity: number },
): Promise<number> {
  const [input] = await tx.query<{ id: number }[]>(
    `insert into batch_input (batch_id, position, item_id, step, need_on, quantity, rework_lot_id)
     select $1, coalesce(max(position), 0) + 1, $2, 'make', $3, $4, $5 from batch_input where batch_id = $1
     returning id`,
    [batchId, itemId, needOn, quantity, lotId],
  );
  return input!.id;
}

/**
 * Gives back what is reserved for an input past what it still lacks, the latest need first. To be called in the act that
 * weighed or closed it, after it did.
 */
export async function freeInputExcess(tx: EntityManager, inputId: number): Promise<void> {
  await tx.query(
    `select free_reservation(id, unused)
     from (
       select r.id, least(r.open, sum(r.open) over (order by r.need_on, r.id)
         - case when i.closed then 0 else greatest(0, i.quantity - i.weighed) end)::bigint as unused
       from batch_input i join reservation r on r.batch_input_id = i.id and r.open > 0
       where i.id = $1
       order by r.lot_id, r.batch_id, r.delivery_line_id, r.id
     ) in_lock_order
     where unused > 0`,
    [inputId],
  );
}
