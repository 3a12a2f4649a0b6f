-- Runs before post_movement (triggers fire by name) and holds the lot's lock from here on.
create or replace function check_act() returns trigger language plpgsql security definer set search_path = public as $$
declare
  l lot%rowtype;
  p lot%rowtype;
  r reservation%rowtype;
  was movement%rowtype;
  wanted bigint;
  input_batch bigint;
  owed int;
begin
  select * into l from lot where id = new.lot_id for update;
  if not found then return new; end if;
  new.taken := 0;
  if new.reservation_id is not null and new.quantity < 0 then
    select * into r from reservation where id = new.reservation_id for update;
    new.taken := coalesce(least(r.open, -new.quantity), 0);
    -- a promise is used for whom it was made
    if (new.cause = 'consumption' and (r.batch_input_id is null or new.batch_input_id <> r.batch_input_id))
        or (new.cause = 'shipment' and (r.order_line_id is null or new.order_line_id <> r.order_line_id)) then
      raise exception 'reservation % is for something else', new.reservation_id using errcode = 'LW004';
    end if;
    if new.cause = 'consumption' then new.batch_input_id := r.batch_input_id; end if;
    if new.cause = 'shipment' then new.order_line_id := r.order_line_id; end if;
  end if;
  if new.cause in ('trial', 'own-use') and l.status <> 'released' then
    raise exception 'lot % is %, only a released lot is used', l.code, l.status using errcode = 'LW002';

  elsif new.cause = 'consumption' and new.batch_input_id is not null then
    select item_id, batch_id into wanted, input_batch from batch_input where id = new.batch_input_id;
    if wanted <> l.item_id then
      raise exception 'lot % is not of the item that is weighed', l.code using errcode = 'LW004';
    end if;
    new.batch_id := input_batch;

  elsif new.cause in ('shipment', 'return') and new.order_line_id is not null then
    select ol.item_id, i.owed_life_days into wanted, owed
      from order_line ol join item i on i.id = ol.item_id where ol.id = new.order_line_id;
    if wanted <> l.item_id then
      raise exception 'lot % is not of the item that was ordered', l.code using errcode = 'LW004';
    end if;
    if new.cause = 'shipment' and l.expires_on < new.done_on + owed then
      raise exception 'lot % keeps until %, the customer is owed % days from %', l.code, l.expires_on, owed, new.done_on
        using errcode = 'LW003';
    end if;
  end if;

  if new.cause = 'return' then
    if new.order_line_id is null or l.parent_lot_id is null or l.status = 'released' then
      raise exception 'what comes back is a held part of the lot it left, for the line it was sent for'
        using errcode = 'LW004';
    end if;
    -- nobody can tell whether it was opened, and an opened body product is never sold again
    update lot set never_release = true
      where id = l.id and exists (select from item where id = l.item_id and family = 'body');

  elsif new.cause = 'split' then
    if new.quantity > 0 then
      select * into p from lot where id = new.other_lot_id;
      if l.parent_lot_id is distinct from p.id or l.item_id <> p.item_id then
        raise exception 'lot % is no part of lot %', l.code, p.code using errcode = 'LW004';
      end if;
      if l.status <> p.status and (l.status <> 'held' or p.status = 'rejected') then
        raise exception 'a part of lot %, which is %, cannot be %', p.code, p.status, l.status using errcode = 'LW002';
      end if;
      select -value_e4 into new.value_e4 from movement
        where lot_id = p.id and other_lot_id = l.id and cause = 'split' and quantity = -new.quantity;
      if not found then
        raise exception 'what comes to lot % has not left lot %', l.code, p.code using errcode = 'LW004';
      end if;
    end if;

  elsif new.cause = 'correction' then
    select * into was from movement where id = new.reverses_id;
    if not found then
      raise exception 'there is no movement %', new.reverses_id using errcode = 'LW001';
    end if;
    new.batch_id := was.batch_id;
    new.batch_input_id := was.batch_input_id;
    new.order_line_id := was.order_line_id;
    new.delivery_line_id := was.delivery_line_id;
    new.shipment_id := was.shipment_id;
    -- enough on hand, but later acts took of its value or added to it
    if l.on_hand + new.quantity >= l.reserved and (l.value_e4 < was.value_e4
        or (l.on_hand + new.quantity = 0 and l.value_e4 <> was.value_e4)) then
      raise exception 'the value of lot % has changed since, so this alone cannot be taken back', l.code
        using errcode = 'LW006';
    end if;
  end if;
  return new;
end $$;
