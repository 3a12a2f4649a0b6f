import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import type { Split, SplitCreate } from './acts.schema.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import type { LockedLot } from './locked-lot.js';
import { lockLot, refuseMoreThanHeld } from './locked-lot.js';
import { lotViewByCode } from './lots.service.js';
import { freeLatest } from './promises.js';
import type { LotStatus } from './stock.entity.js';
import { nextLotCode, StockService } from './stock.service.js';

/** A part of a lot in another place. */
@Injectable()
export class SplitService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Splits a part off a lot: a lot of its own in its own place, held or as its parent is, with exactly the value that
   * left the parent. No promise moves with it; those the parent can no longer keep are given back and named.
   */
  async split(who: string, code: string, body: SplitCreate): Promise<Split> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const lot = await lockLot(tx, code);
      refuseBefore(lot, day, '/on');
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      refuseMoreThanHeld(lot, quantity);
      const freed = await freeLatest(tx, lot.id, quantity - (lot.onHand - lot.reserved));
      const part = await openPart(tx, lot, body.status === 'held' ? 'held' : lot.status, body.place, day);
      const act = { cause: 'split' as const, doneOn: day, reason: body.reason };
      await this.stock.moveLot(tx, { ...act, lotId: lot.id, otherLotId: part.id, quantity: -quantity });
      // the database gives it the value that left
      await this.stock.moveLot(tx, { ...act, lotId: part.id, otherLotId: lot.id, quantity });
      return { lot: await lotViewByCode(tx, code), part: await lotViewByCode(tx, part.code), freed };
    });
  }
}

/** An empty lot that keeps what is known of its parent; it came to be on the day of the split. */
export async function openPart(
  tx: EntityManager,
  parent: LockedLot,
  status: LotStatus,
  place: string,
  day: string,
): Promise<{ id: number; code: string }> {
  const rows = await tx.query<{ id: number; code: string }[]>(
    `insert into lot (code, item_id, status, expires_on, came_on, place, supplier_id, supplier_lot, certificate,
       parent_lot_id)
     select $2, item_id, $3, expires_on, $4, $5, supplier_id, supplier_lot, certificate, id from lot where id = $1
     returning id, code`,
    [parent.id, await nextLotCode(tx, day), status, day, place],
  );
  return rows[0]!;
}
