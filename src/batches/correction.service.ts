import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { reopenIfOpen } from '../orders/order-status.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { Corrected, CorrectionCreate } from '../stock/acts.schema.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLotsById, refuseMoreThanHeld } from '../stock/locked-lot.js';
import { freeLatest } from '../stock/promises.js';
import type { Cause } from '../stock/stock.entity.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import { StockService } from '../stock/stock.service.js';
import { isAllWeighed } from './inputs.js';
import { markLacking } from './states.js';

interface Entry {
  id: number;
  lotId: number;
  cause: Cause;
  quantity: number;
  doneOn: string;
  otherLotId: number | null;
  orderId: number | null;
  batchId: number | null;
  batchInputId: number | null;
  deliveryId: number | null;
  foundId: number | null;
}

/** What is said instead of correcting these. */
const NEVER: Partial<Record<Cause, string>> = {
  correction: 'A correction is not corrected itself: post what is right anew.',
  revaluation: 'A revaluation is not corrected: post one of the opposite amount.',
  production: 'What a batch made is not taken back alone: it goes with the inputs of the batch.',
};

/** What was booked wrongly. */
@Injectable()
export class CorrectionService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
  ) {}

  /**
   * Reverses one entry of the ledger, once, on the day the entry bears, so that past days show what really was. What the
   * entry did elsewhere goes back with it: shipped of an order line, weighed of an input, received of a delivery, and the
   * promise it used where the lot can still keep it. Both sides of a split go together, and so does a weighing with what it
   * found beyond the book: without the one there was never reason for the other.
   */
  correct(who: string, id: number, { reason }: CorrectionCreate): Promise<Corrected> {
    return this.database.act({ who, why: reason }, async (tx) => {
      const entry = await entryById(tx, id);
      const never = NEVER[entry.cause];
      if (never !== undefined) throw conflict('not-corrected', never);
      await lockTargets(tx, entry);
      const lotIds = entry.otherLotId === null ? [entry.lotId] : [entry.lotId, entry.otherLotId];
      await lockLotsById(tx, lotIds);
      await refuseTwice(tx, entry.id);
      const freed: BrokenPromise[] = [];
      const ids: number[] = [];
      for (const one of await together(tx, entry)) {
        // as the lot stands after what was reversed before it
        const [lot] = await lockLotsById(tx, [one.lotId]);
        freed.push(...(await makeRoom(tx, lot!, one)));
        const { id: reversesId, lotId, quantity, doneOn } = one;
        const act = { lotId, cause: 'correction' as const, quantity: -quantity, doneOn, reason, reversesId };
        ids.push(await this.stock.moveLot(tx, act));
      }
      await reopen(tx, entry);
      return { corrections: await correctionsById(tx, ids), freed };
    });
  }
}

/** Gives back what the lot can no longer keep without the entry. Throws 409 where what it brought has been used since. */
function makeRoom(tx: EntityManager, lot: LockedLot, { quantity }: Entry): Promise<BrokenPromise[]> {
  refuseMoreThanHeld(lot, quantity);
  return freeLatest(tx, lot.id, quantity - (lot.onHand - lot.reserved));
}

/** What is reversed in one act with an entry, in that order. */
async function together(tx: EntityManager, entry: Entry): Promise<Entry[]> {
  if (entry.cause === 'split') return bothSides(tx, entry);
  if (entry.foundId !== null) return weighingAndFound(tx, entry.foundId);
  await refuseFoundAlone(tx, entry);
  return [entry];
}

/** The parts of one weighing, which go back first, and what it found. */
async function weighingAndFound(tx: EntityManager, foundId: number): Promise<Entry[]> {
  return tx.query<Entry[]>(`${ENTRY} where m.id = $1 or m.found_id = $1 order by m.id desc`, [foundId]);
}

async function refuseFoundAlone(tx: EntityManager, entry: Entry): Promise<void> {
  const rows = await tx.query<{ batch: string }[]>(
    `select b.code as batch from movement m join batch b on b.id = m.batch_id where m.found_id = $1 order by m.id limit 1`,
    [entry.id],
  );
  if (!rows[0]) return;
  const detail = `This was found when more was weighed into batch ${rows[0].batch} than the book held: take back that weighing, and it goes with it.`;
  throw conflict('not-corrected', detail);
}

async function entryById(tx: EntityManager, id: number): Promise<Entry> {
  const rows = await tx.query<Entry[]>(`${ENTRY} where m.id = $1`, [id]);
  if (!rows[0]) throw notFound('movement', id);
  return rows[0];
}

const ENTRY = `
  select m.id, m.lot_id as "lotId", m.cause, m.quantity, m.done_on as "doneOn", m.other_lot_id as "otherLotId",
    ol.order_id as "orderId", m.batch_id as "batchId", m.batch_input_id as "batchInputId", dl.delivery_id as "deliveryId",
    m.found_id as "foundId"
  from movement m left join order_line ol on ol.id = m.order_line_id
    left join delivery_line dl on dl.id = m.delivery_line_id`;

/** The two entries of a split, the part's first: what it still has decides whether the split can be taken back. */
async function bothSides(tx: EntityManager, entry: Entry): Promise<Entry[]> {
  return tx.query<Entry[]>(
    `${ENTRY} where m.cause = 'split' and ((m.lot_id = $1 and m.other_lot_id = $2) or (m.lot_id = $2 and m.other_lot_id = $1))
     order by m.quantity desc`,
    [entry.lotId, entry.otherLotId],
  );
}

/** What the entry was for is locked before its lot, as every act does. */
async function lockTargets(tx: EntityManager, entry: Entry): Promise<void> {
  await tx.query('select from customer_order where id = $1 for update', [entry.orderId]);
  await tx.query('select from order_line where order_id = $1 order by id for update', [entry.orderId]);
  await tx.query('select from delivery where id = $1 for update', [entry.deliveryId]);
  const batches = await tx.query<{ code: string; status: string }[]>(
    'select code, status from batch where id = $1 for update',
    [entry.batchId],
  );
  await tx.query('select from batch_input where id = $1 for update', [entry.batchInputId]);
  const batch = batches[0];
  if (batch && !['planned', 'reserved', 'weighed'].includes(batch.status))
    throw conflict('wrong-state', `Batch ${batch.code} is ${batch.status}, so what went into it no longer changes.`);
}

async function refuseTwice(tx: EntityManager, id: number): Promise<void> {
  const rows = await tx.query<{ id: number }[]>('select id from movement where reverses_id = $1', [id]);
  if (rows[0]) throw conflict('already-corrected', `Movement ${id} was already corrected, by movement ${rows[0].id}.`);
}

/** An order that is no longer all shipped is open again; a batch that lacks something is no longer all weighed. */
async function reopen(tx: EntityManager, entry: Entry): Promise<void> {
  await reopenIfOpen(tx, entry.orderId);
  if (entry.batchInputId === null || (await isAllWeighed(tx, entry.batchId!))) return;
  await markLacking(tx, entry.batchId!);
}

function correctionsById(tx: EntityManager, ids: readonly number[]): Promise<Corrected['corrections']> {
  return tx.query(
    `select m.id, m.reverses_id as reverses, l.code as lot, m.quantity, m.value_e4 as "valueE4", m.done_on as "doneOn"
     from movement m join lot l on l.id = m.lot_id
     where m.id = any($1::bigint[]) and m.reverses_id is not null order by m.id`,
    [ids],
  );
}
