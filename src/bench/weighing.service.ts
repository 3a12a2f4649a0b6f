import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { LockedInput } from '../batches/inputs.js';
import { closeInputs, freeInputExcess, isAfterRest, isAllWeighed, lockInput } from '../batches/inputs.js';
import { markWeighed } from '../batches/states.js';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, Problem } from '../platform/problem.js';
import { dayOfAct, refuseBefore } from '../stock/day-of-act.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLots, lockLotsById, refuseUnusable } from '../stock/locked-lot.js';
import { freeLatest, openPromises } from '../stock/promises.js';
import { StockService } from '../stock/stock.service.js';
import { batchViewByCode } from './bench.service.js';
import { fittingLot } from './fitting-lot.js';
import type { BatchLine, LockedBatch } from './locked-batch.js';
import { linesOfBatch, lockBatch, refuseUnlessAtBench } from './locked-batch.js';
import type { Weighed, WeighingCreate } from './bench.schema.js';
import { effectOf } from './weigh-effect.js';
import { askFirst } from './weigh-questions.js';
import { amountText } from '../ui/amounts.js';

interface Act {
  batch: LockedBatch;
  input: LockedInput;
  line: BatchLine;
  lot: LockedLot;
  quantity: number;
  day: string;
}

type Taken = Pick<Weighed, 'movements' | 'foundMore' | 'freed'>;

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
   * weighed. What looks mistyped is asked about first (`askFirst`), and nothing is written until it is said to be meant. A
   * lot that may not be used is refused with another that may, in `instead`.
   */
  async weigh(who: string, code: string, body: WeighingCreate): Promise<Weighed> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who }, async (tx) => {
      const { batch, input, line } = await lockWeighable(tx, code, body.position);
      const taken = line.stocked
        ? await this.weighLot(tx, { batch, input, line, day, body })
        : await weighUnbooked(tx, { batch, line, day, body });
      if (body.isAll) await closeInputs(tx, [input.id]);
      await freeInputExcess(tx, input.id);
      if (batch.status === 'reserved' && (await isAllWeighed(tx, batch.id))) await markWeighed(tx, batch.id);
      return { ...taken, effect: await effectOf(tx, batch.id), batch: await batchViewByCode(tx, code) };
    });
  }

  private async weighLot(
    tx: EntityManager,
    act: Omit<Act, 'lot' | 'quantity'> & { body: WeighingCreate },
  ): Promise<Taken> {
    const { batch, input, line, day, body } = act;
    if (body.lot === undefined) throw invalid('/lot', `Say of which lot of ${line.item} it is.`, 'no-lot');
    if (body.takesBack)
      throw invalid('/takesBack', 'What was weighed of a lot is corrected at its entry in the ledger.', 'by-movement');
    const lots = await lockLots(tx, [{ code: body.lot, pointer: '/lot' }], { batchInputIds: [input.id] }).catch(
      withInstead(() => fittingLot(tx, input.id, day, body.lot)),
    );
    const lot = lots.get(body.lot)!;
    const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
    try {
      refuseWrongLot(lot, line, day);
    } catch (error) {
      return withInstead(() => fittingLot(tx, input.id, day, lot.code))(error);
    }
    refuseBefore(lot, day, '/on');
    await askFirst(tx, { batch, line, lot, quantity, body });
    const taken = await this.take(tx, { batch, input, line, lot, quantity, day });
    if (batch.status === 'resting') await this.addToMade(tx, batch, taken.movements, day);
    return taken;
  }

  private async take(tx: EntityManager, act: Act): Promise<Taken> {
    const { batch, input, lot, quantity, day } = act;
    const entry = { lotId: lot.id, doneOn: day, reason: `batch ${batch.code}` };
    const foundMore = Math.max(0, quantity - lot.onHand);
    const foundId = foundMore > 0 ? await this.find(tx, act, foundMore) : undefined;
    const promised = (await openPromises(tx, { lotIds: [lot.id] })).filter((row) => row.batchInputId === input.id);
    const own = promised.reduce((sum, row) => sum + row.quantity, 0);
    const free = lot.onHand + foundMore - lot.reserved;
    const freed = await freeLatest(tx, lot.id, quantity - Math.min(quantity, own) - free, { batchInputId: input.id });
    const used = { batchId: input.batchId, batchInputId: input.id, foundId };
    const consumption = { ...entry, ...used, cause: 'consumption' as const };
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

  /** Books what the lot held beyond the book; answers the entry. */
  private find(tx: EntityManager, { batch, lot, day }: Act, quantity: number): Promise<number> {
    const reason = `weighed more than the book held, batch ${batch.code}`;
    return this.stock.moveLot(tx, { lotId: lot.id, cause: 'count', quantity, doneOn: day, reason });
  }

  /** What goes on after the rest makes the lot worth so much more. */
  private async addToMade(tx: EntityManager, batch: LockedBatch, movements: number[], day: string): Promise<void> {
    const [sum] = await tx.query<{ valueE4: number }[]>(
      'select -coalesce(sum(value_e4), 0)::bigint as "valueE4" from movement where id = any($1::bigint[])',
      [movements],
    );
    const [made] = await lockLotsById(tx, [batch.lotId!]);
    if (made!.onHand === 0)
      throw conflict('not-enough', `Nothing is left of lot ${made!.code}, so nothing is put on it.`);
    if (sum!.valueE4 === 0) return;
    await this.stock.moveLot(tx, {
      lotId: batch.lotId!,
      cause: 'revaluation',
      quantity: 0,
      valueE4: sum!.valueE4,
      doneOn: day,
      batchId: batch.id,
      reason: `put on after the rest, batch ${batch.code}`,
    });
  }
}

