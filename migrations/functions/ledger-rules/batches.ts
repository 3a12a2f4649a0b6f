import { ENTRY } from './rule.js';
import type { LedgerRule } from './rule.js';

/** What went in and came out of each batch by the ledger, in value; of weights, what goes into the goods themselves. */
const FLOWS = `(select e.batch_id,
    coalesce(-sum(e.value_e4) filter (where e.kind = 'consumption'), 0) as in_e4,
    coalesce(sum(e.value_e4) filter (where e.kind in ('production', 'revaluation')), 0) as out_e4,
    coalesce(-sum(e.quantity) filter (where e.kind = 'consumption' and i.measure = 'weighed' and bi.step <> 'pack'), 0)
      as in_mg
  from ${ENTRY} as e join lot l on l.id = e.lot_id join item i on i.id = l.item_id
    left join batch_input bi on bi.id = e.batch_input_id
  where e.batch_id is not null group by e.batch_id)`;

/** What a batch that is closed says, and what the ledger says of it. */
export const BATCH_RULES: LedgerRule[] = [
  {
    rule: 'batch closed',
    rows: `batch where status in ('resting', 'released', 'rejected')`,
    faults: `select b.code, concat_ws(' ', b.status, coalesce(b.made::text, 'not made'), coalesce(f.made::text, 'not closed')),
        'a closing that says what was made, and a lot of it'
      from batch b left join batch_finish f on f.batch_id = b.id
      where b.made is distinct from f.made
        or (f.batch_id is not null) <> (b.status in ('resting', 'released', 'rejected'))
        or (f.made > 0) <> exists (select from batch_output o where o.batch_id = b.id and o.kind = 'made')
        or (f.made = 0 and b.status <> 'rejected')`,
  },
  {
    rule: 'batch value',
    rows: 'batch_finish',
    faults: `select b.code, coalesce(x.out_e4, 0) + f.lost_e4 || ' out and lost', coalesce(x.in_e4, 0) + f.labour_e4 || ' put in'
      from batch_finish f join batch b on b.id = f.batch_id left join ${FLOWS} x on x.batch_id = b.id
      where coalesce(x.out_e4, 0) + f.lost_e4 <> coalesce(x.in_e4, 0) + f.labour_e4`,
  },
  {
    rule: 'batch weight',
    rows: 'batch_finish',
    faults: `select b.code, concat_ws(' ', f.put_in_mg, f.made, f.left_mg, f.made_mg + f.left_mg + f.loss_mg),
        concat_ws(' ', coalesce(x.in_mg, 0) + f.unbooked_mg, coalesce(o.made, 0), coalesce(o.left_mg, 0), f.put_in_mg)
      from batch_finish f join batch b on b.id = f.batch_id left join ${FLOWS} x on x.batch_id = b.id
        left join (select o.batch_id, sum(m.quantity) filter (where o.kind = 'made') as made,
            sum(m.quantity) filter (where o.kind = 'leftover') as left_mg
          from batch_output o join movement m on m.lot_id = o.lot_id and m.cause = 'production' group by 1) o
          on o.batch_id = b.id
      where (f.put_in_mg, f.made, f.left_mg, f.made_mg + f.left_mg + f.loss_mg)
        <> (coalesce(x.in_mg, 0) + f.unbooked_mg, coalesce(o.made, 0), coalesce(o.left_mg, 0), f.put_in_mg)`,
  },
  {
    rule: 'batch output',
    rows: 'batch_output',
    faults: `select l.code, concat_ws(' ', o.kind, i.code, l.status, m.cause), concat_ws(' ', b.code, b.status, w.code)
      from batch_output o join batch b on b.id = o.batch_id join lot l on l.id = o.lot_id join item i on i.id = l.item_id
        left join batch_input bi on bi.id = o.batch_input_id
        join item w on w.id = case o.kind when 'made' then b.item_id else bi.item_id end
        left join movement m on m.lot_id = l.id and m.cause = 'production' and m.batch_id = b.id
      where m.id is null or i.id <> w.id or l.batch_id is distinct from b.id or bi.batch_id <> b.id
        or (o.kind = 'made' and b.status = 'resting' and l.status not in ('quarantine', 'held'))
        or (o.kind = 'made' and b.status = 'rejected' and l.status <> 'rejected')
        or (o.kind = 'made' and b.status = 'released' and l.status = 'quarantine')
    union all
    select l.code, 'made in batch ' || coalesce(m.batch_id::text, '?'), 'listed with what it made'
      from movement m join lot l on l.id = m.lot_id
      where m.cause = 'production' and m.batch_id is not null
        and not exists (select from batch_output where lot_id = m.lot_id and batch_id = m.batch_id)`,
  },
  {
    rule: 'rework',
    rows: 'rework',
    faults: `select l.code, l.status, 'rejected' from rework r join lot l on l.id = r.lot_id where l.status <> 'rejected'
    union all
    select b.code, 'line ' || bi.position || ' of lot ' || bi.rework_lot_id, 'a lot of that item, and it alone'
      from batch_input bi join batch b on b.id = bi.batch_id left join lot l on l.id = bi.rework_lot_id
      where bi.rework_lot_id is not null and (l.item_id is distinct from bi.item_id or exists (select from movement m
        where m.batch_input_id = bi.id and m.cause = 'consumption' and m.lot_id <> bi.rework_lot_id))`,
  },
  {
    // a batch is closed once: only what took something afterwards can have taken what came of it
    rule: 'batch loop',
    rows: `batch_output where kind = 'made'`,
    faults: `with recursive came_of (batch_id, lot_id) as (
        select m.batch_id, m.lot_id from standing_movement m join batch_output o on o.batch_id = m.batch_id and o.kind = 'made'
          join movement p on p.lot_id = o.lot_id and p.cause = 'production'
        where m.cause = 'consumption' and m.id > p.id
        union
        select c.batch_id, above.id from came_of c cross join lateral (
          select l.parent_lot_id as id from lot l where l.id = c.lot_id and l.parent_lot_id is not null
          union all
          select m.lot_id from batch_output o join standing_movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
            where o.lot_id = c.lot_id) above
      )
      select b.code, l.code, 'nothing that was made from it' from came_of c
        join batch_output o on o.lot_id = c.lot_id and o.batch_id = c.batch_id
        join lot l on l.id = c.lot_id join batch b on b.id = c.batch_id`,
  },
  {
    // what is begun, and what was planned before this was refused, is in vessel_conflict: it happened, and breaks no promise
    rule: 'vessel held once',
    rows: `batch where status in ('planned', 'reserved') and vessel_id is not null`,
    faults: `select c.other, concat_ws(' ', 'in', c.vessel, 'with', c.first, c.from_day, 'to', c.to_day), 'one batch in a vessel'
      from vessel_conflict c join batch f on f.id = c.first_id join batch o on o.id = c.other_id
      where f.status in ('planned', 'reserved') and o.status in ('planned', 'reserved')
        and not f.shares_vessel and not o.shares_vessel`,
  },
];
