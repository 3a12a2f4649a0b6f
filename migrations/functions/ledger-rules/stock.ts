import { ENTRY, keptSum } from './rule.js';
import type { LedgerRule } from './rule.js';

const BALANCES: LedgerRule[] = [
  {
    rule: 'lot on hand',
    rows: 'lot',
    faults: keptSum('lot', 'code', 'on_hand', 'lot_id', 'select lot_id, quantity as amount from movement'),
  },
  {
    rule: 'lot value',
    rows: 'lot',
    faults: keptSum('lot', 'code', 'value_e4', 'lot_id', 'select lot_id, value_e4 as amount from movement'),
  },
  {
    rule: 'lot reserved',
    rows: 'lot',
    faults: keptSum('lot', 'code', 'reserved', 'lot_id', 'select lot_id, open as amount from reservation'),
  },
  {
    rule: 'lot within bounds',
    rows: 'lot',
    faults: `select code, concat_ws(' ', on_hand, reserved, value_e4), '0 <= reserved <= on hand, and no value of nothing'
      from lot where not (0 <= reserved and reserved <= on_hand and value_e4 >= 0 and (on_hand > 0 or value_e4 = 0))`,
  },
  {
    rule: 'batch promised',
    rows: 'batch',
    faults: keptSum('batch', 'code', 'promised', 'batch_id', 'select batch_id, open as amount from reservation'),
  },
  {
    rule: 'delivery promised',
    rows: 'delivery_line',
    faults: keptSum(
      'delivery_line',
      'id',
      'promised',
      'delivery_line_id',
      'select delivery_line_id, open as amount from reservation',
    ),
  },
  {
    rule: 'delivery received',
    rows: 'delivery_line',
    faults: keptSum(
      'delivery_line',
      'id',
      'received',
      'delivery_line_id',
      `select delivery_line_id, quantity as amount from ${ENTRY} as e where kind = 'receipt'`,
    ),
  },
  {
    rule: 'money',
    rows: 'movement',
    faults: `select 'all lots', l.total::text, m.total::text
      from (select coalesce(sum(value_e4), 0) as total from lot) l, (select coalesce(sum(value_e4), 0) as total from movement) m
      where l.total <> m.total`,
  },
];

/** Each movement fits what was there before it: floor(value x quantity / on hand) left, and the last gram took the rest. */
const FITS = `had + quantity >= 0 and had_e4 + value_e4 >= 0 and (had + quantity > 0 or had_e4 + value_e4 = 0) and case
  when cause = 'correction' or quantity = 0 then true
  when quantity > 0 then value_e4 >= 0
  else value_e4 = -(case when -quantity = had then had_e4 else floor(had_e4::numeric * -quantity / nullif(had, 0)) end) end`;

const replayed = (order: string) => `select distinct on (lot_id) lot_id, id, had, had_e4, quantity, value_e4 from (
  select m.*, (sum(quantity) over w - quantity)::bigint as had, (sum(value_e4) over w - value_e4)::bigint as had_e4
  from movement m window w as (partition by lot_id order by ${order} rows unbounded preceding)) as step
  where (${FITS}) is not true order by lot_id, ${order}`;

