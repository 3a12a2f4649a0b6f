import { Injectable } from '@nestjs/common';
import { decide } from '../batches/states.js';
import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, Problem } from '../platform/problem.js';
import { lockLotsById, setLotStatus } from '../stock/locked-lot.js';
import type { LockedLot } from '../stock/locked-lot.js';
import type { OpenPromise } from '../stock/promises.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import { type NewReservation, StockService } from '../stock/stock.service.js';
import { batchViewByCode } from './bench.service.js';
import { refuseUnchecked } from '../checks/checks.service.js';
import { leaveOut } from './finish.service.js';
import type { Released, ReleaseCreate } from './finish.schema.js';
import type { LockedBatch } from './locked-batch.js';
import { closeLines, linesOfBatch, lockBatch } from './locked-batch.js';

/** Batches that have rested and are found good. */
@Injectable()
export class ReleaseService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Releases a batch and the lot it made. What was promised of the batch is promised of the lot, the one needed first
   * first, then by id; what no longer fits is given back and named. Before its rest is over it takes a reason: 409
   * `still-resting` with the day. Throws 409 `not-weighed` where something that goes on after the rest is not put on, and
   * 409 `lot-held`.
   */
  async release(who: string, code: string, body: Partial<ReleaseCreate> = {}): Promise<Released> {
    const today = await this.clock.today();
    return this.database.act({ who, why: body.why }, async (tx) => {
      const batch = await lockBatch(tx, code);
      if (batch.status !== 'resting')
        throw conflict('wrong-state', `Batch ${code} is ${batch.status}, so it is not released.`);
      refuseEarly(batch, today, body.why);
      await refuseUnchecked(tx, batch.id);
      await this.closeRest(tx, batch, { leaveOut: body.leaveOut ?? false, why: body.why }, today);
      const promises = await openPromises(tx, { batchIds: [batch.id] });
      const [lot] = await lockLotsById(tx, [batch.lotId!]);
      if (lot!.status === 'held') throw conflict('lot-held', `Lot ${lot!.code} is on hold. Decide about that first.`);
      for (const { id, quantity } of promises) await this.stock.freeReservation(tx, id, quantity);
      await decide(tx, batch.id, 'released');
      await setLotStatus(tx, lot!.id, 'released');
      const { kept, freed } = await this.promiseAnew(tx, lot!, promises);
      return { lot: lot!.code, kept, freed, batch: await batchViewByCode(tx, code) };
    });
  }

  /** What goes on after the rest is on, or is left out with a reason; what is still set aside for it is free. */
  private async closeRest(
    tx: EntityManager,
    batch: LockedBatch,
    body: { leaveOut: boolean; why?: string },
    on: string,
  ): Promise<void> {
    const open = (await linesOfBatch(tx, batch.id)).filter((line) => !line.closed);
    const lacking = open.flatMap(({ id, position, item, measure, stocked, weighed, quantity, basis, amount }) => {
      const wanted = basis === 'each' ? batch.made! * amount! : quantity;
      return stocked && weighed < wanted ? [{ id, position, item, measure, weighed, wanted }] : [];
    });
    await leaveOut(tx, { batch, lines: lacking, body, on });
    await closeLines(
      tx,
      open.map(({ id }) => id),
    );
  }

  private async promiseAnew(
    tx: EntityManager,
    lot: LockedLot,
    promises: readonly OpenPromise[],
  ): Promise<{ kept: number; freed: BrokenPromise[] }> {
    const owed = await owedDaysOf(tx, promises);
    const anew: NewReservation[] = [];
    const freed: BrokenPromise[] = [];
    let free = lot.onHand - lot.reserved;
    for (const promise of promises) {
      const { runId, batchInputId, orderLineId, needOn } = promise;
      const until = addDays(needOn, owed.get(orderLineId ?? 0) ?? 0);
      const lasts = lot.expiresOn === null || lot.expiresOn >= until;
      const quantity = lasts ? Math.min(free, promise.quantity) : 0;
      if (quantity > 0) anew.push({ runId, batchInputId, orderLineId, needOn, lotId: lot.id, quantity });
      free -= quantity;
      if (quantity < promise.quantity) freed.push(brokenOf(promise, promise.quantity - quantity));
    }
    await this.stock.reserve(tx, anew);
    return { kept: anew.length, freed };
  }
}

function refuseEarly(batch: LockedBatch, today: string, why: string | undefined): void {
  if (batch.readyOn <= today || why !== undefined) return;
  throw new Problem({
    status: 409,
    code: 'still-resting',
    detail: `Batch ${batch.code} rests until ${batch.readyOn}. To release it earlier, say why.`,
    extra: { readyOn: batch.readyOn },
  });
}

/** Days of life customers are owed, by order line. */
async function owedDaysOf(tx: EntityManager, promises: readonly OpenPromise[]): Promise<Map<number, number>> {
  const ids = promises.flatMap(({ orderLineId }) => (orderLineId === null ? [] : [orderLineId]));
  const rows = await tx.query<{ id: number; days: number }[]>(
    `select ol.id, i.owed_life_days as days from order_line ol join item i on i.id = ol.item_id
     where ol.id = any($1::bigint[])`,
    [ids],
  );
  return new Map(rows.map(({ id, days }) => [id, days]));
}
