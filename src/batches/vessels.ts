import type { EntityManager } from 'typeorm';
import { Problem } from '../platform/problem.js';

/** Two batches in one vessel on the same days, as it came about: no plan may say so. Days as ISO text, the last included. */
export interface VesselConflict {
  vessel: string;
  first: string;
  other: string;
  from: string;
  to: string;
}

/** What stands in one vessel with another, of all that is planned, begun, or closed and not yet released; or on some days. */
export function vesselConflicts(tx: EntityManager, days?: { from: string; to: string }): Promise<VesselConflict[]> {
  return tx.query<VesselConflict[]>(
    `select vessel, first, other, from_day as "from", to_day as "to" from vessel_conflict
     where from_day <= coalesce($2::date, 'infinity') and to_day >= coalesce($1::date, '-infinity')
     order by from_day, vessel, first, other`,
    [days?.from ?? null, days?.to ?? null],
  );
}

/**
 * Refuses when one of these batches, or one it is filled from, stands in a vessel that another batch needs on the same days:
 * 409 `vessel-taken`, which names the vessel, the other and its days. The database refuses it too, and cannot name them; of
 * what is begun it refuses nothing, so this looks at those as well.
 */
export async function refuseTakenVessel(tx: EntityManager, batchIds: readonly number[]): Promise<void> {
  const [clash] = await tx.query<{ code: string; other: string; vessel: string; from: string; to: string }[]>(
    `select b.code, o.code as other, c.vessel, o.day as "from", o.emptied_on as "to"
     from vessel_conflict c join batch b on b.id in (c.first_id, c.other_id)
       join batch o on o.id in (c.first_id, c.other_id) and o.id <> b.id
     where b.id = any($1::bigint[])
       or b.id in (select r.batch_id from reservation r join batch_input i on i.id = r.batch_input_id
         where i.batch_id = any($1::bigint[]) and r.open > 0)
     order by o.day limit 1`,
    [batchIds],
  );
  if (clash)
    throw new Problem({
      status: 409,
      code: 'vessel-taken',
      detail: `${clash.code} would need ${clash.vessel} while ${clash.other} is in it, ${clash.from} to ${clash.to}.`,
      extra: { batch: clash.other, vessel: clash.vessel },
    });
}
