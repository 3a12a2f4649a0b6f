/**
 * Lots on hold that batch `b` needs, by code: those it lost when they were put on hold, where nothing has taken their place,
 * and those that are in it.
 */
export const ON_HOLD = `coalesce((select json_agg(h.code order by h.code) from (
  select l.code from batch_input hi join reservation hr on hr.batch_input_id = hi.id join lot l on l.id = hr.lot_id
    where hi.batch_id = b.id and b.status in ('reserved', 'weighed', 'resting') and l.status = 'held' and hr.freed > 0
      and not hi.closed and hi.quantity > hi.weighed
        + (select coalesce(sum(o.open), 0) from reservation o where o.batch_input_id = hi.id)
  union
  select l.code from standing_movement m join lot l on l.id = m.lot_id
    where m.batch_id = b.id and b.status in ('reserved', 'weighed', 'resting') and l.status = 'held'
      and m.cause = 'consumption') h), '[]')`;