const MOVEMENTS: LedgerRule[] = [
  {
    // in the order of recording; by number where the clock was set back between two
    rule: 'ledger replayed',
    rows: 'movement',
    faults: `select 'movement ' || t.id || ' of ' || l.code, concat_ws(' ', t.quantity, t.value_e4),
        concat_ws(' ', 'what fits', t.had, t.had_e4)
      from (${replayed('recorded_at, id')}) t join (${replayed('id')}) i using (lot_id) join lot l on l.id = t.lot_id`,
  },
  {
    rule: 'reversal',
    rows: 'movement where reverses_id is not null',
    faults: `select m.id::text, concat_ws(' ', m.lot_id, m.quantity, m.value_e4),
        concat_ws(' ', was.lot_id, -was.quantity, -was.value_e4)
      from movement m join movement was on was.id = m.reverses_id
      where (m.lot_id, m.quantity, m.value_e4) <> (was.lot_id, -was.quantity, -was.value_e4)
        or was.cause = 'correction' or m.id < was.id
        or exists (select from movement other where other.reverses_id = m.reverses_id and other.id <> m.id)`,
  },
  {
    rule: 'parent',
    rows: 'lot where parent_lot_id is not null',
    faults: `select c.code, p.code, 'an earlier lot of the same item that it was split off or sent from'
      from lot c join lot p on p.id = c.parent_lot_id
      where p.id >= c.id or p.item_id <> c.item_id
        or (c.on_hand > 0 and not exists (select from movement where lot_id = c.id and (cause = 'return'
          or (cause = 'split' and other_lot_id = p.id))))`,
  },
  {
    rule: 'split',
    rows: `movement where cause = 'split'`,
    faults: `select child.id::text, concat_ws(' ', child.quantity, child.value_e4),
        concat_ws(' ', -mother.quantity, -mother.value_e4)
      from movement child left join movement mother on mother.cause = 'split' and mother.lot_id = child.other_lot_id
        and mother.other_lot_id = child.lot_id
      where child.cause = 'split' and child.quantity > 0
        and (mother.id is null or (child.quantity, child.value_e4) <> (-mother.quantity, -mother.value_e4)
          or exists (select from movement where reverses_id = child.id)
            <> exists (select from movement where reverses_id = mother.id))
    union all
    select mother.id::text, 'nothing', (-mother.quantity)::text
      from movement mother where mother.cause = 'split' and mother.quantity < 0
        and not exists (select from movement child where child.cause = 'split' and child.quantity > 0
          and child.lot_id = mother.other_lot_id and child.other_lot_id = mother.lot_id)`,
  },
  {
    rule: 'shelf count',
    rows: 'shelf_count_line',
    faults: `select c.shelf_count_id::text, coalesce(m.quantity, 0)::text, (c.counted - c.expected)::text
      from shelf_count_line c left join movement m on m.id = c.movement_id
      where coalesce(m.quantity, 0) <> c.counted - c.expected
        or (m.id is not null and (m.lot_id <> c.lot_id or m.cause <> 'count'))`,
  },
  {
    // what a weighing found beyond the book is there for that weighing alone: booked before it, of its lot, taken back with it
    rule: 'found by weighing',
    rows: 'movement where found_id is not null',
    faults: `select m.id::text, coalesce(f.id || ' ' || f.cause || ' ' || f.quantity, 'nothing'),
        'a count of its lot before it, taken back with it'
      from movement m left join movement f on f.id = m.found_id
      where m.found_id is not null and (f.id is null or f.cause <> 'count' or f.quantity <= 0 or f.lot_id <> m.lot_id
        or f.id >= m.id or exists (select from movement where reverses_id = f.id)
          <> exists (select from movement where reverses_id = m.id))`,
  },
  {
    rule: 'price difference',
    rows: 'price_difference',
    faults: `select p.id::text, (coalesce(m.value_e4, 0) + p.difference_e4)::text, p.stated_e4::text
      from price_difference p left join (select price_difference_id, sum(value_e4) value_e4 from movement group by 1) m
        on m.price_difference_id = p.id
      where coalesce(m.value_e4, 0) <> p.added_e4 or p.added_e4 + p.difference_e4 <> p.stated_e4`,
  },
  {
    rule: 'shipment',
    rows: 'shipment',
    faults: `select m.id::text, o.order_id::text, s.order_id::text
      from movement m join shipment s on s.id = m.shipment_id left join order_line o on o.id = m.order_line_id
      where o.order_id is distinct from s.order_id
    union all
    select 'shipment ' || id, 'nothing', 'something sent'
      from shipment s where not exists (select from movement where shipment_id = s.id)`,
  },
  {
    rule: 'value returned',
    rows: `movement where cause = 'return'`,
    faults: `select 'line ' || order_line_id || ' of lot ' || came_from, back_e4::text, 'at most ' || sent_e4
      from (select e.order_line_id, case e.kind when 'return' then l.parent_lot_id else l.id end as came_from,
          sum(e.value_e4) filter (where e.kind = 'return') as back_e4,
          coalesce(-sum(e.value_e4) filter (where e.kind = 'shipment'), 0) as sent_e4
        from ${ENTRY} as e join lot l on l.id = e.lot_id where e.kind in ('return', 'shipment') group by 1, 2) sums
      where back_e4 > sent_e4`,
  },
  {
    // the date and the status are those of the moment of recording: the next change after it says what was before
    rule: 'used past its date',
    rows: `movement where cause in ('consumption', 'shipment')`,
    faults: `select m.id::text, m.done_on::text, then_.expires_on::text
      from movement m join lot l on l.id = m.lot_id
        left join lateral (select true as is_there, t.from_date from retest t
          where t.lot_id = l.id and t.created_at > m.recorded_at order by t.id limit 1) next on true
        cross join lateral (select case when next.is_there then next.from_date else l.expires_on end as expires_on) then_
      where m.cause in ('consumption', 'shipment') and then_.expires_on < m.done_on`,
  },
  {
    // a rejected lot goes into the batch it was set aside for
    rule: 'used while not released',
    rows: `movement where cause in ('consumption', 'shipment', 'trial', 'own-use')`,
    faults: `select m.id::text, coalesce(next.from_status, l.status), 'released'
      from movement m join lot l on l.id = m.lot_id
        left join batch_input bi on bi.id = m.batch_input_id
        left join lateral (select s.from_status from state_change s where s.subject = 'lot' and s.subject_id = l.id
          and s.done_at > m.recorded_at order by s.id limit 1) next on true
      where m.cause in ('consumption', 'shipment', 'trial', 'own-use')
        and coalesce(next.from_status, l.status) <> 'released'
        and not (coalesce(next.from_status, l.status) = 'rejected' and coalesce(bi.rework_lot_id = m.lot_id, false))`,
  },
  {
    rule: 'row that is gone',
    rows: 'movement',
    faults: `select 'movement ' || id, 'lot ' || lot_id, 'a lot that is there'
      from movement m where not exists (select from lot where id = m.lot_id)
    union all
    select 'reservation ' || id, concat_ws(' ', lot_id, batch_id, delivery_line_id, batch_input_id, order_line_id),
        'a source and a target that are there'
      from reservation r
      where not (exists (select from lot where id = r.lot_id) or exists (select from batch where id = r.batch_id)
          or exists (select from delivery_line where id = r.delivery_line_id))
        or not (exists (select from batch_input where id = r.batch_input_id)
          or exists (select from order_line where id = r.order_line_id))
    union all
    select 'movement ' || m.id, concat_ws(' ', m.reservation_id, m.batch_input_id, m.order_line_id, m.delivery_line_id,
        m.other_lot_id, m.reverses_id, m.shipment_id, m.price_difference_id), 'rows that are there'
      from movement m left join reservation r on r.id = m.reservation_id left join batch_input i on i.id = m.batch_input_id
        left join order_line o on o.id = m.order_line_id left join delivery_line d on d.id = m.delivery_line_id
        left join lot l on l.id = m.other_lot_id left join movement was on was.id = m.reverses_id
        left join shipment s on s.id = m.shipment_id left join price_difference p on p.id = m.price_difference_id
      where (m.reservation_id, m.batch_input_id, m.order_line_id, m.delivery_line_id)
          is distinct from (r.id, i.id, o.id, d.id)
        or (m.other_lot_id, m.reverses_id, m.shipment_id, m.price_difference_id) is distinct from (l.id, was.id, s.id, p.id)`,
  },
];

/** What lots hold and are worth, and every entry of the ledger. */
export const STOCK_RULES: LedgerRule[] = [...BALANCES, ...MOVEMENTS];
