import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * Lots, the append-only ledger of movements, reservations, and the triggers that alone may change a balance.
 * Errors raised here carry SQLSTATE LW0xx; the application turns them into problem details.
 */
export class StockLedger1764000000004 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(MOVEMENTS);
    await db.query(RESERVATIONS);
    await db.query(STATES);
    await db.query(VIOLATIONS);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop trigger state_guard on batch;
      drop trigger state_guard on customer_order;
      drop trigger state_guard on run;
      drop trigger guard_measure on item;
      drop function ledger_violations, free_reservation;
      drop table movement, reservation, state_change, lot, transition;
      drop function post_movement, post_reservation, guard_state, guard_lot_date, guard_measure, refuse_change;
    `);
  }
}

const TABLES = `
  create table lot (
    id               bigint generated always as identity primary key,
    code             text not null unique check (length(code) between 1 and 80),
    item_id          bigint not null references item,
    status           text not null check (status in ('quarantine', 'released', 'held', 'rejected')),
    -- changed by post_movement and post_reservation only
    on_hand          bigint not null default 0,
    reserved         bigint not null default 0,
    value_e4         bigint not null default 0 check (value_e4 >= 0),
    -- the last usable day, inclusive; null never expires
    expires_on       date,
    came_on          date not null,
    place            text not null default '',
    supplier_id      bigint references supplier,
    supplier_lot     text not null default '',
    certificate      text not null default '',
    parent_lot_id    bigint references lot,
    batch_id         bigint references batch,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    check (0 <= reserved and reserved <= on_hand),
    check (on_hand > 0 or value_e4 = 0)
  );
  create index on lot (item_id) where on_hand > 0;
  create index on lot (batch_id);
  create index on lot (parent_lot_id);

  create table reservation (
    id               bigint generated always as identity primary key,
    run_id           bigint references run,
    lot_id           bigint references lot,
    batch_id         bigint references batch,
    delivery_line_id bigint references delivery_line,
    batch_input_id   bigint references batch_input,
    order_line_id    bigint references order_line,
    quantity         bigint not null check (quantity > 0),
    open             bigint not null check (open >= 0),
    consumed         bigint not null default 0 check (consumed >= 0),
    freed            bigint not null default 0 check (freed >= 0),
    need_on          date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    check (num_nonnulls(lot_id, batch_id, delivery_line_id) = 1),
    check (num_nonnulls(batch_input_id, order_line_id) = 1),
    check (open + consumed + freed = quantity)
  );
  create index on reservation (lot_id) where open > 0;
  create index on reservation (batch_id) where open > 0;
  create index on reservation (delivery_line_id) where open > 0;
  create index on reservation (batch_input_id);
  create index on reservation (order_line_id);
  create index on reservation (run_id);

  create table movement (
    id               bigint generated always as identity primary key,
    lot_id           bigint not null references lot,
    cause            text not null,
    quantity         bigint not null,
    value_e4         bigint not null default 0,
    done_on          date not null,
    recorded_at      timestamptz not null default clock_timestamp(),
    reason           text not null default '',
    reservation_id   bigint references reservation,
    batch_id         bigint references batch,
    order_line_id    bigint references order_line,
    delivery_line_id bigint references delivery_line,
    other_lot_id     bigint references lot,
    reverses_id      bigint unique references movement,
    created_by       text not null default acting_person(),
    check (case
      when cause in ('receipt', 'production', 'return') then quantity > 0
      when cause in ('consumption', 'shipment', 'return-to-supplier', 'scrap', 'sample', 'trial', 'own-use')
        then quantity < 0
      when cause in ('count', 'split', 'correction') then quantity <> 0
      when cause = 'revaluation' then quantity = 0 and value_e4 <> 0
      else false end),
    check ((cause = 'correction') = (reverses_id is not null)),
    check ((cause = 'split') = (other_lot_id is not null))
  );
  create index on movement (lot_id, done_on);
  create index on movement (batch_id);
  create index on movement (order_line_id);
`;

const MOVEMENTS = `
  create function post_movement() returns trigger language plpgsql security definer set search_path = public as $$
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
      if l.status <> 'released' then
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

  create trigger post_movement before insert on movement for each row execute function post_movement();

  create function refuse_change() returns trigger language plpgsql as $$
  begin
    raise exception '% on % is refused: it is only added to', tg_op, tg_table_name using errcode = 'LW007';
  end $$;

  create trigger append_only before update or delete on movement for each row execute function refuse_change();
  create trigger no_truncate before truncate on movement for each statement execute function refuse_change();
