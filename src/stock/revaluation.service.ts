import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { RevaluationCreate, Revalued } from './acts.schema.js';
import { moneyText } from '../ui/amounts.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import type { LockedLot } from './locked-lot.js';
import { lockLotsById } from './locked-lot.js';
import { StockService } from './stock.service.js';

/** A cost that comes late, such as freight. */
@Injectable()
export class RevaluationService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Spreads a late cost over all that came of a lot: the part of what is still on hand, in the lot or in parts split off
   * it, goes onto those lots; the part of what has left is kept as a price difference. Both together are the amount.
   */
  async revalue(who: string, code: string, body: RevaluationCreate): Promise<Revalued> {
    const doneOn = dayOfAct(await this.clock.today(), body.on, '/on');
    const { amountE4, reason } = body;
    return this.database.act({ who, why: reason }, async (tx) => {
      const lots = await lockWithParts(tx, code);
      const root = lots.find((lot) => lot.code === code)!;
      refuseBefore(root, doneOn, '/on');
      const parts = shares(amountE4, lots, await cameIn(tx, root.id));
      for (const { lot, addedE4 } of parts)
        if (lot.valueE4 + addedE4 < 0) {
          const { currency } = await workshopOf(tx);
          const [worth, off] = [moneyText(lot.valueE4, currency), moneyText(-addedE4, currency)];
          throw conflict('worth-less', `Lot ${lot.code} is worth ${worth}, so ${off} cannot be taken off it.`);
        }
      const added = parts.reduce((sum, part) => sum + part.addedE4, 0);
      const [difference] = await tx.query<{ id: number }[]>(
        `insert into price_difference (lot_id, stated_e4, added_e4, difference_e4, reason, done_on)
         values ($1, $2, $3, $4, $5, $6) returning id`,
        [root.id, amountE4, added, amountE4 - added, reason, doneOn],
      );
      for (const { lot, addedE4: valueE4 } of parts)
        if (valueE4 !== 0)
          await this.stock.moveLot(tx, {
            lotId: lot.id,
            cause: 'revaluation',
            quantity: 0,
            valueE4,
            // no part bears a value on a day before it was there
            doneOn: doneOn > lot.cameOn ? doneOn : lot.cameOn,
            reason,
            priceDifferenceId: difference!.id,
          });
      return {
        amountE4,
        lots: parts.map(({ lot, addedE4 }) => ({ lot: lot.code, addedE4, valueE4: lot.valueE4 + addedE4 })),
        differenceE4: amountE4 - added,
      };
    });
  }
}

/** The lot and what was split off it, at any remove, all locked. Throws a 404 problem. */
async function lockWithParts(tx: EntityManager, code: string): Promise<LockedLot[]> {
  const [root] = await tx.query<{ id: number }[]>('select id from lot where code = $1', [code]);
  if (!root) throw notFound('lot', code);
  // a part may be split off while the lot is not locked yet; once all that were found are locked, no more can come of them
  for (let known = [root.id]; ;) {
    const lots = await lockLotsById(tx, known);
    const rows = await tx.query<{ id: number }[]>(
      `with recursive part as (
         select $1::bigint as id
         union
         select m.lot_id from part join movement m on m.other_lot_id = part.id and m.cause = 'split' and m.quantity > 0
       )
       select id from part order by id`,
      [root.id],
    );
    if (rows.length === known.length) return lots;
    known = rows.map(({ id }) => id);
  }
}

/** All that ever came in, less what was taken back as wrongly booked. */
async function cameIn(tx: EntityManager, lotId: number): Promise<number> {
  const rows = await tx.query<{ quantity: number }[]>(
    `select coalesce(sum(m.quantity), 0)::bigint as quantity
     from standing_movement m
     where m.lot_id = $1 and m.cause in ('receipt', 'production', 'return', 'split') and m.quantity > 0`,
    [lotId],
  );
  return rows[0]!.quantity;
}

/**
 * What falls on each lot's on hand out of `came`, cut towards zero over the running sum, so that the lots together get
 * the whole amount when all of it is still there. What a count found beyond what came gets no part.
 */
function shares(amountE4: number, lots: readonly LockedLot[], came: number): { lot: LockedLot; addedE4: number }[] {
  if (came === 0) return [];
  let seen = 0;
  let spentE4 = 0;
  return lots
    .filter((lot) => lot.onHand > 0)
    .map((lot) => {
      seen = Math.min(came, seen + lot.onHand);
      const upTo = Number((BigInt(amountE4) * BigInt(seen)) / BigInt(came));
      const addedE4 = upTo - spentE4;
      spentE4 = upTo;
      return { lot, addedE4 };
    });
}
