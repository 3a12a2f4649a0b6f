/** The promises that the acts of 0006-ledger-acts add to `ledger_violations()`, recomputed from the ledger. */
export const VIOLATIONS = `
  alter function ledger_violations() rename to balance_violations;

  create function act_violations() returns table (rule text, subject text, found text, expected text)
    language sql stable set search_path = public as $$
    with entry as materialized (
      select m.*, coalesce(was.cause, m.cause) as kind from movement m left join movement was on was.id = m.reverses_id
      where m.cause <> 'receipt' or m.delivery_line_id is not null
    )
    select 'order line from stock', o.id::text, o.from_stock::text, coalesce(m.quantity, 0)::text
      from order_line o left join (select order_line_id, -sum(quantity) quantity from entry where kind = 'shipment'
        group by 1) m on m.order_line_id = o.id
      where o.from_stock <> coalesce(m.quantity, 0)
    union all
    select 'order line returned', o.id::text, o.returned::text, coalesce(m.quantity, 0)::text
      from order_line o left join (select order_line_id, sum(quantity) quantity from entry where kind = 'return'
        group by 1) m on m.order_line_id = o.id
      where o.returned <> coalesce(m.quantity, 0)
    union all
    select 'order line shipped', id::text, shipped::text, 'at least ' || from_stock
      from order_line where shipped < from_stock or returned > from_stock
    union all
    select 'input weighed', i.id::text, i.weighed::text, coalesce(m.quantity, 0)::text
      from batch_input i left join (select batch_input_id, -sum(quantity) quantity from entry where kind = 'consumption'
        group by 1) m on m.batch_input_id = i.id
      where i.weighed <> coalesce(m.quantity, 0)
    union all
    select 'delivery received', d.id::text, d.received::text, coalesce(m.quantity, 0)::text
      from delivery_line d left join (select delivery_line_id, sum(quantity) quantity from entry where kind = 'receipt'
        group by 1) m on m.delivery_line_id = d.id
      where d.received <> coalesce(m.quantity, 0)
    union all
    select 'promise used', r.id::text, r.consumed::text, coalesce(m.taken, 0)::text
      from reservation r left join (select reservation_id, sum(taken) taken from entry m
        where not exists (select from movement where reverses_id = m.id) group by 1) m on m.reservation_id = r.id
      where r.consumed <> coalesce(m.taken, 0)
    union all
    select 'money', 'all lots', (select coalesce(sum(value_e4), 0) from lot)::text,
        (select coalesce(sum(value_e4), 0) from movement)::text
      where (select coalesce(sum(value_e4), 0) from lot) <> (select coalesce(sum(value_e4), 0) from movement)
    union all
    select 'price difference', p.id::text, (coalesce(m.value_e4, 0) + p.difference_e4)::text, p.stated_e4::text
      from price_difference p left join (select price_difference_id, sum(value_e4) value_e4 from entry group by 1) m
        on m.price_difference_id = p.id
      where coalesce(m.value_e4, 0) <> p.added_e4 or p.added_e4 + p.difference_e4 <> p.stated_e4
    union all
    select 'reversal', m.id::text, concat_ws(' ', m.lot_id, m.quantity, m.value_e4),
        concat_ws(' ', was.lot_id, -was.quantity, -was.value_e4)
      from movement m join movement was on was.id = m.reverses_id
      where (m.lot_id, m.quantity, m.value_e4) <> (was.lot_id, -was.quantity, -was.value_e4)
        or was.cause = 'correction' or m.id < was.id
    union all
    select 'parent', c.code, p.code, 'an earlier lot of the same item that it was split off or sent from'
      from lot c join lot p on p.id = c.parent_lot_id
      where p.id >= c.id or p.item_id <> c.item_id
        or (c.on_hand > 0 and not exists (select from entry where lot_id = c.id and (cause = 'return'
          or (cause = 'split' and other_lot_id = p.id))))
    union all
    select 'split', child.id::text, concat_ws(' ', child.quantity, child.value_e4),
        concat_ws(' ', -mother.quantity, -mother.value_e4)
      from entry child left join entry mother on mother.cause = 'split' and mother.lot_id = child.other_lot_id
        and mother.other_lot_id = child.lot_id
      where child.cause = 'split' and child.quantity > 0
        and (mother.id is null or (child.quantity, child.value_e4) <> (-mother.quantity, -mother.value_e4)
          or exists (select from movement where reverses_id = child.id)
            <> exists (select from movement where reverses_id = mother.id))
    union all
    select 'split', mother.id::text, 'nothing', (-mother.quantity)::text
      from entry mother where mother.cause = 'split' and mother.quantity < 0
        and not exists (select from entry child where child.cause = 'split' and child.quantity > 0
          and child.lot_id = mother.other_lot_id and child.other_lot_id = mother.lot_id)
    union all
    select 'shelf count', c.shelf_count_id::text, coalesce(m.quantity, 0)::text, (c.counted - c.expected)::text
      from shelf_count_line c left join movement m on m.id = c.movement_id
      where coalesce(m.quantity, 0) <> c.counted - c.expected
        or (m.id is not null and (m.lot_id <> c.lot_id or m.cause <> 'count'))
    union all
    select 'shipment', m.id::text, o.order_id::text, s.order_id::text
      from entry m join shipment s on s.id = m.shipment_id left join order_line o on o.id = m.order_line_id
      where o.order_id is distinct from s.order_id
    union all
    -- the date and the status are those of the moment of recording: the next change after it says what was before
    select 'used past its date', m.id::text, m.done_on::text, then_.expires_on::text
      from entry m join lot l on l.id = m.lot_id
        left join lateral (select t.from_date from retest t where t.lot_id = l.id and t.created_at > m.recorded_at
          order by t.id limit 1) next on true
        cross join lateral (select case when exists (select from retest t where t.lot_id = l.id
          and t.created_at > m.recorded_at) then next.from_date else l.expires_on end as expires_on) then_
      where m.cause in ('consumption', 'shipment') and then_.expires_on < m.done_on
    union all
    select 'used while not released', m.id::text, coalesce(next.from_status, l.status), 'released'
      from entry m join lot l on l.id = m.lot_id
        left join lateral (select s.from_status from state_change s where s.subject = 'lot' and s.subject_id = l.id
          and s.done_at > m.recorded_at order by s.id limit 1) next on true
      where m.cause in ('consumption', 'shipment', 'trial', 'own-use')
        and coalesce(next.from_status, l.status) <> 'released'
    union all
    select 'transition', concat_ws(' ', s.subject, s.subject_id), s.from_status || ' to ' || s.to_status, 'an allowed one'
      from state_change s left join transition t using (subject, from_status, to_status) where t.subject is null
    union all
    select 'state chain', concat_ws(' ', subject, subject_id), from_status, before
      from (select *, lag(to_status) over (partition by subject, subject_id order by id) as before from state_change) s
      where before <> from_status
    union all
    select 'state', concat_ws(' ', now_.subject, now_.id), now_.status, last.to_status
      from (select 'lot' as subject, id, status from lot union all select 'batch', id, status from batch
          union all select 'customer_order', id, status from customer_order union all select 'run', id, status from run)
        now_ join (select distinct on (subject, subject_id) subject, subject_id, to_status from state_change
          order by subject, subject_id, id desc) last on last.subject = now_.subject and last.subject_id = now_.id
      where last.to_status <> now_.status
  $$;

  -- Everything the ledger promises, recomputed; no rows when all is well.
  create function ledger_violations() returns table (rule text, subject text, found text, expected text)
    language sql stable set search_path = public as $$
    select * from balance_violations() union all select * from act_violations()
  $$;
`;
