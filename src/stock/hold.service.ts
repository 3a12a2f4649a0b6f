import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { History, HistoryEntry, HistoryQuery } from './acts.schema.js';
import type { LockedLot } from './locked-lot.js';
import { lockLot } from './locked-lot.js';
import { lotViewByCode } from './lots.service.js';
import { freeLatest } from './promises.js';
import type { LotStatus } from './stock.entity.js';
import { Lot } from './stock.entity.js';
import type { BrokenPromise, StatusChange, StatusChanged } from './stock.schema.js';

/** Whether a lot may be used, and who decided what about it. */
@Injectable()
export class HoldService {
  constructor(private readonly database: Database) {}

  /**
   * Releases, holds or rejects a lot. What it can then no longer give is taken back from whom it was promised to and
   * named in the answer, so that the next plan sees the need again.
   */
  changeStatus(who: string, code: string, body: StatusChange): Promise<StatusChanged> {
    return this.database.act({ who, why: body.why }, async (tx) => {
      const lot = await lockLot(tx, code);
      if (lot.status === body.to) throw conflict('already-so', `Lot ${code} already is ${body.to}.`);
      const freed = await changeStatuses(tx, [lot], body.to);
      return { ...(await lotViewByCode(tx, code)), freed };
    });
  }

  /** Status changes, movements, retests and counts of a lot in the order they were written down. */
  history(code: string, query: HistoryQuery): Promise<History> {
    return this.database.read(async (tx) => {
      const lot = await tx.findOneBy(Lot, { code });
      if (!lot) throw notFound('lot', code);
      const [kind, id] = query.after?.split(':') ?? [null, null];
      const rows = await tx.query<(Omit<HistoryEntry, 'at'> & { at: Date })[]>(HISTORY, [
        lot.id,
        kind,
        id,
        query.limit + 1,
      ]);
      const entries = rows.slice(0, query.limit).map((row) => ({ ...row, at: row.at.toISOString() }));
      const last = rows.length > query.limit ? entries.at(-1)! : null;
      return { status: lot.status, entries, next: last && `${last.kind}:${last.id}` };
    });
  }
}

/**
 * Makes locked lots all held, released, rejected or waiting again. What they can then no longer give is taken back from
 * whom it was promised to; answers that, lot by lot, the one needed first first.
 */
export async function changeStatuses(
  tx: EntityManager,
  lots: readonly LockedLot[],
  to: LotStatus,
): Promise<BrokenPromise[]> {
  await tx.query('update lot set status = $2 where id = any($1::bigint[])', [lots.map(({ id }) => id), to]);
  if (to === 'released') return [];
  const freed: BrokenPromise[] = [];
  for (const lot of lots) freed.push(...(await freeLatest(tx, lot.id, lot.reserved)).toReversed());
  return freed;
}

const HISTORY = `
  with entry as materialized (
    select 'movement' as kind, id, recorded_at as at, created_by as by, reason as why, done_on, cause, quantity, value_e4,
      null as from_, null as to_
    from movement where lot_id = $1
    union all
    select 'status', id, done_at, done_by, why, null, null, null, null, from_status, to_status
    from state_change where subject = 'lot' and subject_id = $1
    union all
    select case when is_correction then 'date' else 'retest' end, id, created_at, created_by, evidence, examined_on, null, null, null, from_date::text, to_date::text
    from retest where lot_id = $1
    union all
    select 'count', c.id, c.created_at, c.created_by, c.reason, c.counted_on, null, null, null, l.expected::text,
      l.counted::text
    from shelf_count_line l join shelf_count c on c.id = l.shelf_count_id where l.lot_id = $1
  )
  select kind, id, at, by, why, done_on as "doneOn", cause, quantity, value_e4 as "valueE4", from_ as "from", to_ as "to"
  from entry
  where $2::text is null
    or (at, kind, id) > (select last.at, last.kind, last.id from entry last where last.kind = $2 and last.id = $3::bigint)
  order by entry.at, entry.kind, entry.id limit $4`;
