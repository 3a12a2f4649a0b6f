import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { dayOfAct, refuseBefore } from '../stock/day-of-act.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLots, refuseUnusable } from '../stock/locked-lot.js';
import { freeInputExcess, freeLatest, openPromises } from '../stock/promises.js';
import { StockService } from '../stock/stock.service.js';
import type { LockedInput } from '../stock/targets.js';
import { isAllWeighed, lockInput } from '../stock/targets.js';
import { batchViewByCode } from './bench.service.js';
import type { Weighed, WeighingCreate } from './production.schema.js';

interface Act {
  batch: string;
  input: LockedInput;
  lot: LockedLot;
  quantity: number;
  day: string;
}

/** What went into a batch. */
@Injectable()
export class WeighingService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Writes down what was weighed of a lot into a batch. It uses what is set aside for this input on that lot first, then
   * what is free, then what others were promised, the latest need first; more than the book holds was there all the same
   * and is posted as found. What the input no longer lacks is given back, and a batch whose first step is all weighed is
   * weighed.
   */
  async weigh(who: string, batch: string, body: WeighingCreate): Promise<Weighed> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who }, async (tx) => {
      const input = await lockWeighable(tx, batch, body.position);
      const lots = await lockLots(tx, [{ code: body.lot, pointer: '/lot' }], { batchInputIds: [input.id] });
      const lot = lots.get(body.lot)!;
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      if (lot.itemId !== input.itemId)
        throw conflict('other-item', `Lot ${lot.code} is of ${lot.item}; line ${body.position} takes ${input.item}.`);
      refuseUnusable(lot, day);
      refuseBefore(lot, day, '/on');
      const taken = await this.take(tx, { batch, input, lot, quantity, day });
      if (body.isAll) await tx.query('update batch_input set closed = true where id = $1', [input.id]);
      await freeInputExcess(tx, input.id);
      if (input.batchStatus === 'reserved' && (await isAllWeighed(tx, input.batchId)))
        await tx.query(`update batch set status = 'weighed' where id = $1`, [input.batchId]);
      return { ...taken, batch: await batchViewByCode(tx, batch) };
    });
  }

  private async take(tx: EntityManager, act: Act): Promise<Omit<Weighed, 'batch'>> {
    const { batch, input, lot, quantity, day } = act;
    const entry = { lotId: lot.id, doneOn: day, reason: `batch ${batch}` };
    const foundMore = Math.max(0, quantity - lot.onHand);
    if (foundMore > 0)
      await this.stock.moveLot(tx, {
        ...entry,
        cause: 'count',
        quantity: foundMore,
        reason: `weighed more than the book held, batch ${batch}`,
      });
    const promised = (await openPromises(tx, { lotIds: [lot.id] })).filter((row) => row.batchInputId === input.id);
    const own = promised.reduce((sum, row) => sum + row.quantity, 0);
    const free = lot.onHand + foundMore - lot.reserved;
    const freed = await freeLatest(tx, lot.id, quantity - Math.min(quantity, own) - free, { batchInputId: input.id });
    const consumption = { ...entry, cause: 'consumption' as const, batchId: input.batchId, batchInputId: input.id };
    const movements: number[] = [];
    let left = quantity;
    for (const promise of promised) {
      const part = Math.min(left, promise.quantity);
      if (part === 0) break;
      movements.push(await this.stock.moveLot(tx, { ...consumption, quantity: -part, reservationId: promise.id }));
      left -= part;
    }
    if (left > 0) movements.push(await this.stock.moveLot(tx, { ...consumption, quantity: -left }));
    return { movements, foundMore, freed };
  }
}

/** Locks the batch and the input. Throws 404 for no batch, 422 for no such line, 409 where nothing is weighed any more. */
async function lockWeighable(tx: EntityManager, batch: string, position: number): Promise<LockedInput> {
  const input = await lockInput(tx, batch, position);
  if (!input) {
    const rows = await tx.query<unknown[]>('select from batch where code = $1', [batch]);
    if (rows.length === 0) throw notFound('batch', batch);
    throw invalid('/position', `The sheet of batch ${batch} has no line ${position}.`, 'unknown-line');
  }
  if (input.batchStatus !== 'reserved' && input.batchStatus !== 'weighed')
    throw conflict('wrong-state', `Batch ${batch} is ${input.batchStatus}, so nothing is weighed into it.`);
  return input;
}
