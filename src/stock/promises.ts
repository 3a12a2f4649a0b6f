import type { EntityManager } from 'typeorm';
import type { BrokenPromise } from './stock.schema.js';

/** An open reservation with its target in words. */
export interface OpenPromise extends BrokenPromise {
  id: number;
  runId: number | null;
  deliveryLineId: number | null;
  batchInputId: number | null;
  orderLineId: number | null;
}

/** Open reservations on these lots, batches' outputs or delivery lines, the one needed first first, then by id. */
export function openPromises(
  tx: EntityManager,
  on: { lotIds?: readonly number[]; batchIds?: readonly number[]; deliveryLineIds?: readonly number[] },
): Promise<OpenPromise[]> {
  return tx.query<OpenPromise[]>(
    `select r.id, r.run_id as "runId", r.delivery_line_id as "deliveryLineId", r.batch_input_id as "batchInputId",
       r.order_line_id as "orderLineId", r.open as quantity, r.need_on as "needOn", i.code as item, r.for_batch as batch,
       r.for_order as "order"
     from reservation r join item i on i.id = r.item_id
     where r.open > 0 and (r.lot_id = any($1::bigint[]) or r.delivery_line_id = any($2::bigint[])
       or r.batch_id = any($3::bigint[]))
     order by r.need_on, r.id`,
    [on.lotIds ?? [], on.deliveryLineIds ?? [], on.batchIds ?? []],
  );
}

/** The part of a promise that an answer shows. */
export function brokenOf(promise: OpenPromise, quantity: number): BrokenPromise {
  return { item: promise.item, quantity, needOn: promise.needOn, batch: promise.batch, order: promise.order };
}

/** The promise that is kept whatever else is given back: the one the act itself is for. */
interface Kept {
  batchInputId?: number;
}

/**
 * Gives back `amount` of what is promised from a locked lot, the latest need first, then the highest id. Answers whom
 * that hurts. Nothing happens for an amount of zero or less.
 */
export async function freeLatest(
  tx: EntityManager,
  lotId: number,
  amount: number,
  kept: Kept = {},
): Promise<BrokenPromise[]> {
  if (amount <= 0) return [];
  const latestFirst = (await openPromises(tx, { lotIds: [lotId] }))
    .filter((promise) => kept.batchInputId === undefined || promise.batchInputId !== kept.batchInputId)
    .toReversed();
  return giveBack(tx, latestFirst, amount);
}

async function giveBack(tx: EntityManager, inOrder: readonly OpenPromise[], amount: number): Promise<BrokenPromise[]> {
  const broken: BrokenPromise[] = [];
  let left = amount;
  for (const promise of inOrder) {
    if (left === 0) break;
    const given = await free(tx, promise.id, Math.min(left, promise.quantity));
    broken.push(brokenOf(promise, given));
    left -= given;
  }
  return broken;
}

/** As `freeLatest`, of what a locked batch is to make. */
export async function freeLatestOfBatch(tx: EntityManager, batchId: number, amount: number): Promise<BrokenPromise[]> {
  if (amount <= 0) return [];
  return giveBack(tx, (await openPromises(tx, { batchIds: [batchId] })).toReversed(), amount);
}

/** Gives back what is promised from a locked lot for a day it no longer lasts to, the shelf life owed included. */
export async function freePast(tx: EntityManager, lotId: number, lastDay: string): Promise<BrokenPromise[]> {
  const rows = await tx.query<{ id: number }[]>(
    `select r.id from reservation r join item i on i.id = r.item_id
     where r.lot_id = $1 and r.open > 0
       and r.need_on + case when r.order_line_id is null then 0 else i.owed_life_days end > $2::date`,
    [lotId, lastDay],
  );
  const past = new Set(rows.map(({ id }) => id));
  const broken: BrokenPromise[] = [];
  for (const promise of await openPromises(tx, { lotIds: [lotId] }))
    if (past.has(promise.id)) broken.push(brokenOf(promise, await free(tx, promise.id, promise.quantity)));
  return broken;
}

async function free(tx: EntityManager, id: number, amount: number): Promise<number> {
  const rows = await tx.query<{ freed: number }[]>('select free_reservation($1, $2) as freed', [id, amount]);
  return rows[0]!.freed;
}
