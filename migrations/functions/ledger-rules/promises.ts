import { ENTRY, keptSum } from './rule.js';
import type { LedgerRule } from './rule.js';

const PROMISES: LedgerRule[] = [
  {
    rule: 'reservation parts',
    rows: 'reservation',
    faults: `select id::text, concat_ws(' ', open, consumed, freed), 'parts of ' || quantity
      from reservation where open + consumed + freed <> quantity or least(open, consumed, freed) < 0`,
  },
  {
    rule: 'promise used',
    rows: 'reservation',
    faults: keptSum(
      'reservation',
      'id',
      'consumed',
      'reservation_id',
      `select reservation_id, taken as amount from standing_movement`,
    ),
  },
  {
    rule: 'promise used elsewhere',
    rows: 'movement where reservation_id is not null',
    faults: `select m.id::text, concat_ws(' ', m.lot_id, m.taken, m.batch_input_id, m.order_line_id),
        concat_ws(' ', r.lot_id, 'up to', -m.quantity, r.batch_input_id, r.order_line_id)
      from movement m left join reservation r on r.id = m.reservation_id
      where m.taken > 0 and (r.lot_id is distinct from m.lot_id or m.taken > -m.quantity
        or m.batch_input_id <> r.batch_input_id or m.order_line_id <> r.order_line_id)`,
  },
  {
    rule: 'promise of another item',
    rows: 'reservation where open > 0',
    faults: `select r.id::text, concat_ws(' ', l.item_id, b.item_id, d.item_id), concat_ws(' ', i.item_id, o.item_id)
      from reservation r left join lot l on l.id = r.lot_id left join batch b on b.id = r.batch_id
        left join delivery_line d on d.id = r.delivery_line_id left join batch_input i on i.id = r.batch_input_id
        left join order_line o on o.id = r.order_line_id
      where r.open > 0 and coalesce(l.item_id, b.item_id, d.item_id) <> coalesce(i.item_id, o.item_id)`,
  },
  {
    rule: 'promise that cannot be kept',
    rows: 'reservation where open > 0',
    faults: `select r.id::text, concat_ws(' ', l.code, l.status, l.expires_on, b.code, b.status),
        'a source that may be used on ' || r.need_on
      from reservation r left join lot l on l.id = r.lot_id left join batch b on b.id = r.batch_id
      where r.open > 0 and (l.status <> 'released' or l.expires_on < r.need_on
        or b.status not in ('planned', 'reserved', 'weighed', 'resting'))`,
  },
  {
    rule: 'input over-reserved',
    rows: 'batch_input',
    faults: `select i.id::text, sum(r.open + r.consumed)::text, 'at most ' || i.quantity
      from batch_input i join reservation r on r.batch_input_id = i.id
      group by i.id having sum(r.open + r.consumed) > i.quantity
    union all
    select 'batch ' || b.code, sum(r.open)::text, 'nothing set aside for what is cancelled'
      from batch b join batch_input i on i.batch_id = b.id join reservation r on r.batch_input_id = i.id
      where b.status = 'cancelled' group by b.id having sum(r.open) > 0`,
  },
  {
    rule: 'order line over-reserved',
    rows: 'order_line',
    faults: `select o.id::text, sum(r.open)::text, 'at most ' || o.quantity - o.shipped - o.cancelled
      from order_line o join reservation r on r.order_line_id = o.id
      group by o.id having sum(r.open) > o.quantity - o.shipped - o.cancelled`,
  },
];

