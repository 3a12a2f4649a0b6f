import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import { batchViewByCode } from './bench.service.js';
import { linesOfBatch, lockBatch, refuseUnlessAtBench } from './locked-batch.js';
import type { BatchView, PauseCreate } from './bench.schema.js';

/** Work that is interrupted and taken up again, by anybody and on any device. */
@Injectable()
export class PauseService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** Throws 409 `wrong-state` for a batch that is not begun, `paused` for one that is paused already. */
  async pause(who: string, code: string, { note }: PauseCreate): Promise<BatchView> {
    const today = await this.clock.today();
    return this.database.act({ who, why: note }, async (tx) => {
      const batch = await lockBatch(tx, code);
      refuseUnlessAtBench(batch, 'paused');
      const lines = await linesOfBatch(tx, batch.id);
      if (!lines.some(({ weighed, unbooked }) => weighed + unbooked > 0))
        throw conflict('wrong-state', `Batch ${code} is not begun, so there is nothing to pause.`);
      await pauseBatch(tx, batch.id, note, today);
      return batchViewByCode(tx, code);
    });
  }

  /** Throws 409 `not-paused`. */
  async resume(who: string, code: string, { note }: Partial<PauseCreate>): Promise<BatchView> {
    const today = await this.clock.today();
    return this.database.act({ who, why: note }, async (tx) => {
      const batch = await lockBatch(tx, code);
      if (!batch.isPaused) throw conflict('not-paused', `Batch ${code} is not paused.`);
      await tx.query(`insert into bench_entry (batch_id, kind, note, done_on) values ($1, 'resume', $2, $3)`, [
        batch.id,
        note ?? '',
        today,
      ]);
      return batchViewByCode(tx, code);
    });
  }
}

/** Writes down that a batch at the bench is interrupted. */
export async function pauseBatch(tx: EntityManager, batchId: number, note: string, today: string): Promise<void> {
  await tx.query(`insert into bench_entry (batch_id, kind, note, done_on) values ($1, 'pause', $2, $3)`, [
    batchId,
    note,
    today,
  ]);
}