/** Adds another lot that fits to what is refused, as `instead`. */
const withInstead =
  (find: () => Promise<unknown>) =>
  async (error: unknown): Promise<never> => {
    if (!(error instanceof Problem)) throw error;
    const { status, code, message: detail, errors } = error;
    throw new Problem({ status, code, detail, errors, extra: { ...error.extra, instead: await find() } });
  };

function refuseWrongLot(lot: LockedLot, line: BatchLine, day: string): void {
  if (lot.itemId !== line.itemId)
    throw conflict('other-item', `Lot ${lot.code} is of ${lot.item}; line ${line.position} takes ${line.item}.`);
  if (line.reworkLotId !== null && lot.id !== line.reworkLotId)
    throw conflict('other-lot', `Line ${line.position} takes the lot that is mended, not ${lot.code}.`);
  if (line.reworkLotId === null || lot.status !== 'rejected') refuseUnusable(lot, day);
}

/** What is in no lot, such as tap water, is written down at the batch. */
async function weighUnbooked(
  tx: EntityManager,
  act: { batch: LockedBatch; line: BatchLine; day: string; body: WeighingCreate },
): Promise<Taken> {
  const { batch, line, day, body } = act;
  if (body.lot !== undefined) throw invalid('/lot', `${line.item} is not kept in lots.`, 'not-stocked');
  const quantity = positiveAmountOf(body.quantity, line, '/quantity');
  if (body.takesBack && quantity > line.unbooked)
    throw conflict('not-enough', `Only ${amountText(line.unbooked, line.measure)} of ${line.item} is written down.`);
  if (!body.takesBack) await askFirst(tx, { batch, line, quantity, body });
  await tx.query(
    `insert into bench_entry (batch_id, kind, batch_input_id, quantity, done_on) values ($1, 'unbooked', $2, $3, $4)`,
    [batch.id, line.id, body.takesBack ? -quantity : quantity, day],
  );
  return { movements: [], foundMore: 0, freed: [] };
}

/** Locks the batch and the input. Throws 404 for no batch, 422 for no such line, 409 where nothing is weighed any more. */
async function lockWeighable(
  tx: EntityManager,
  code: string,
  position: number,
): Promise<{ batch: LockedBatch; input: LockedInput; line: BatchLine }> {
  const batch = await lockBatch(tx, code);
  const input = await lockInput(tx, code, position);
  if (!input) throw invalid('/position', `The sheet of batch ${code} has no line ${position}.`, 'unknown-line');
  const lines = await linesOfBatch(tx, batch.id);
  const line = lines.find((row) => row.id === input.id)!;
  if (!(batch.status === 'resting' && isAfterRest(line, lines, batch.restDays) && !line.closed))
    refuseUnlessAtBench(batch, 'weighed into');
  return { batch, input, line };
}