`;

const RESERVATIONS = `
  -- Every source is taken from inside the WHERE of one UPDATE: after waiting for a lock, READ COMMITTED looks at the
  -- newest row again, so two makers can never both win the same gram.
  create function post_reservation() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    wanted bigint;
    source_item bigint;
  begin
    new.open := new.quantity;
    new.consumed := 0;
    new.freed := 0;
    if new.lot_id is not null then
      update lot set reserved = reserved + new.quantity
        where id = new.lot_id and status = 'released' and on_hand - reserved >= new.quantity
          and (expires_on is null or expires_on >= new.need_on)
        returning item_id into source_item;
    elsif new.batch_id is not null then
      update batch set promised = promised + new.quantity
        where id = new.batch_id and status in ('planned', 'reserved', 'weighed', 'resting')
          and output - promised >= new.quantity
        returning item_id into source_item;
    else
      update delivery_line set promised = promised + new.quantity
        where id = new.delivery_line_id and quantity - received - promised >= new.quantity
        returning item_id into source_item;
    end if;
    if source_item is null then
      raise exception 'the source can no longer give % by %', new.quantity, new.need_on using errcode = 'LW005';
    end if;
    if new.batch_input_id is not null then
      select item_id into wanted from batch_input where id = new.batch_input_id;
    else
      select item_id into wanted from order_line where id = new.order_line_id;
    end if;
    if wanted is distinct from source_item then
      raise exception 'a reservation must be of the item that is needed' using errcode = 'LW004';
    end if;
    return new;
  end $$;

  create trigger post_reservation before insert on reservation for each row execute function post_reservation();
  create trigger no_delete before delete on reservation for each row execute function refuse_change();
  create trigger no_truncate before truncate on reservation for each statement execute function refuse_change();

  -- Gives back up to amount of a reservation; answers how much was freed.
  create function free_reservation(which bigint, amount bigint) returns bigint
    language plpgsql security definer set search_path = public as $$
  declare
    r reservation%rowtype;
    given bigint;
  begin
    select * into r from reservation where id = which;
    if not found then
      raise exception 'there is no reservation with id %', which using errcode = 'LW001';
    end if;
    perform 1 from lot where id = r.lot_id for update;
    perform 1 from batch where id = r.batch_id for update;
    perform 1 from delivery_line where id = r.delivery_line_id for update;
    select * into r from reservation where id = which for update;
    given := least(r.open, greatest(amount, 0));
    update reservation set open = open - given, freed = freed + given where id = which;
    update lot set reserved = reserved - given where id = r.lot_id;
    update batch set promised = promised - given where id = r.batch_id;
    update delivery_line set promised = promised - given where id = r.delivery_line_id;
    return given;
  end $$;
