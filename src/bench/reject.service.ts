import { Injectable } from '@nestjs/common';
import { close } from '../batches/outcome.js';
import { decide } from '../batches/states.js';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import { freeLatestOfBatch } from '../stock/promises.js';
import { lockLot, lockLotsById, setLotStatus } from '../stock/locked-lot.js';
import { batchViewByCode } from './bench.service.js';
import { putInOf } from './closing.js';
import type { Rejected, RejectCreate } from './finish.schema.js';
import type { LockedBatch } from './locked-batch.js';
import { closeLines, linesOfBatch, lockBatch } from './locked-batch.js';
import type { SetForRework } from './rework.schema.js';

/** What is not good enough. */
@Injectable()
export class RejectService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Rejects a batch and the lot it made, or gives up one that is begun and not closed: then all that went into it is
   * lost. Whom it was promised to is freed and named.
   */
  async reject(who: string, code: string, body: RejectCreate): Promise<Rejected> {
    const today = await this.clock.today();
    return this.database.act({ who, why: body.why }, async (tx) => {
      const batch = await lockBatch(tx, code);
      const lines = await linesOfBatch(tx, batch.id);
      const isBegun = lines.some(({ weighed }) => weighed > 0);
      const atBench = batch.status === 'reserved' || batch.status === 'weighed';
      if (batch.status !== 'resting' && !(atBench && isBegun))
        throw conflict(
          'wrong-state',
          `Batch ${code} is ${batch.status}${atBench ? ' and not begun' : ''}, so it is not rejected.`,
        );
      if (body.forRework && batch.lotId === null)
        throw conflict('nothing-made', `Batch ${code} has made nothing yet that could go into another.`);
      const freed = await freeLatestOfBatch(tx, batch.id, batch.promised);
      const lots = batch.lotId === null ? [] : await lockLotsById(tx, [batch.lotId]);
      if (atBench) await this.giveUp(tx, batch, body.why, today);
      await decide(tx, batch.id, 'rejected');
      if (batch.lotId !== null) await setLotStatus(tx, batch.lotId, 'rejected');
      await closeLines(
        tx,
        lines.map(({ id }) => id),
      );
      if (body.forRework) await tx.query('insert into rework (lot_id, why) values ($1, $2)', [batch.lotId, body.why]);
      return { lot: lots[0]?.code ?? null, freed: freed.toReversed(), batch: await batchViewByCode(tx, code) };
    });
  }

  /** Sets a rejected lot aside to go into another batch. */
  setForRework(who: string, code: string, why: string): Promise<SetForRework> {
    return this.database.act({ who, why }, async (tx) => {
      const lot = await lockLot(tx, code);
      const known = await tx.query<unknown[]>('select from rework where lot_id = $1', [lot.id]);
      if (known.length > 0) throw conflict('already-so', `Lot ${code} is set aside for that already.`);
      await tx.query('insert into rework (lot_id, why) values ($1, $2)', [lot.id, why]);
      return reworkOf(tx, code);
    });
  }

  private async giveUp(tx: EntityManager, batch: LockedBatch, why: string, on: string): Promise<void> {
    const lines = await linesOfBatch(tx, batch.id);
    const { putInMg } = await putInOf(
      tx,
      batch,
      // tap water that nobody weighed never went in
      lines.filter(({ stocked, unbooked }) => stocked || unbooked > 0),
    );
    const booked = lines.reduce((sum, l) => sum + (l.measure === 'weighed' && l.step !== 'pack' ? l.weighed : 0), 0);
    const inputsE4 = lines.reduce((sum, { valueE4 }) => sum + valueE4, 0);
    await close(tx, batch.id, {
      on,
      putInMg,
      unbookedMg: putInMg - booked,
      made: 0,
      madeMg: 0,
      leftMg: 0,
      lossMg: putInMg,
      expectedLossMg: 0,
      lossReason: why,
      densityUgPerMl: null,
      minutes: 0,
      labourE4: 0,
      inputsE4,
      lostE4: inputsE4,
      keepsUntil: null,
      materialsUntil: null,
    });
  }
}

async function reworkOf(tx: EntityManager, code: string): Promise<SetForRework> {
  const rows = await tx.query<(Omit<SetForRework, 'at'> & { at: Date })[]>(
    `select l.code as lot, l.on_hand as "onHand", r.why, r.created_by as by, r.created_at as at
     from rework r join lot l on l.id = r.lot_id where l.code = $1`,
    [code],
  );
  if (!rows[0]) throw notFound('lot set aside for another batch called', code);
  return { ...rows[0], at: rows[0].at.toISOString() };
}
