import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { BatchesService } from '../batches/batches.service.js';
import { Database } from '../platform/database.js';
import { conflict, Problem } from '../platform/problem.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import { rewash } from './rewash.js';
import { findRun, lockPlan } from './runs.js';
import type { Undone } from './planning.schema.js';

/** Takes back a committed plan: all of it, as long as nothing of it has begun. */
@Injectable()
export class UndoService {
  constructor(
    private readonly database: Database,
    private readonly batches: BatchesService,
  ) {}

  /** Gives everything back that the run had reserved and cancels its batches. Throws 409 `begun` once one was weighed. */
  undo(who: string, runId: number, why: string): Promise<Undone> {
    return this.database.act({ who, why }, async (tx) => {
      await lockPlan(tx);
      const run = await findRun(tx, runId, true);
      if (run.status !== 'committed') throw conflict('not-committed', `The plan ${runId} is ${run.status}.`);
      const open = (await batchesOf(tx, runId)).filter((batch) => batch.status !== 'cancelled');
      const begun = open.filter((batch) => batch.status !== 'planned' && batch.status !== 'reserved');
      if (begun.length > 0)
        throw new Problem({
          status: 409,
          code: 'begun',
          detail: 'Some of its batches have begun. Cancel the others one by one.',
          extra: { begun: begun.map((batch) => batch.code) },
        });
      const ids = open.map((batch) => batch.id);
      const promised = await openPromises(tx, { batchIds: ids });
      const freed = await freeAll(tx, 'r.run_id = $1 or r.batch_id = any($2::bigint[])', [runId, ids]);
      await this.batches.setStatus(tx, ids, 'cancelled');
      await rewash(
        tx,
        open.map(({ vessel }) => vessel),
      );
      await tx.query(`update run set status = 'undone' where id = $1`, [runId]);
      return {
        id: runId,
        status: 'undone',
        cancelled: open.map((batch) => batch.code),
        freed,
        broken: promised.filter((promise) => promise.runId !== runId).map((p) => brokenOf(p, p.quantity)),
      };
    });
  }
}

/**
 * Frees every open reservation `r` that matches, sources in ascending order so that two acts never wait for each other
 * in a circle; answers how many.
 */
export async function freeAll(tx: EntityManager, where: string, values: unknown[]): Promise<number> {
  const rows = await tx.query<{ freed: number }[]>(
    `select free_reservation(o.id, o.open) as freed from (
       select r.id, r.open from reservation r where r.open > 0 and (${where})
       order by r.lot_id, r.batch_id, r.delivery_line_id, r.id) o`,
    values,
  );
  return rows.length;
}

function batchesOf(
  tx: EntityManager,
  runId: number,
): Promise<{ id: number; code: string; status: string; vessel: string | null }[]> {
  return tx.query(
    `select b.id, b.code, b.status, v.code as vessel from batch b left join vessel v on v.id = b.vessel_id
     where b.run_id = $1 order by b.id for update of b`,
    [runId],
  );
}
