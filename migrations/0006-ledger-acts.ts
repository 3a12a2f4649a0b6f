import type { MigrationInterface, QueryRunner } from 'typeorm';
import { VIOLATIONS } from './0006-ledger-checks.js';

/**
 * What the acts on stock add to the ledger: the figures an act leaves on the line or input it was for, kept by the
 * database from the movements alone; shelf counts, shipments, retests and price differences as rows that are only added
 * to; and the rules of each act.
 */
export class LedgerActs1764000000006 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(BEFORE_MOVEMENT);
    await db.query(AFTER_MOVEMENT);
    await db.query(GUARDS);
    await db.query(VIOLATIONS);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant insert, update on order_line, batch_input to lotwright_app;
        grant update (expires_on) on lot to lotwright_app;
      end $$;
      drop function ledger_violations, act_violations;
      alter function balance_violations() rename to ledger_violations;
      drop trigger check_act on movement;
      drop trigger post_targets on movement;
      drop trigger inherit on lot;
      drop trigger never_release on lot;
      drop trigger check_life on reservation;
      drop trigger has_begun on batch;
      drop trigger has_begun on batch_input;
      delete from transition where subject = 'batch' and from_status = 'weighed' and to_status = 'reserved';
      alter table movement drop column taken, drop column batch_input_id, drop column shipment_id,
        drop column price_difference_id;
      alter table order_line drop column from_stock, drop column returned;
      alter table batch_input drop column weighed, drop column closed;
      alter table lot drop column never_release;
      drop table shelf_count_line, shelf_count, shipment, retest, price_difference;
      drop function check_act, post_targets, inherit_never_release, refuse_release, check_life, post_retest,
        refuse_begun, refuse_weighed;
    `);
  }
}

const TABLES = `
  alter table lot
    add never_release boolean not null default false,
    add constraint never_released check (not never_release or status <> 'released');

  -- of shipped, what left lots of ours and what of that came back; the rest of shipped is what the shop reports as sent
  alter table order_line
    add from_stock bigint not null default 0,
    add returned bigint not null default 0,
    add constraint from_stock_within_shipped check (from_stock <= shipped),
    add constraint returned_within_from_stock check (returned between 0 and from_stock);

  -- closed: what was weighed is all that goes in, though it is less than was meant
  alter table batch_input
    add weighed bigint not null default 0 check (weighed >= 0),
    add closed boolean not null default false;

  create table shelf_count (
    id               bigint generated always as identity primary key,
    place            text,
    counted_on       date not null,
    reason           text not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create table shelf_count_line (
    shelf_count_id   bigint not null references shelf_count,
    lot_id           bigint not null references lot,
    expected         bigint not null,
    counted          bigint not null check (counted >= 0),
    movement_id      bigint unique references movement,
    primary key (shelf_count_id, lot_id),
    check ((movement_id is null) = (expected = counted))
  );
  create index on shelf_count_line (lot_id);

  create table shipment (
    id               bigint generated always as identity primary key,
    order_id         bigint not null references customer_order,
    shipped_on       date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now()
  );
  create index on shipment (order_id);

  create table retest (
    id               bigint generated always as identity primary key,
    lot_id           bigint not null references lot,
    from_date        date,
    to_date          date not null,
    evidence         text not null check (evidence <> ''),
    examined_on      date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on retest (lot_id);

  -- a cost that came late: stated is all of it, added what the lots still on hand took, difference what was left of it
  create table price_difference (
    id               bigint generated always as identity primary key,
    lot_id           bigint not null references lot,
    stated_e4        bigint not null check (stated_e4 <> 0),
    added_e4         bigint not null,
    difference_e4    bigint not null,
    reason           text not null,
    done_on          date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    check (stated_e4 = added_e4 + difference_e4)
  );

  -- taken: of what left, how much was promised. No movement before these columns used a reservation or an input
  alter table movement
    add taken bigint not null default 0 check (taken >= 0),
    add batch_input_id bigint references batch_input,
    add shipment_id bigint references shipment,
    add price_difference_id bigint references price_difference,
    add check ((price_difference_id is null) = (cause <> 'revaluation'));
  create index on movement (batch_input_id);
  create index on movement (shipment_id);

  insert into transition values ('batch', 'weighed', 'reserved');
  ${['shelf_count', 'shelf_count_line', 'shipment', 'retest', 'price_difference'].map(onlyAddedTo).join('')}
`;

function onlyAddedTo(table: string): string {
  return `
    create trigger append_only before update or delete on ${table} for each row execute function refuse_change();
    create trigger no_truncate before truncate on ${table} for each statement execute function refuse_change();`;
}

const BEFORE_MOVEMENT = `
  -- Runs before post_movement (triggers fire by name) and holds the lot's lock from here on.
  create function check_act() returns trigger language plpgsql security definer set search_path = public as $$
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

  create trigger check_act before insert on movement for each row
    when (new.cause not in ('receipt', 'production', 'count') or new.reservation_id is not null or new.taken <> 0)
    execute function check_act();
`;

const AFTER_MOVEMENT = `
  -- What the act was for, in the same statement: a line's shipped and returned, an input's weighed, a delivery's received.
  create function post_targets() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    was movement%rowtype;
    l lot%rowtype;
    r reservation%rowtype;
    kind text := new.cause;
    owed int;
  begin
    if kind = 'correction' then
      select * into was from movement where id = new.reverses_id;
      kind := was.cause;
    end if;
    if kind = 'shipment' and new.order_line_id is not null then
      update order_line set shipped = shipped - new.quantity, from_stock = from_stock - new.quantity
        where id = new.order_line_id
          and quantity - shipped - cancelled >= -new.quantity and from_stock - new.quantity >= returned;
      if not found and new.quantity < 0 then
        raise exception 'the order line has less open than %', -new.quantity using errcode = 'LW005';
      elsif not found then
        raise exception 'some of what was shipped came back: correct that return first' using errcode = 'LW006';
      end if;
    elsif kind = 'return' then
      update order_line set returned = returned + new.quantity
        where id = new.order_line_id and returned + new.quantity <= from_stock;
      if not found then
        raise exception 'less than % was shipped of the line and has not come back', new.quantity using errcode = 'LW005';
      end if;
    elsif kind = 'consumption' and new.batch_input_id is not null then
      update batch_input set weighed = weighed - new.quantity, closed = closed and new.quantity < 0
        where id = new.batch_input_id;
    elsif new.cause = 'correction' and kind = 'receipt' then
      update delivery_line set received = received + new.quantity where id = new.delivery_line_id;
    end if;
    if was.taken > 0 then
      -- what was promised before is promised again, where the lot may still be used on that day
      select * into l from lot where id = new.lot_id;
      select * into r from reservation where id = was.reservation_id for update;
      select i.owed_life_days into owed from order_line ol join item i on i.id = ol.item_id where ol.id = r.order_line_id;
      if l.status = 'released' and (l.expires_on is null or l.expires_on >= r.need_on + coalesce(owed, 0)) then
        update reservation set consumed = consumed - was.taken, open = open + was.taken where id = r.id;
        update lot set reserved = reserved + was.taken where id = l.id;
      else
        update reservation set consumed = consumed - was.taken, freed = freed + was.taken where id = r.id;
      end if;
    end if;
    return null;
  end $$;

  create trigger post_targets after insert on movement for each row
    when (new.cause in ('shipment', 'return', 'consumption', 'correction')) execute function post_targets();
`;

const GUARDS = `
  create function inherit_never_release() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    new.never_release := new.never_release or (select never_release from lot where id = new.parent_lot_id);
    return new;
  end $$;
  create trigger inherit before insert on lot
    for each row when (new.parent_lot_id is not null) execute function inherit_never_release();

  create function refuse_release() returns trigger language plpgsql as $$
  begin
    raise exception 'lot % came back from a customer and is never sold again', new.code using errcode = 'LW008';
  end $$;
  create trigger never_release before update of status on lot
    for each row when (new.never_release and new.status = 'released') execute function refuse_release();

  -- A customer is owed some of the life of what is set aside: its lot has to last until then.
  create function check_life() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    perform 1 from lot where id = new.lot_id for update;
    if exists (select from lot l, order_line ol join item i on i.id = ol.item_id
        where l.id = new.lot_id and ol.id = new.order_line_id and i.owed_life_days > 0
          and l.expires_on < new.need_on + i.owed_life_days) then
      raise exception 'the lot does not last as long as the customer is owed from %', new.need_on using errcode = 'LW003';
    end if;
    return new;
  end $$;
  create trigger check_life before insert on reservation
    for each row when (new.lot_id is not null and new.order_line_id is not null) execute function check_life();

  -- Evidence alone moves a lot's date.
  create function post_retest() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    l lot%rowtype;
  begin
    select * into l from lot where id = new.lot_id for update;
    if not exists (select from item where id = l.item_id and lot_date_kind = 'retest') then
      raise exception 'the date of lot % is no retest date', l.code using errcode = 'LW008';
    end if;
    new.from_date := l.expires_on;
    new.created_at := clock_timestamp();
    update lot set expires_on = new.to_date where id = l.id;
    return new;
  end $$;
  create trigger post_retest before insert on retest for each row execute function post_retest();

  -- What was weighed is in the batch: neither the batch nor the input is taken back or planned anew under it.
  create function refuse_begun() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if exists (select from batch_input where batch_id = new.id and weighed > 0) then
      raise exception 'batch % is begun: it has something weighed into it', new.code using errcode = 'LW008';
    end if;
    return new;
  end $$;
  create trigger has_begun before update on batch for each row
    when (new.status in ('planned', 'cancelled') and new.status <> old.status or new.output <> old.output)
    execute function refuse_begun();

  create function refuse_weighed() returns trigger language plpgsql as $$
  begin
    raise exception 'line % of the batch is weighed already', new.position using errcode = 'LW008';
  end $$;
  create trigger has_begun before update of quantity, item_id on batch_input for each row
    when (old.weighed > 0 and (new.quantity, new.item_id) is distinct from (old.quantity, old.item_id))
    execute function refuse_weighed();
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on shelf_count, shelf_count_line, shipment, retest, price_difference from lotwright_app;
    grant select on shelf_count, shelf_count_line, shipment, retest, price_difference to lotwright_app;
    grant insert (place, counted_on, reason) on shelf_count to lotwright_app;
    grant insert (shelf_count_id, lot_id, expected, counted, movement_id) on shelf_count_line to lotwright_app;
    grant insert (order_id, shipped_on) on shipment to lotwright_app;
    grant insert (lot_id, to_date, evidence, examined_on) on retest to lotwright_app;
    grant insert (lot_id, stated_e4, added_e4, difference_e4, reason, done_on) on price_difference to lotwright_app;
    grant insert (batch_input_id, shipment_id, price_difference_id) on movement to lotwright_app;
    -- figures the ledger keeps are closed; every other column stays as it was
    revoke insert, update on order_line, batch_input from lotwright_app;
    grant insert (id, order_id, shop_code, occurrence, item_id, quantity, shipped, cancelled, ship_by, not_before)
      on order_line to lotwright_app;
    grant update (item_id, quantity, shipped, cancelled, ship_by, not_before) on order_line to lotwright_app;
    grant insert (id, batch_id, position, item_id, step, need_on, quantity) on batch_input to lotwright_app;
    grant update (item_id, need_on, quantity, closed) on batch_input to lotwright_app;
    revoke update (expires_on) on lot from lotwright_app;
  end $$;
`;
