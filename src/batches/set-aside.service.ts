import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { lockOrderLine } from '../orders/locked-line.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import type { FreeCreate, FreedNow, SetAside, SetAsideCreate, SetAsideList } from '../stock/acts.schema.js';
import { lockLot, refuseMoreThanFree, refuseUnusable } from '../stock/locked-lot.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import { Lot } from '../stock/stock.entity.js';
import { StockService } from '../stock/stock.service.js';
import { lockInput } from './inputs.js';
import { amountText } from '../ui/amounts.js';

interface Target {
  orderLineId?: number;
  batchInputId?: number;
  itemId: number;
  /** What it still lacks beside what is set aside for it already. */
  lacking: number;
  needOn: string;
  owedDays: number;
}

/** What is set aside by hand, and given back. */
@Injectable()
export class SetAsideService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  list(code: string): Promise<SetAsideList> {
    return this.database.read(async (tx) => {
      const lot = await tx.findOneBy(Lot, { code });
      if (!lot) throw notFound('lot', code);
      return { reservations: await setAsides(tx, lot.id, code) };
    });
  }

  /** Promises free stock of a lot to an order line or an input that still lacks it. Throws 409 for what is not free. */
  async setAside(who: string, code: string, body: SetAsideCreate): Promise<SetAside> {
    const today = await this.clock.today();
    return this.database.act({ who }, async (tx) => {
      const { itemId, lacking, owedDays, ...target } = await lockTarget(tx, body);
      const lot = await lockLot(tx, code);
      if (lot.itemId !== itemId)
        throw conflict('other-item', `Lot ${code} is of ${lot.item}, which is not needed there.`);
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      if (quantity > lacking) {
        const [more, asked] = [amountText(lacking, lot.measure), amountText(quantity, lot.measure)];
        throw conflict('not-needed', `Only ${more} more is needed there, not ${asked}.`);
      }
      const needOn = target.needOn > today ? target.needOn : today;
      refuseUnusable(lot, needOn, owedDays);
      refuseMoreThanFree(lot, quantity);
      const [id] = await this.stock.reserve(tx, [{ ...target, lotId: lot.id, quantity, needOn }]);
      return (await setAsides(tx, lot.id, code)).find((row) => row.id === id)!;
    });
  }

  /** Gives back all or a part of what is still open of a reservation. */
  free(who: string, id: number, body: FreeCreate): Promise<FreedNow> {
    return this.database.act({ who }, async (tx) => {
      const rows = await tx.query<{ open: number; measure: 'weighed' | 'counted'; densityUgPerMl: number | null }[]>(
        `select r.open, i.measure, i.density_ug_per_ml as "densityUgPerMl" from reservation r join item i on i.id = r.item_id
         where r.id = $1`,
        [id],
      );
      if (!rows[0]) throw notFound('reservation', id);
      const wanted = body.quantity === undefined ? undefined : positiveAmountOf(body.quantity, rows[0], '/quantity');
      const freed = await this.stock.freeReservation(tx, id, wanted ?? Number.MAX_SAFE_INTEGER);
      if (freed === 0 || (wanted !== undefined && freed < wanted))
        throw conflict('not-open', `Only ${amountText(freed, rows[0].measure)} of reservation ${id} was still open.`);
      const [after] = await tx.query<{ open: number }[]>('select open from reservation where id = $1', [id]);
      return { id, freed, open: after!.open };
    });
  }
}

async function setAsides(tx: EntityManager, lotId: number, code: string): Promise<SetAside[]> {
  const promises = await openPromises(tx, { lotIds: [lotId] });
  return promises.map((promise) => ({ id: promise.id, lot: code, ...brokenOf(promise, promise.quantity) }));
}

async function lockTarget(tx: EntityManager, body: SetAsideCreate): Promise<Target> {
  if (body.orderLine !== undefined) {
    const line = await lockOrderLine(tx, body.orderLine);
    if (!line) throw invalid('/orderLine', 'There is no such order line.', 'unknown-order-line');
    const { id, itemId, open, reserved, shipBy, owedDays } = line;
    return { orderLineId: id, itemId, lacking: Math.max(0, open - reserved), needOn: shipBy, owedDays };
  }
  const input = await lockInput(tx, body.batch!, body.position!);
  if (!input) throw invalid('/batch', `There is no batch ${body.batch} with a line ${body.position}.`, 'unknown-batch');
  if (!['planned', 'reserved', 'weighed'].includes(input.batchStatus))
    throw conflict('wrong-state', `Batch ${body.batch} is ${input.batchStatus}, so nothing is set aside for it.`);
  const { id, itemId, quantity, weighed, closed, reserved, needOn } = input;
  const lacking = closed ? 0 : Math.max(0, quantity - weighed - reserved);
  return { batchInputId: id, itemId, lacking, needOn, owedDays: 0 };
}
