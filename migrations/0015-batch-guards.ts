/** What the database holds of a batch's life: functions of earlier migrations made anew, and new triggers. */

/** `consumes` says of which lots that are not released something may go into a batch all the same. */
const postMovement = (consumes: string) => `
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
    if new.cause in ('consumption', 'shipment') then
      if l.status <> 'released'${consumes} then
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
      raise exception 'lot % has % free, not %', l.code, l.on_hand - l.reserved + taken, -new.quantity
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
`;

/** `gives` is what a batch has to give while it is made. */
const postReservation = (gives: string) => `
  -- Every source is taken from inside the WHERE of one UPDATE: after waiting for a lock, READ COMMITTED looks at the
  -- newest row again, so two makers can never both win the same gram.
  create or replace function post_reservation() returns trigger language plpgsql security definer
    set search_path = public as $$
  declare
    wanted bigint;
    lasts_until date := new.need_on;
    source_item bigint;
  begin
    new.open := new.quantity;
    new.consumed := 0;
    new.freed := 0;
    if new.batch_input_id is not null then
      select item_id into wanted from batch_input where id = new.batch_input_id;
    else
      -- a customer is owed some of the life of what is set aside
      select i.id, new.need_on + i.owed_life_days into wanted, lasts_until
        from order_line ol join item i on i.id = ol.item_id where ol.id = new.order_line_id;
    end if;
    if new.lot_id is not null then
      update lot set reserved = reserved + new.quantity
        where id = new.lot_id and item_id = wanted and status = 'released' and on_hand - reserved >= new.quantity
          and (expires_on is null or expires_on >= lasts_until);
    elsif new.batch_id is not null then
      update batch set promised = promised + new.quantity
        where id = new.batch_id and item_id = wanted and status in ('planned', 'reserved', 'weighed', 'resting')
          and ${gives} - promised >= new.quantity;
    else
      update delivery_line set promised = promised + new.quantity
        where id = new.delivery_line_id and item_id = wanted and quantity - received - promised >= new.quantity;
    end if;
    if found then return new; end if;
    if exists (select from lot where id = new.lot_id and expires_on >= new.need_on and expires_on < lasts_until) then
      raise exception 'the lot does not last as long as the customer is owed from %', new.need_on using errcode = 'LW003';
    end if;
    select coalesce((select item_id from lot where id = new.lot_id), (select item_id from batch where id = new.batch_id),
      (select item_id from delivery_line where id = new.delivery_line_id)) into source_item;
    if source_item is not null and source_item is distinct from wanted then
      raise exception 'a reservation must be of the item that is needed' using errcode = 'LW004';
    end if;
    raise exception 'the source can no longer give % by %', new.quantity, new.need_on using errcode = 'LW005';
  end $$;
`;

/** `unless` says when the plan of a batch follows what really happened. */
const guardBatch = (unless: string) => `
  -- A batch that has begun, or is over, stays as it was planned.
  create or replace function guard_batch() returns trigger language plpgsql as $$
  begin
    if old.status not in ('planned', 'reserved') and (new.output, new.put_in_mg, new.day, new.vessel_id, new.minutes)
        is distinct from (old.output, old.put_in_mg, ${unless}, old.vessel_id, old.minutes) then
      raise exception 'batch % is %, so its plan no longer changes', old.code, old.status using errcode = 'LW008';
    end if;
    if new.status = 'cancelled' and new.promised > 0 then
      raise exception 'batch % is still promised to others', old.code using errcode = 'LW008';
    end if;
    return new;
  end $$;
`;

export const GUARDS = `
  ${postMovement(`
        -- what is set aside for it goes into the batch that mends it, and nowhere else
        and not (new.cause = 'consumption' and l.status = 'rejected' and exists (select from batch_input
          where id = new.batch_input_id and rework_lot_id = l.id))`)}
  ${postReservation('coalesce(made, output)')}
  ${guardBatch(`case when new.status = 'resting' and old.status = 'weighed' then new.day else old.day end`)}

  create function guard_rework() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    l lot%rowtype;
  begin
    select * into l from lot where id = new.lot_id for update;
    if l.status is distinct from 'rejected' then
      raise exception 'lot % is %, only a rejected lot is set aside to be worked into another', l.code, l.status
        using errcode = 'LW002';
    end if;
    if l.never_release then
      raise exception 'lot % came back from a customer and is never sold again, in whatever', l.code using errcode = 'LW008';
    end if;
    return new;
  end $$;
  create trigger guard_rework before insert on rework for each row execute function guard_rework();

  create function guard_rework_input() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if (select item_id from lot where id = new.rework_lot_id) <> new.item_id then
      raise exception 'a line that takes a lot is of its item' using errcode = 'LW004';
    end if;
    return new;
  end $$;
  create trigger guard_rework before insert or update on batch_input for each row
    when (new.rework_lot_id is not null) execute function guard_rework_input();

  -- A batch never takes what came of itself. Only one that is closed, and still takes labels, could.
  create function refuse_loop() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if not exists (select from batch_output where batch_id = new.batch_id) then return new; end if;
    if exists (
      with recursive came_of (lot_id) as (
        select new.lot_id
        union
        select above.id from came_of c cross join lateral (
          select l.parent_lot_id as id from lot l where l.id = c.lot_id and l.parent_lot_id is not null
          union all
          select m.lot_id from batch_output o join movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
            where o.lot_id = c.lot_id) above
      ) select from came_of c join batch_output o on o.lot_id = c.lot_id where o.batch_id = new.batch_id) then
      raise exception 'this lot was made from the batch itself' using errcode = 'LW004';
    end if;
    return new;
  end $$;
  create trigger refuse_loop before insert on movement for each row
    when (new.cause = 'consumption') execute function refuse_loop();

  create function post_finish() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    update batch set made = new.made where id = new.batch_id;
    return null;
  end $$;
  create trigger post_finish after insert on batch_finish for each row execute function post_finish();

  -- What a batch made, and every part of it, waits for the batch: it can be held meanwhile, and is released after it.
  create function guard_made_lot() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    made_by batch%rowtype;
  begin
    with recursive above (id, parent) as (
      select new.id, new.parent_lot_id
      union all
      select l.id, l.parent_lot_id from lot l join above a on l.id = a.parent
    )
    select b.* into made_by from above a join batch_output o on o.lot_id = a.id and o.kind = 'made'
      join batch b on b.id = o.batch_id where b.status <> 'released'
        and (new.status = 'released' or (b.status = 'resting' and a.id = new.id));
    if found then
      raise exception 'lot % comes of batch %, which is %: it is decided with the batch', new.code, made_by.code,
        made_by.status using errcode = 'LW008';
    end if;
    return new;
  end $$;
  create trigger guard_made before update of status on lot for each row
    when (new.status is distinct from old.status and new.status in ('released', 'rejected'))
    execute function guard_made_lot();
`;

export const GUARDS_BEFORE = `
  drop trigger guard_made on lot;
  drop trigger post_finish on batch_finish;
  drop trigger refuse_loop on movement;
  drop trigger guard_rework on batch_input;
  drop trigger guard_rework on rework;
  ${postMovement('')}
  ${postReservation('output')}
  ${guardBatch('old.day')}
`;
