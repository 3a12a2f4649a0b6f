import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { dayOf } from '../kernel/measure/day.js';

/** A batch as a committed plan asks for it. Amounts in the item's base unit, days as ISO text. */
export interface NewBatch {
  /** Null for one that no plan asked for. */
  runId: number | null;
  item: string;
  formulaVersion: number;
  vessel: string | null;
  day: string;
  readyOn: string;
  emptiedOn: string;
  output: number;
  putInMg: number;
  minutes: number;
  expiresOn: string | null;
  inputs: { position: number; item: string; step: string; needOn: string; quantity: number }[];
  /** Of a batch that mends a rejected lot: the input that takes it. */
  reworks?: { lotId: number; position: number };
}

export interface CreatedBatch {
  id: number;
  code: string;
  /** Batch input ids by formula line position. */
  inputs: Map<number, number>;
}

/** Batch rows and their inputs, inside the caller's transaction. */
@Injectable()
export class BatchesService {
  /** Writes one planned batch with its inputs and gives it a code: B, two-digit year, day of the year, serial. */
  async create(tx: EntityManager, batch: NewBatch): Promise<CreatedBatch> {
    const code = await nextBatchCode(tx, batch.day);
    const [row] = await tx.query<{ id: number }[]>(
      `insert into batch (code, run_id, formula_id, item_id, vessel_id, day, ready_on, emptied_on, output, put_in_mg,
         minutes, expires_on, is_rework)
       select $1, $2, f.id, i.id, (select id from vessel where code = $5), $6, $7, $8, $9, $10, $11, $12, $13
       from item i join formula f on f.item_id = i.id and f.version = $4 where i.code = $3 returning id`,
      [
        code,
        batch.runId,
        batch.item,
        batch.formulaVersion,
        batch.vessel,
        batch.day,
        batch.readyOn,
        batch.emptiedOn,
        batch.output,
        batch.putInMg,
        batch.minutes,
        batch.expiresOn,
        batch.reworks !== undefined,
      ],
    );
    const inputs = await tx.query<{ id: number; position: number }[]>(
      `insert into batch_input (batch_id, position, item_id, step, need_on, quantity, rework_lot_id)
       select $1, r.position, i.id, r.step, r."needOn", r.quantity, case r.position when $4 then $3::bigint end
       from jsonb_to_recordset($2::jsonb) as r (position int, item text, step text, "needOn" date, quantity bigint)
       join item i on i.code = r.item order by r.position returning id, position`,
      [row!.id, JSON.stringify(batch.inputs), batch.reworks?.lotId ?? null, batch.reworks?.position ?? null],
    );
    return { id: row!.id, code, inputs: new Map(inputs.map((input) => [input.position, input.id])) };
  }

  /** Moves batches on; the database refuses a step its states do not allow. */
  async setStatus(tx: EntityManager, batchIds: readonly number[], status: string): Promise<void> {
    await tx.query(`update batch set status = $2 where id = any($1::bigint[])`, [batchIds, status]);
  }
}

async function nextBatchCode(tx: EntityManager, day: string): Promise<string> {
  const dayOfYear = dayOf(day) - dayOf(`${day.slice(0, 4)}-01-01`) + 1;
  const prefix = `B${day.slice(2, 4)}${String(dayOfYear).padStart(3, '0')}-`;
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.batch-code'), hashtext($1))`, [prefix]);
  const rows = await tx.query<{ last: number }[]>(
    `select coalesce(max(substring(code from 8)::int), 0) as last from batch
     where code like $1 || '%' and substring(code from 8) ~ '^[0-9]{2,9}$'`,
    [prefix],
  );
  return prefix + String(rows[0]!.last + 1).padStart(2, '0');
}
