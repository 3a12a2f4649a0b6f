import type { EntityManager } from 'typeorm';

/** Another lot that may be weighed for a line. */
export interface FittingLot {
  lot: string;
  place: string;
  onHand: number;
  /** Of it, set aside for this line or for nobody. */
  free: number;
  expiresOn: string | null;
}

/** The lot to take instead on that day: one set aside for the line first, then the earliest date; null where none fits. */
export async function fittingLot(
  tx: EntityManager,
  inputId: number,
  day: string,
  except = '',
): Promise<FittingLot | null> {
  const rows = await tx.query<FittingLot[]>(
    `select l.code as lot, l.place, l.on_hand as "onHand", l.on_hand - l.reserved + own.open as free,
       l.expires_on as "expiresOn"
     from batch_input bi join lot l on l.item_id = bi.item_id
       cross join lateral (select coalesce(sum(r.open), 0)::bigint as open from reservation r
         where r.lot_id = l.id and r.batch_input_id = bi.id) own
     where bi.id = $1 and l.code <> $3 and l.status = 'released' and l.on_hand - l.reserved + own.open > 0
       and (l.expires_on is null or l.expires_on >= $2) and l.came_on <= $2
     order by own.open = 0, l.expires_on nulls last, l.id limit 1`,
    [inputId, day, except],
  );
  return rows[0] ?? null;
}