`;

const STATES = `
  create table transition (
    subject          text not null,
    from_status      text not null,
    to_status        text not null,
    primary key (subject, from_status, to_status)
  );
  insert into transition values
    ('lot', 'quarantine', 'released'), ('lot', 'quarantine', 'held'), ('lot', 'quarantine', 'rejected'),
    ('lot', 'released', 'held'), ('lot', 'held', 'released'), ('lot', 'held', 'rejected'),
    ('batch', 'planned', 'reserved'), ('batch', 'planned', 'cancelled'), ('batch', 'reserved', 'planned'),
    ('batch', 'reserved', 'weighed'), ('batch', 'reserved', 'cancelled'), ('batch', 'weighed', 'resting'),
    ('batch', 'weighed', 'released'), ('batch', 'weighed', 'rejected'), ('batch', 'resting', 'released'),
    ('batch', 'resting', 'rejected'),
    ('customer_order', 'waiting', 'confirmed'), ('customer_order', 'waiting', 'cancelled'),
    ('customer_order', 'confirmed', 'waiting'), ('customer_order', 'confirmed', 'fulfilled'),
    ('customer_order', 'confirmed', 'cancelled'), ('customer_order', 'fulfilled', 'confirmed'),
    ('run', 'draft', 'committed'), ('run', 'committed', 'undone');

  create table state_change (
    id               bigint generated always as identity primary key,
    subject          text not null,
    subject_id       bigint not null,
    from_status      text not null,
    to_status        text not null,
    why              text not null default '',
    done_by          text not null,
    done_at          timestamptz not null default clock_timestamp()
  );
  create index on state_change (subject, subject_id);
  create trigger append_only before update or delete on state_change for each row execute function refuse_change();

  create function guard_state() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if not exists (select from transition
        where subject = tg_table_name and from_status = old.status and to_status = new.status) then
      raise exception 'a % cannot go from % to %', replace(tg_table_name, '_', ' '), old.status, new.status
        using errcode = 'LW008';
    end if;
    insert into state_change (subject, subject_id, from_status, to_status, why, done_by)
      values (tg_table_name, old.id, old.status, new.status,
        coalesce(current_setting('lotwright.why', true), ''), acting_person());
    return new;
  end $$;

  create trigger state_guard before update of status on lot
    for each row when (old.status is distinct from new.status) execute function guard_state();
  create trigger state_guard before update of status on batch
    for each row when (old.status is distinct from new.status) execute function guard_state();
  create trigger state_guard before update of status on customer_order
    for each row when (old.status is distinct from new.status) execute function guard_state();
  create trigger state_guard before update of status on run
    for each row when (old.status is distinct from new.status) execute function guard_state();

  create function guard_lot_date() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if exists (select from reservation where lot_id = new.id and open > 0 and need_on > new.expires_on) then
      raise exception 'lot % is reserved for a day after %', new.code, new.expires_on using errcode = 'LW003';
    end if;
    return new;
  end $$;

  create trigger guard_date before update of expires_on on lot
    for each row when (new.expires_on is distinct from old.expires_on) execute function guard_lot_date();

  -- Amounts are kept without their unit: milligrams cannot become pieces once an amount of the item is written.
  create function guard_measure() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if exists (select from lot where item_id = new.id) or exists (select from formula_line where item_id = new.id)
      or exists (select from formula where item_id = new.id) or exists (select from pack where item_id = new.id)
      or exists (select from delivery_line where item_id = new.id)
      or exists (select from order_line where item_id = new.id) then
      raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
    end if;
    return new;
  end $$;

  create trigger guard_measure before update of measure on item
    for each row when (new.measure <> old.measure) execute function guard_measure();
`;

export const VIOLATIONS = `
  -- Everything the ledger promises, recomputed; no rows when all is well.
  create function ledger_violations() returns table (rule text, subject text, found text, expected text)
    language sql stable set search_path = public as $$
    select 'lot on hand', l.code, l.on_hand::text, coalesce(m.quantity, 0)::text
      from lot l left join (select lot_id, sum(quantity) quantity from movement group by 1) m on m.lot_id = l.id
      where l.on_hand <> coalesce(m.quantity, 0)
    union all
    select 'lot value', l.code, l.value_e4::text, coalesce(m.value_e4, 0)::text
      from lot l left join (select lot_id, sum(value_e4) value_e4 from movement group by 1) m on m.lot_id = l.id
      where l.value_e4 <> coalesce(m.value_e4, 0)
    union all
    select 'lot reserved', l.code, l.reserved::text, coalesce(r.open, 0)::text
      from lot l left join (select lot_id, sum(open) open from reservation group by 1) r on r.lot_id = l.id
      where l.reserved <> coalesce(r.open, 0)
    union all
    select 'batch promised', b.code, b.promised::text, coalesce(r.open, 0)::text
      from batch b left join (select batch_id, sum(open) open from reservation group by 1) r on r.batch_id = b.id
      where b.promised <> coalesce(r.open, 0)
    union all
    select 'delivery promised', d.id::text, d.promised::text, coalesce(r.open, 0)::text
      from delivery_line d
      left join (select delivery_line_id, sum(open) open from reservation group by 1) r on r.delivery_line_id = d.id
      where d.promised <> coalesce(r.open, 0)
    union all
    select 'reservation used', r.id::text, r.consumed::text, coalesce(m.quantity, 0)::text
      from reservation r
      left join (select reservation_id, sum(-quantity) quantity from movement group by 1) m on m.reservation_id = r.id
      where r.consumed > coalesce(m.quantity, 0)
    union all
    select 'input over-reserved', i.id::text, sum(r.open + r.consumed)::text, i.quantity::text
      from batch_input i join reservation r on r.batch_input_id = i.id
      group by i.id having sum(r.open + r.consumed) > i.quantity
    union all
    select 'order line over-reserved', o.id::text, sum(r.open)::text, (o.quantity - o.shipped - o.cancelled)::text
      from order_line o join reservation r on r.order_line_id = o.id
      group by o.id having sum(r.open) > o.quantity - o.shipped - o.cancelled
    union all
    select 'pegs past output', b.code, sum(p.quantity)::text, b.output::text
      from batch b join peg p on p.batch_id = b.id group by b.id having sum(p.quantity) <> b.output
  $$;
`;
