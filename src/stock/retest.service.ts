import { Injectable } from '@nestjs/common';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import type { RetestCreate, Retested } from './acts.schema.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import { lockLot } from './locked-lot.js';
import { lotViewByCode } from './lots.service.js';
import { freePast } from './promises.js';

/** How long a lot keeps, by what was examined. */
@Injectable()
export class RetestService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Moves a retest date on evidence; an expiry or best-before date stays what its maker says. An earlier date gives back
   * what was promised for days past it and names it.
   */
  async retest(who: string, code: string, body: RetestCreate): Promise<Retested> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: body.evidence }, async (tx) => {
      const lot = await lockLot(tx, code);
      refuseBefore(lot, day, '/on');
      if (lot.lotDateKind !== 'retest')
        throw conflict('not-a-retest-date', `The date of ${lot.item} is ${lot.lotDateKind}, which no test moves.`);
      const freed = await freePast(tx, lot.id, body.newDate);
      await tx.query('insert into retest (lot_id, to_date, evidence, examined_on) values ($1, $2, $3, $4)', [
        lot.id,
        body.newDate,
        body.evidence,
        day,
      ]);
      return { ...(await lotViewByCode(tx, code)), fromDate: lot.expiresOn, freed };
    });
  }
}
