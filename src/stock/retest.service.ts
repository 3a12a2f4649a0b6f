import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import type { DateCorrectionCreate, RetestCreate, Retested } from './acts.schema.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import type { LockedLot } from './locked-lot.js';
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
      return moveDate(tx, lot, { to: body.newDate, why: body.evidence, day, isCorrection: false });
    });
  }

  /** Puts a date right that was written down wrongly, of whatever kind; null where there is none. */
  async correctDate(who: string, code: string, body: DateCorrectionCreate): Promise<Retested> {
    const day = await this.clock.today();
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const lot = await lockLot(tx, code);
      if (lot.expiresOn === body.expiresOn) throw conflict('already-so', `Lot ${code} has this date already.`);
      return moveDate(tx, lot, { to: body.expiresOn, why: body.reason, day, isCorrection: true });
    });
  }
}

async function moveDate(
  tx: EntityManager,
  lot: LockedLot,
  move: { to: string | null; why: string; day: string; isCorrection: boolean },
): Promise<Retested> {
  const freed = move.to === null ? [] : await freePast(tx, lot.id, move.to);
  await tx.query(
    'insert into retest (lot_id, to_date, evidence, examined_on, is_correction) values ($1, $2, $3, $4, $5)',
    [lot.id, move.to, move.why, move.day, move.isCorrection],
  );
  return { ...(await lotViewByCode(tx, lot.code)), fromDate: lot.expiresOn, freed };
}
