/**
 * A fault of each kind: the promise it breaks, and SQL that breaks it on the demonstration with its week committed and one
 * of each act done. Triggers are off and CHECKs, foreign keys and what keeps rows apart are gone when it runs, as for whoever owns the tables.
 */
export const FAULTS: [rule: string, plant: string][] = [
  ['lot on hand', `update lot set on_hand = on_hand + 1 where id = (select min(id) from lot where on_hand > 0)`],
  ['lot on hand', `delete from movement where id = (select max(id) from movement where cause = 'receipt')`],
  ['lot value', `update lot set value_e4 = value_e4 + 1 where id = (select min(id) from lot where value_e4 > 0)`],
  ['lot reserved', `update lot set reserved = reserved - 1 where id = (select min(id) from lot where reserved > 0)`],
  [
    'lot reserved',
    `delete from reservation where id = (select min(id) from reservation where lot_id is not null and open > 0)`,
  ],
  ['lot within bounds', `update lot set reserved = on_hand + 1 where id = (select min(id) from lot)`],
  ['lot within bounds', `update lot set value_e4 = -1 where id = (select min(id) from lot)`],
  ['batch promised', `update batch set promised = promised + 1 where id = (select min(id) from batch)`],
  [
    'delivery promised',
    `update delivery_line set promised = promised + 1 where id = (select min(id) from delivery_line)`,
  ],
  [
    'delivery received',
    `update delivery_line set received = received + 1 where id = (select min(id) from delivery_line)`,
  ],
  ['money', `update movement set value_e4 = value_e4 + 1 where id = (select min(id) from movement)`],
  [
    'ledger replayed',
    // value moves from one act to another: every sum still holds
    `update movement set value_e4 = value_e4 + case cause when 'sample' then 1 else -1 end
     where cause in ('sample', 'count') and lot_id = (select lot_id from movement where cause = 'sample' and reason = 'kept')`,
  ],
  ['reversal', `update movement set value_e4 = value_e4 + 1 where cause = 'correction'`],
  ['parent', `update lot set parent_lot_id = id where id = (select max(id) from lot where on_hand > 0)`],
  ['split', `update movement set value_e4 = value_e4 + 1 where cause = 'split' and quantity > 0`],
  ['split', `delete from movement where cause = 'split' and quantity > 0`],
  ['shelf count', `update shelf_count_line set counted = counted + 1 where movement_id is not null`],
  [
    'shelf count',
    `update shelf_count_line set movement_id = (select min(id) from movement) where movement_id is not null`,
  ],
  ['found by weighing', `update movement set quantity = -quantity where id in (select found_id from movement)`],
  [
    'found by weighing',
    // taken back by itself, while what it was found for stands
    `insert into movement (lot_id, cause, quantity, value_e4, done_on, reverses_id)
     select lot_id, 'correction', -quantity, 0, done_on, id from movement where id in (select found_id from movement)`,
  ],
  ['price difference', `update price_difference set added_e4 = added_e4 - 1, difference_e4 = difference_e4 + 1`],
  ['purchase expected', `update purchase_part set packs = packs + 1`],
  ['purchase expected', `delete from delivery_line where id = (select min(delivery_line_id) from purchase_part)`],
  ['landed cost', `update purchase_order set freight_e4 = freight_e4 + 1`],
  [
    'landed cost',
    `update delivery_line set cost_e4 = cost_e4 - 1 where id = (select min(delivery_line_id) from purchase_part)`,
  ],
  ['shipment', `update shipment set order_id = (select max(id) from customer_order where id <> order_id)`],
  ['shipment', `insert into shipment (order_id, shipped_on) select max(order_id), '2026-11-25' from order_line`],
  ['value returned', `update movement set value_e4 = 1000000000 where cause = 'return'`],
  [
    'used past its date',
    `update lot set expires_on = '2020-01-01' where id = (select max(lot_id) from movement where cause = 'shipment')`,
  ],
  [
    'used while not released',
    `update lot set status = 'held', first_status = 'held'
     where id = (select max(lot_id) from movement m where cause in ('shipment', 'consumption')
       and not exists (select from state_change where subject = 'lot' and subject_id = m.lot_id))`,
  ],
  ['row that is gone', `delete from lot where id = (select min(id) from lot where reserved = 0)`],
  ['row that is gone', `delete from batch_input where id = (select min(id) from batch_input)`],
  ['row that is gone', `delete from shipment`],
  ['reservation parts', `update reservation set freed = freed + 1 where id = (select min(id) from reservation)`],
  [
    'promise used',
    `update reservation set consumed = consumed + 1, open = open - 1 where id = (select min(id) from reservation where open > 0)`,
  ],
  [
    'promise used elsewhere',
    `update movement m set reservation_id = (select min(id) from reservation r where r.lot_id <> m.lot_id) where taken > 0`,
  ],
  [
    'promise of another item',
    `update reservation r set order_line_id = (select min(o.id) from order_line o join lot l on l.id = r.lot_id
       where o.item_id <> l.item_id)
     where id = (select min(id) from reservation where lot_id is not null and order_line_id is not null and open > 0)`,
  ],
  [
    'promise that cannot be kept',
    `update lot set status = 'held', first_status = 'held' where id = (select min(lot_id) from reservation where open > 0)`,
  ],
  [
    'promise that cannot be kept',
    `update lot set expires_on = '2026-11-25' where id = (select min(lot_id) from reservation where open > 0)`,
  ],
  [
    'promise that cannot be kept',
    `update batch set status = 'cancelled', first_status = 'cancelled'
     where id = (select min(batch_id) from reservation where open > 0)`,
  ],
  [
    'input over-reserved',
    `update batch_input set quantity = 1 where id = (select min(batch_input_id) from reservation where open > 1)`,
  ],
  [
    'order line over-reserved',
    `update order_line set cancelled = quantity where id = (select min(order_line_id) from reservation where open > 0)`,
  ],
  [
    'order line from stock',
    `update order_line set from_stock = from_stock + 1 where id = (select min(id) from order_line)`,
  ],
  ['order line returned', `update order_line set returned = returned + 1 where id = (select min(id) from order_line)`],
  ['order line shipped', `update order_line set shipped = 0 where from_stock > 0`],
  ['order line shipped', `update order_line set shipped = quantity + 1 where id = (select min(id) from order_line)`],
  [
    'order that is over',
    `update customer_order set status = 'fulfilled', first_status = 'fulfilled'
     where id = (select min(order_id) from order_line where quantity > shipped + cancelled)`,
  ],
  ['input weighed', `update batch_input set weighed = weighed + 1 where id = (select min(id) from batch_input)`],
  [
    'input of another item',
    `update movement set batch_id = (select max(id) from batch) where batch_input_id is not null`,
  ],
  ['put in', `update batch set put_in_mg = put_in_mg + 1 where id = (select min(id) from batch)`],
  [
    'pegs',
    `update peg set quantity = quantity + 1 where (batch_id, position) = (select batch_id, position from peg limit 1)`,
  ],
  ['pegs', `delete from peg where batch_id = (select min(batch_id) from peg)`],
  [
    'pegs of a need',
    `update batch_input i set quantity = 1 from peg p join batch s on s.id = p.batch_id
     where p.for_batch_id = i.batch_id and i.item_id = s.item_id and p.quantity > 1`,
  ],
  [
    'transition',
    `insert into state_change (subject, subject_id, from_status, to_status, done_by)
     select 'lot', id, 'rejected', 'released', 'nobody' from lot limit 1`,
  ],
  [
    'state chain',
    `insert into state_change (subject, subject_id, from_status, to_status, done_by)
     select 'lot', subject_id, 'quarantine', 'released', 'nobody' from state_change where subject = 'lot' limit 1`,
  ],
  [
    'state chain',
    `delete from state_change where id = (select min(id) from state_change where subject = 'lot'
       group by subject_id having count(*) > 2 limit 1)`,
  ],
  ['state', `update lot set status = 'rejected' where id = (select min(id) from lot where reserved = 0)`],
  ['state', `update batch set status = 'released' where id = (select max(id) from batch where status = 'reserved')`],
  [
    'state',
    `update customer_order set status = 'waiting' where id = (select min(id) from customer_order where status = 'confirmed')`,
  ],
  ['state', `update run set status = 'undone' where status = 'committed'`],
  [
    'batch closed',
    `update batch set made = made + 1 where id = (select min(batch_id) from batch_finish where made > 0)`,
  ],
  ['batch closed', `delete from batch_finish where batch_id = (select min(batch_id) from batch_finish where made > 0)`],
  [
    'batch value',
    `update batch_finish set labour_e4 = labour_e4 + 1 where batch_id = (select min(batch_id) from batch_finish)`,
  ],
  [
    'batch value',
    // what was put on after the rest added nothing to the lot it was put on
    `update movement set batch_id = null where cause = 'revaluation' and batch_id is not null`,
  ],
  [
    'batch weight',
    `update batch_finish set loss_mg = loss_mg + 1 where batch_id = (select min(batch_id) from batch_finish)`,
  ],
  ['batch weight', `update batch_finish set unbooked_mg = unbooked_mg + 1, put_in_mg = put_in_mg where batch_id > 0`],
  [
    'batch weight',
    `update movement set quantity = quantity + 1 where lot_id = (select min(lot_id) from batch_output)
     and cause = 'production'`,
  ],
  ['batch output', `delete from batch_output where kind = 'leftover'`],
  [
    'batch output',
    `update lot set status = 'released', first_status = 'released' where id = (select o.lot_id from batch_output o
       join batch b on b.id = o.batch_id where o.kind = 'made' and b.status = 'rejected' limit 1)`,
  ],
  ['check result', `update check_result set passes = not passes where value_e3 is not null`],
  [
    'check result',
    `update check_result set judgement = judgement || '{"verdict":"fails"}' where judgement is not null`,
  ],
  ['kept sample', `update movement set cause = 'own-use' where id = (select min(movement_id) from kept_sample)`],
  ['kept sample', `update kept_sample set batch_id = (select min(id) from batch where id <> batch_id)`],
  [
    'rework',
    `update lot set status = 'released', first_status = 'released' where id = (select min(lot_id) from rework)`,
  ],
  [
    'rework',
    `update movement set lot_id = (select min(id) from lot) where cause = 'consumption' and batch_input_id =
       (select id from batch_input where rework_lot_id is not null)`,
  ],
  [
    'batch loop',
    // the label that went on after the rest came of the candles it went onto
    `update movement m set lot_id = o.lot_id from batch_output o join movement p on p.lot_id = o.lot_id
       and p.cause = 'production' where o.kind = 'made' and m.batch_id = o.batch_id and m.cause = 'consumption' and m.id > p.id`,
  ],
  [
    'batch loop',
    // and through another batch: the candles went into the wax that it took
    `with label as (select m.id, m.batch_id, o.lot_id as made, p.id as production from movement m join batch_output o on o.batch_id = m.batch_id
         and o.kind = 'made' join movement p on p.lot_id = o.lot_id and p.cause = 'production'
         where m.cause = 'consumption' and m.id > p.id limit 1),
       other as (select o.batch_id, o.lot_id from batch_output o, label
         where o.kind = 'made' and o.batch_id <> label.batch_id order by o.batch_id limit 1),
       into_other as (update movement set lot_id = label.made from label, other
         where movement.batch_id = other.batch_id and movement.cause = 'consumption' returning movement.id)
     update movement set lot_id = other.lot_id from label, other where movement.id = label.id`,
  ],
  ['recall hold', `update recall_hold set from_status = 'quarantine'`],
  ['recall hold', `delete from recall_scope where lot_id = (select min(lot_id) from recall_hold)`],
  ['recall lift', `update recall_lift set lot_id = (select max(id) from lot)`],
  ['recall answer', `update recall_answer set lot_id = (select max(id) from lot)`],
  ['erased customer', `update customer set contact = 'a street' where erased_at is not null`],
  [
    'erased customer',
    `update customer set erased_at = now() where id = (select min(id) from customer where erased_at is null)`,
  ],
  [
    'vessel held once',
    `update batch b set vessel_id = o.vessel_id, day = o.emptied_on, emptied_on = greatest(b.emptied_on, o.emptied_on)
     from batch o where o.id = (select min(id) from batch where status = 'reserved' and vessel_id is not null)
       and b.id = (select max(id) from batch where status = 'reserved' and vessel_id is not null)`,
  ],
];
