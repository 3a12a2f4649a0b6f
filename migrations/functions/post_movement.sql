-- The one way a lot's balance changes: a movement is checked, valued and posted to its lot, and to the promise it uses, in
-- one step.
create or replace function post_movement() returns trigger language plpgsql security definer set search_path = public as $$
declare
  l lot%rowtype;
  r reservation%rowtype;
  reversed movement%rowtype;
  taken bigint := 0;
begin
  -- the lot before the reservation, always in this order
  select * into l from lot where id = new.lot_id for update;
  if not found then
    raise exception 'there is no lot with id %', new.lot_id using errcode = 'LW001';
  end if;
  -- a lot comes in once: what is found of it later is a count, which says why
  if new.cause = 'receipt' and exists (select from movement where lot_id = new.lot_id) then
    raise exception 'lot % has come in already', l.code using errcode = 'LW008';
  end if;
  if new.cause in ('consumption', 'shipment') then
    if l.status <> 'released'
      -- what is set aside for it goes into the batch that mends it, and nowhere else
      and not (new.cause = 'consumption' and l.status = 'rejected' and exists (select from batch_input
        where id = new.batch_input_id and rework_lot_id = l.id)) then
      raise exception 'lot % is %, only a released lot is used or shipped', l.code, l.status using errcode = 'LW002';
    end if;
    if l.expires_on < new.done_on then
      raise exception 'lot % was last usable on %, not on %', l.code, l.expires_on, new.done_on using errcode = 'LW003';
    end if;
  end if;
  if new.reservation_id is not null then
    if new.quantity >= 0 then
      raise exception 'only what leaves a lot can use a reservation' using errcode = 'LW004';
    end if;
    select * into r from reservation where id = new.reservation_id for update;
    if not found or r.lot_id is distinct from new.lot_id then
      raise exception 'reservation % is not on lot %', new.reservation_id, l.code using errcode = 'LW004';
    end if;
    if r.open = 0 then
      raise exception 'reservation % is already %', r.id,
        case when r.freed > 0 then 'freed' else 'used' end using errcode = 'LW004';
    end if;
    taken := least(r.open, -new.quantity);
  end if;
  if l.on_hand + new.quantity < l.reserved - taken then
    raise exception 'lot % has % free, not %', l.code, amount_text(l.on_hand - l.reserved + taken, l.item_id),
      amount_text(-new.quantity, l.item_id)
      using errcode = 'LW005';
  end if;
  if new.cause = 'correction' then
    select * into reversed from movement where id = new.reverses_id;
    if reversed.lot_id <> new.lot_id or reversed.quantity <> -new.quantity or reversed.cause = 'correction' then
      raise exception 'a correction reverses one whole movement of the same lot' using errcode = 'LW006';
    end if;
    new.value_e4 := -reversed.value_e4;
  elsif new.quantity < 0 then
    -- floor, and the last gram takes the rest, so that no part of a cent is lost or made
    new.value_e4 := -(case when -new.quantity = l.on_hand then l.value_e4
      else floor(l.value_e4::numeric * -new.quantity / l.on_hand)::bigint end);
  end if;
  new.recorded_at := clock_timestamp();
  update lot set on_hand = on_hand + new.quantity, value_e4 = value_e4 + new.value_e4, reserved = reserved - taken
    where id = new.lot_id;
  if taken > 0 then
    update reservation set open = open - taken, consumed = consumed + taken where id = new.reservation_id;
  end if;
  return new;
end $$;
