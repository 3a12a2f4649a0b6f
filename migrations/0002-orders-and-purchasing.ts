import type { MigrationInterface, QueryRunner } from 'typeorm';

/** Customers, channels, orders and their lines; suppliers, their packs and expected deliveries. */
export class OrdersAndPurchasing1764000000002 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table channel (
        code             text primary key check (code ~ '^[a-z0-9][a-z0-9-]{0,39}$'),
        name             text not null,
        promise_days     int not null default 5 check (promise_days between 0 and 365)
      );

      create table customer (
        id               bigint generated always as identity primary key,
        name             text not null check (length(name) between 1 and 200),
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );
      create unique index customer_name on customer (lower(name));

      -- what a shop calls an item: its code stands for so many units of one of ours
      create table shop_code (
        channel          text not null references channel,
        code             text not null check (length(code) between 1 and 120),
        item_id          bigint not null references item,
        units            bigint not null default 1 check (units between 1 and 100000),
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        primary key (channel, code)
      );

      create table customer_order (
        id               bigint generated always as identity primary key,
        channel          text not null references channel,
        number           text not null check (length(number) between 1 and 80),
        customer_id      bigint references customer,
        placed_on        date not null,
        -- waiting: not yet paid or confirmed, so not planned
        status           text not null check (status in ('waiting', 'confirmed', 'fulfilled', 'cancelled')),
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        unique (channel, number)
      );
      create index on customer_order (status);

      create table order_line (
        id               bigint generated always as identity primary key,
        order_id         bigint not null references customer_order,
        -- the code as the shop wrote it; with its k-th occurrence in the order it names the line
        shop_code        text not null,
        occurrence       int not null default 1 check (occurrence > 0),
        item_id          bigint not null references item,
        -- units of the item ordered, shipped and cancelled so far
        quantity         bigint not null check (quantity between 1 and 1000000000),
        shipped          bigint not null default 0 check (shipped >= 0),
        cancelled        bigint not null default 0 check (cancelled >= 0),
        ship_by          date not null,
        not_before       date check (not_before <= ship_by),
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        unique (order_id, shop_code, occurrence),
        check (shipped + cancelled <= quantity)
      );
      create index on order_line (item_id);

      create table supplier (
        id               bigint generated always as identity primary key,
        code             text not null unique check (code ~ '^[A-Z0-9][A-Z0-9._-]{0,39}$'),
        name             text not null,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );

      create table pack (
        id               bigint generated always as identity primary key,
        supplier_id      bigint not null references supplier,
        item_id          bigint not null references item,
        code             text not null check (length(code) between 1 and 80),
        -- milligrams or units of the item in one pack
        size             bigint not null check (size > 0),
        price_e4         bigint not null check (price_e4 >= 0),
        least_packs      int not null default 1 check (least_packs between 1 and 100000),
        lead_days        int not null check (lead_days between 0 and 1000),
        withdrawn        boolean not null default false,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        unique (supplier_id, code)
      );
      create index on pack (item_id);

      create table delivery (
        id               bigint generated always as identity primary key,
        code             text not null unique check (length(code) between 1 and 80),
        supplier_id      bigint not null references supplier,
        status           text not null default 'expected' check (status in ('expected', 'received', 'cancelled')),
        expected_on      date not null,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );

      create table delivery_line (
        id               bigint generated always as identity primary key,
        delivery_id      bigint not null references delivery,
        item_id          bigint not null references item,
        pack_id          bigint references pack,
        packs            int check (packs > 0),
        quantity         bigint not null check (quantity > 0),
        received         bigint not null default 0 check (received >= 0),
        -- reserved out of what is still to come
        promised         bigint not null default 0 check (promised >= 0),
        cost_e4          bigint not null default 0 check (cost_e4 >= 0),
        expires_on       date,
        check (promised <= greatest(quantity - received, 0))
      );
      create index on delivery_line (delivery_id);
      create index on delivery_line (item_id);
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop table delivery_line, delivery, pack, supplier, order_line, customer_order, shop_code, customer, channel
    `);
  }
}
