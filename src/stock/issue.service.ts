import { Injectable } from '@nestjs/common';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import type { Issue, LotActed } from './acts.schema.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import { lockLot, refuseMoreThanHeld } from './locked-lot.js';
import { lotViewByCode } from './lots.service.js';
import { freeLatest } from './promises.js';
import type { Cause } from './stock.entity.js';
import { StockService } from './stock.service.js';

/** What leaves a lot neither into a batch nor to a customer. */
export type IssueCause = Extract<Cause, 'scrap' | 'sample' | 'trial' | 'own-use' | 'return-to-supplier'>;

/** What left the shelf otherwise, which is always written down. */
@Injectable()
export class IssueService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Takes out of a lot what is gone, of whatever it is promised to: promises that no longer fit are given back first,
   * the latest need first, and named. More than the book holds is refused; a trial and own use take a released lot.
   */
  async issue(who: string, cause: IssueCause, code: string, body: Issue): Promise<LotActed> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const lot = await lockLot(tx, code);
      refuseBefore(lot, day, '/on');
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      refuseMoreThanHeld(lot, quantity);
      const freed = await freeLatest(tx, lot.id, quantity - (lot.onHand - lot.reserved));
      const movement = await this.stock.moveLot(tx, {
        lotId: lot.id,
        cause,
        quantity: -quantity,
        doneOn: day,
        reason: body.reason,
      });
      return { ...(await lotViewByCode(tx, code)), movement, freed };
    });
  }
}
