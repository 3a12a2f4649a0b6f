import type { MigrationInterface, QueryRunner } from 'typeorm';
import { PURCHASE_RULES } from './0018-purchase-rules.js';
import { LEDGER_RULES, ledgerChecks } from './ledger-checks.js';

const NEW_TABLES = ['purchase_order', 'purchase_line', 'purchase_part'];

/** What is ordered from suppliers: drafted, sent, confirmed and so expected, or taken back. */
export class PurchaseOrders1764000000018 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(ledgerChecks(LEDGER_RULES));
    await listDemoTables(db, (tables) => [...tables, ...NEW_TABLES]);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await listDemoTables(db, (tables) => tables.filter((table) => !NEW_TABLES.includes(table)));
    await db.query(ledgerChecks(LEDGER_RULES.filter((rule) => !PURCHASE_RULES.includes(rule))));
    await db.query(`
      drop table purchase_part, purchase_line, purchase_order;
      drop function guard_purchase_line;
      delete from transition where subject = 'purchase_order';
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
  create table purchase_order (
    id               bigint generated always as identity primary key,
    code             text not null unique check (code ~ '^[A-Z0-9][A-Z0-9._-]{0,39}$'),
    supplier_id      bigint not null references supplier,
    status           text not null default 'draft' check (status in ('draft', 'sent', 'confirmed', 'cancelled')),
    note             text not null default '' check (length(note) <= 2000),
    -- of the parcel: what is expected, once confirmed what it is
    freight_e4       bigint not null default 0 check (freight_e4 between 0 and 10000000000),
    sent_on          date,
    sent_by          text check (sent_by in ('email', 'download', 'web', 'telephone', 'other')),
    -- the supplier's own number of it
    reference        text not null default '' check (length(reference) <= 120),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    check (status not in ('sent', 'confirmed') or (sent_on is not null and sent_by is not null))
  );
  create index on purchase_order (supplier_id);
  create index on purchase_order (status);

  create table purchase_line (
    id               bigint generated always as identity primary key,
    purchase_order_id bigint not null references purchase_order on delete cascade,
    position         int not null check (position between 1 and 200),
    pack_id          bigint not null references pack,
    packs            int not null check (packs between 1 and 100000),
    -- of one pack, as it was known when it was ordered; once confirmed, as the supplier says
    price_e4         bigint not null check (price_e4 >= 0),
    confirmed_price_e4 bigint check (confirmed_price_e4 >= 0),
    unique (purchase_order_id, position),
    unique (purchase_order_id, pack_id)
  );
  create index on purchase_line (pack_id);

  -- how much of a line was confirmed for which delivery; nothing for a line the supplier does not send
  create table purchase_part (
    purchase_line_id bigint not null references purchase_line,
    delivery_line_id bigint not null unique references delivery_line,
    packs            int not null check (packs > 0),
    primary key (purchase_line_id, delivery_line_id)
  );

  insert into transition values
    ('purchase_order', 'draft', 'sent'), ('purchase_order', 'draft', 'cancelled'), ('purchase_order', 'sent', 'draft'),
    ('purchase_order', 'sent', 'confirmed'), ('purchase_order', 'sent', 'cancelled'),
    ('purchase_order', 'confirmed', 'cancelled');
  create trigger state_guard before update of status on purchase_order
    for each row when (old.status is distinct from new.status) execute function guard_state();

  -- What was sent is what was asked for: lines change in a draft only.
  create function guard_purchase_line() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    o purchase_order%rowtype;
  begin
    select * into o from purchase_order where id = coalesce(new.purchase_order_id, old.purchase_order_id) for update;
    if found and o.status <> 'draft' then
      raise exception 'purchase order % is %, only a draft is changed', o.code, o.status using errcode = 'LW008';
    end if;
    return coalesce(new, old);
  end $$;
  create trigger only_in_draft before insert or delete or update of pack_id, packs, price_e4, position on purchase_line
    for each row execute function guard_purchase_line();
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on purchase_order, purchase_line, purchase_part from lotwright_app;
    grant select on purchase_order, purchase_line, purchase_part to lotwright_app;
    grant insert (code, supplier_id, note, freight_e4) on purchase_order to lotwright_app;
    grant update (status, note, freight_e4, sent_on, sent_by, reference) on purchase_order to lotwright_app;
    grant insert (purchase_order_id, position, pack_id, packs, price_e4), delete on purchase_line to lotwright_app;
    grant update (confirmed_price_e4) on purchase_line to lotwright_app;
    grant insert (purchase_line_id, delivery_line_id, packs) on purchase_part to lotwright_app;
  end $$;
`;
