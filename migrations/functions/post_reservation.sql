-- Writes down of which item a promise is and for whom, and takes it. Every source is taken from inside the WHERE of one
-- UPDATE: after waiting for a lock, READ COMMITTED looks at the newest row again, so two makers can never both win the same
-- gram.
create or replace function post_reservation() returns trigger language plpgsql security definer
  set search_path = public as $$
declare
  lasts_until date := new.need_on;
  source_item bigint;
begin
  new.open := new.quantity;
  new.consumed := 0;
  new.freed := 0;
  if new.batch_input_id is not null then
    select bi.item_id, b.code into new.item_id, new.for_batch
      from batch_input bi join batch b on b.id = bi.batch_id where bi.id = new.batch_input_id;
  else
    -- a customer is owed some of the life of what is set aside
    select i.id, o.channel || ' ' || o.number, new.need_on + i.owed_life_days into new.item_id, new.for_order, lasts_until
      from order_line ol join customer_order o on o.id = ol.order_id join item i on i.id = ol.item_id
      where ol.id = new.order_line_id;
  end if;
  if new.lot_id is not null then
    update lot set reserved = reserved + new.quantity
      where id = new.lot_id and item_id = new.item_id and status = 'released' and on_hand - reserved >= new.quantity
        and (expires_on is null or expires_on >= lasts_until);
  elsif new.batch_id is not null then
    update batch set promised = promised + new.quantity
      where id = new.batch_id and item_id = new.item_id and status in ('planned', 'reserved', 'weighed', 'resting')
        and coalesce(made, output) - promised >= new.quantity;
  else
    update delivery_line set promised = promised + new.quantity
      where id = new.delivery_line_id and item_id = new.item_id and quantity - received - promised >= new.quantity;
  end if;
  if found then return new; end if;
  if exists (select from lot where id = new.lot_id and expires_on >= new.need_on and expires_on < lasts_until) then
    raise exception 'the lot does not last as long as the customer is owed from %', new.need_on using errcode = 'LW003';
  end if;
  select coalesce((select item_id from lot where id = new.lot_id), (select item_id from batch where id = new.batch_id),
    (select item_id from delivery_line where id = new.delivery_line_id)) into source_item;
  if source_item is not null and source_item is distinct from new.item_id then
    raise exception 'a reservation must be of the item that is needed' using errcode = 'LW004';
  end if;
  raise exception 'the source can no longer give % by %', amount_text(new.quantity, new.item_id), new.need_on
    using errcode = 'LW005';
end $$;