const ORDERS_AND_BATCHES: LedgerRule[] = [
  {
    rule: 'order line from stock',
    rows: 'order_line',
    faults: keptSum(
      'order_line',
      'id',
      'from_stock',
      'order_line_id',
      `select order_line_id, -quantity as amount from ${ENTRY} as e where kind = 'shipment'`,
    ),
  },
  {
    rule: 'order line returned',
    rows: 'order_line',
    faults: keptSum(
      'order_line',
      'id',
      'returned',
      'order_line_id',
      `select order_line_id, quantity as amount from ${ENTRY} as e where kind = 'return'`,
    ),
  },
  {
    rule: 'order line shipped',
    rows: 'order_line',
    faults: `select id::text, concat_ws(' ', shipped, cancelled), concat_ws(' ', 'at least', from_stock, 'and at most', quantity)
      from order_line where shipped < from_stock or returned > from_stock or shipped + cancelled > quantity`,
  },
  {
    rule: 'order that is over',
    rows: 'customer_order',
    faults: `select o.number || ' of ' || o.channel, l.open || ' open', o.status
      from customer_order o
        join (select order_id, sum(quantity - shipped - cancelled) as open from order_line group by 1) l on l.order_id = o.id
      where o.status in ('fulfilled', 'cancelled') and l.open > 0`,
  },
  {
    rule: 'input weighed',
    rows: 'batch_input',
    faults: keptSum(
      'batch_input',
      'id',
      'weighed',
      'batch_input_id',
      `select batch_input_id, -quantity as amount from ${ENTRY} as e where kind = 'consumption'`,
    ),
  },
  {
    rule: 'input of another item',
    rows: 'movement where batch_input_id is not null',
    faults: `select m.id::text, concat_ws(' ', m.batch_id, l.item_id), concat_ws(' ', i.batch_id, i.item_id)
      from movement m join lot l on l.id = m.lot_id join batch_input i on i.id = m.batch_input_id
      where (m.batch_id, l.item_id) is distinct from (i.batch_id, i.item_id)`,
  },
  {
    // by what was meant first; what is worked in comes on top
    rule: 'put in',
    rows: 'batch where run_id is not null',
    faults: `select b.code, b.put_in_mg::text, coalesce(sum(coalesce(i.meant, i.quantity)), 0)::text
      from batch b left join (select bi.* from batch_input bi join item on item.id = bi.item_id and item.measure = 'weighed'
          where bi.rework_lot_id is null) i on i.batch_id = b.id
      where b.run_id is not null group by b.id having b.put_in_mg <> coalesce(sum(coalesce(i.meant, i.quantity)), 0)`,
  },
  {
    rule: 'pegs',
    rows: 'peg',
    faults: `select b.code, coalesce(sum(p.quantity), 0)::text, b.output::text
      from batch b left join peg p on p.batch_id = b.id group by b.id having coalesce(sum(p.quantity), 0) <> b.output`,
  },
  {
    rule: 'pegs of a need',
    rows: 'peg where for_batch_id is not null',
    faults: `select b.code, pegged.quantity::text, 'at most ' || coalesce(sum(i.quantity), 0)
      from (select p.for_batch_id, s.item_id, sum(p.quantity) as quantity
          from peg p join batch s on s.id = p.batch_id and s.status in ('planned', 'reserved', 'weighed', 'resting')
          where p.for_batch_id is not null group by 1, 2) pegged
        join batch b on b.id = pegged.for_batch_id and b.status <> 'cancelled'
        left join batch_input i on i.batch_id = b.id and i.item_id = pegged.item_id
      group by b.id, pegged.item_id, pegged.quantity having pegged.quantity > coalesce(sum(i.quantity), 0)`,
  },
];

/** What goes through states, each change of which is kept. */
const STATEFUL = ['lot', 'batch', 'customer_order', 'run'];

/** Every row that has states, with the one it began in and the one it is in. */
const STATES = STATEFUL.map((table) => `select '${table}' as subject, id, first_status, status from ${table}`).join(
  ' union all ',
);

const TRANSITIONS: LedgerRule[] = [
  {
    rule: 'transition',
    rows: 'state_change',
    faults: `select concat_ws(' ', s.subject, s.subject_id), s.from_status || ' to ' || s.to_status, 'an allowed one'
      from state_change s left join transition t using (subject, from_status, to_status) where t.subject is null`,
  },
  {
    rule: 'state chain',
    rows: 'state_change',
    faults: `select concat_ws(' ', c.subject, c.subject_id), c.from_status, coalesce(c.before, now_.first_status)
      from (select *, lag(to_status) over (partition by subject, subject_id order by id) as before from state_change) c
        left join (${STATES}) now_ on now_.subject = c.subject and now_.id = c.subject_id
      where coalesce(c.before, now_.first_status) <> c.from_status`,
  },
  {
    rule: 'state',
    rows: `(${STATES}) as now_`,
    faults: `select concat_ws(' ', now_.subject, now_.id), now_.status, coalesce(last.to_status, now_.first_status)
      from (${STATES}) now_
        left join (select distinct on (subject, subject_id) subject, subject_id, to_status from state_change
          order by subject, subject_id, id desc) last on last.subject = now_.subject and last.subject_id = now_.id
      where now_.status is distinct from coalesce(last.to_status, now_.first_status)`,
  },
];

/** What is promised, ordered and made, and the states of all of it. */
export const PROMISE_RULES: LedgerRule[] = [...PROMISES, ...ORDERS_AND_BATCHES, ...TRANSITIONS];
