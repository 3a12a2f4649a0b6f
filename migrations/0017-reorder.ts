import type { MigrationInterface, QueryRunner } from 'typeorm';

const NEW_TABLES = ['pack_break', 'reorder_setting', 'reorder_rule'];

/** What reordering asks for: a supplier's terms, prices by number of packs, wanted service, how long deliveries took. */
export class Reorder1764000000017 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(LEAD_TIMES);
    await listDemoTables(db, (tables) => [...tables, ...NEW_TABLES]);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await listDemoTables(db, (tables) => tables.filter((table) => !NEW_TABLES.includes(table)));
    await db.query(`
      drop view lead_time;
      drop index movement_of_delivery;
      drop table reorder_rule, reorder_setting, pack_break;
      alter table delivery drop column ordered_on;
      alter table supplier drop column order_days, drop column minimum_order_e4, drop column freight_e4,
        drop column freight_free_from_e4, drop column email, drop column account, drop column address;
    `);
  }
}

/** Whatever tables are in the list now, so that the order in which rooms grow does not matter. */
async function listDemoTables(db: QueryRunner, change: (tables: string[]) => string[]): Promise<void> {
  const [row] = (await db.query('select demo_tables()::text[] as tables')) as { tables: string[] }[];
  await db.query(`
    create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
      select array[${change(row!.tables)
        .map((table) => `'${table}'`)
        .join(', ')}]::regclass[]
    $$`);
}

const TABLES = `
  alter table supplier
    -- weekdays on which they take orders, 0 Monday to 6 Sunday; empty: any day
    add order_days int[] not null default '{}' check (order_days <@ '{0,1,2,3,4,5,6}'),
    -- the least worth of goods they send, what a parcel costs, and from which worth on it is free
    add minimum_order_e4 bigint not null default 0 check (minimum_order_e4 between 0 and 10000000000),
    add freight_e4 bigint not null default 0 check (freight_e4 between 0 and 10000000000),
    add freight_free_from_e4 bigint check (freight_free_from_e4 between 0 and 10000000000),
    add email text not null default '' check (length(email) <= 254),
    -- our number with them
    add account text not null default '' check (length(account) <= 120),
    add address text not null default '' check (length(address) <= 500);

  -- so many packs or more at once cost this each, all of them
  create table pack_break (
    pack_id          bigint not null references pack,
    from_packs       int not null check (from_packs between 2 and 100000),
    price_e4         bigint not null check (price_e4 >= 0),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    primary key (pack_id, from_packs)
  );

  -- null where nobody said when it was ordered
  alter table delivery add ordered_on date;

  create table reorder_setting (
    id               int primary key default 1 check (id = 1),
    service_kind     text not null default 'fill-rate' check (service_kind in ('fill-rate', 'cycle', 'none')),
    service_ppb      bigint not null default 980000000 check (service_ppb between 500000000 and 999900000),
    -- days until the list is looked at again
    review_days      int not null default 7 check (review_days between 1 and 60),
    -- what the work of one order line costs, and the longest an order should last
    order_cost_e4    bigint not null default 20000 check (order_cost_e4 between 0 and 100000000),
    cover_most_days  int not null default 56 check (cover_most_days between 1 and 365),
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now()
  );

  -- what is wanted of one item, where it differs
  create table reorder_rule (
    item_id          bigint primary key references item,
    service_kind     text check (service_kind in ('fill-rate', 'cycle', 'none')),
    service_ppb      bigint check (service_ppb between 500000000 and 999900000),
    -- days of an own trial of what came, before it may be used
    trial_days       int not null default 0 check (trial_days between 0 and 365),
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    check ((service_kind in ('fill-rate', 'cycle')) is not true or service_ppb is not null)
  );
`;

const LEAD_TIMES = `
  create index movement_of_delivery on movement (delivery_line_id) where delivery_line_id is not null;

  -- How long each delivered line took from ordering until it came, the mean of its parts by what came of it; parts put
  -- right do not count. Where nobody said when it was ordered, from when it was written down, if that was before it came.
  create view lead_time as
    select line_id, supplier_id, item_id, pack_id, ordered_on, last_on,
      (took * 1.0 / quantity)::double precision as days
    from (
      select dl.id as line_id, d.supplier_id, dl.item_id, dl.pack_id, o.ordered_on, max(m.done_on) as last_on,
        sum(m.quantity) as quantity, sum(m.quantity * (m.done_on - o.ordered_on)) as took,
        min(m.done_on - o.ordered_on) as least, bool_or(d.ordered_on is not null) as is_known
      from movement m join delivery_line dl on dl.id = m.delivery_line_id join delivery d on d.id = dl.delivery_id
        left join workshop w on true
        cross join lateral (
          select coalesce(d.ordered_on, (d.created_at at time zone coalesce(w.time_zone, 'UTC'))::date) as ordered_on) o
      where m.cause = 'receipt' and not exists (select from movement c where c.reverses_id = m.id)
      group by dl.id, d.supplier_id, o.ordered_on
    ) taken
    where least >= 0 and (is_known or least > 0);
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on lead_time, reorder_setting, reorder_rule, pack_break from lotwright_app;
    grant select on lead_time to lotwright_app;
    grant select, insert, delete on pack_break to lotwright_app;
    grant select, insert, update on reorder_setting, reorder_rule to lotwright_app;
  end $$;
`;
