import type { MigrationInterface, QueryRunner } from 'typeorm';
import { ERASURE } from './0021-erasure.js';
import { TRACE_RULES } from './0021-trace-rules.js';
import { LEDGER_RULES, ledgerChecks } from './ledger-checks.js';

/** Facts that are only added to. */
const FACTS = [
  'complaint_entry',
  'complaint_photo',
  'recall',
  'recall_scope',
  'recall_complaint',
  'recall_hold',
  'recall_lift',
  'recall_entry',
  'recall_letter',
  'recall_answer',
  'recall_result',
  'announced_lot',
];
const NEW_TABLES = ['trace_setting', 'trade_item', 'complaint', ...FACTS];

/** Complaints, recalls and drills, what suppliers announce of their lots, and the erasure of who a customer was. */
export class Trace1764000000021 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(SETTINGS);
    await db.query(COMPLAINTS);
    await db.query(RECALLS);
    await db.query(ERASURE);
    await db.query(FACTS.map(onlyAddedTo).join(''));
    await db.query(ledgerChecks(LEDGER_RULES));
    await listDemoTables(db, (tables) => [...tables, ...NEW_TABLES]);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await listDemoTables(db, (tables) => tables.filter((table) => !NEW_TABLES.includes(table)));
    await db.query(ledgerChecks(LEDGER_RULES.filter((rule) => !TRACE_RULES.includes(rule))));
    await db.query(`
      drop function erase_customer;
      drop index movement_used, movement_came;
      drop table ${[...FACTS].reverse().join(', ')}, complaint, trade_item, trace_setting;
      drop function only_erased, without_person;
      alter table customer drop column contact, drop column erased_at;
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

/* What is written down stays; a text may lose who is named in it, by the one function that erases. */
function onlyAddedTo(table: string): string {
  return `
    create trigger append_only before update or delete on ${table} for each row execute function only_erased();
    create trigger no_truncate before truncate on ${table} for each statement execute function refuse_change();`;
}

const SETTINGS = `
  alter table customer
    -- how to reach them: an address, a telephone number
    add contact text not null default '' check (length(contact) <= 500),
    add erased_at timestamptz;

  -- what a lot went into and where it came from are a few of its entries, however many parcels of it went out
  create index movement_used on movement (lot_id) include (batch_id, batch_input_id) where cause = 'consumption';
  create index movement_came on movement (lot_id) where cause in ('receipt', 'production', 'split', 'return');

  create table trace_setting (
    id               int primary key default 1 check (id = 1),
    -- given by GS1: identifiers are made of it where there is one
    company_prefix   text check (company_prefix ~ '^[0-9]{6,12}$'),
    -- how long after the last shipment a customer can still be reached, whatever they ask for
    contact_days     int not null default 1095 check (contact_days between 0 and 36500),
    letter           text not null default '' check (length(letter) <= 10000),
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now()
  );

  -- which item a trade number stands for; a supplier's own numbers beside ours
  create table trade_item (
    gtin             text primary key check (gtin ~ '^[0-9]{14}$'),
    item_id          bigint not null references item,
    supplier_id      bigint references supplier,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now()
  );
  create unique index on trade_item (item_id) where supplier_id is null;

  -- a lot that a supplier says is on its way
  create table announced_lot (
    id               bigint generated always as identity primary key,
    delivery_line_id bigint not null references delivery_line,
    supplier_lot     text not null check (length(supplier_lot) between 1 and 120),
    quantity         bigint not null check (quantity > 0),
    expires_on       date,
    -- how the document calls the lot and the event, and the document itself by its SHA-256
    epc_class        text not null,
    event_id         text not null,
    document_sha256  text not null check (document_sha256 ~ '^[0-9a-f]{64}$'),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    unique (delivery_line_id, supplier_lot, document_sha256)
  );
`;

const COMPLAINTS = `
  create table complaint (
    id               bigint generated always as identity primary key,
    code             text not null unique check (code ~ '^C[0-9]{2}-[0-9]{3,9}$'),
    reported_on      date not null,
    -- the day it happened, if that is known
    happened_on      date check (happened_on <= reported_on),
    -- what it is about as far as that is known: any of them, or none
    item_id          bigint references item,
    lot_id           bigint references lot,
    order_id         bigint references customer_order,
    description      text not null check (length(description) between 1 and 5000),
    harm             text not null check (harm in ('none', 'skin', 'fire', 'glass', 'other')),
    harmed           text not null check (harmed in ('nobody', 'person', 'property', 'both')),
    reporter         text not null default '' check (length(reporter) <= 200),
    contact          text not null default '' check (length(contact) <= 500),
    due_on           date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check ((harm = 'none') = (harmed = 'nobody'))
  );
  create index on complaint (lot_id);
  create index on complaint (order_id);

  create table complaint_entry (
    id               bigint generated always as identity primary key,
    complaint_id     bigint not null references complaint,
    kind             text not null
      check (kind in ('note', 'answer', 'advice', 'due', 'lot', 'order', 'closed', 'reopened')),
    text             text not null check (length(text) <= 5000),
    due_on           date,
    lot_id           bigint references lot,
    order_id         bigint references customer_order,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check ((kind = 'due') = (due_on is not null)),
    check ((kind = 'lot') = (lot_id is not null)),
    check ((kind = 'order') = (order_id is not null)),
    check (kind not in ('note', 'answer', 'advice', 'closed', 'reopened') or text <> '')
  );
  create index on complaint_entry (complaint_id);

  create table complaint_photo (
    id               bigint generated always as identity primary key,
    complaint_id     bigint not null references complaint,
    sha256           text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    type             text not null check (type in ('image/jpeg', 'image/png', 'image/webp')),
    bytes            int not null check (bytes > 0),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    unique (complaint_id, sha256)
  );
`;

const RECALLS = `
  -- a drill is a recall that only looks: it holds nothing and writes to nobody
  create table recall (
    id               bigint generated always as identity primary key,
    code             text not null unique check (code ~ '^[RD][0-9]{2}-[0-9]{3,9}$'),
    is_drill         boolean not null default false,
    lot_id           bigint not null references lot,
    -- of a drill: what its lot was drawn with
    seed             bigint,
    opened_on        date not null,
    why              text not null check (length(why) between 1 and 2000),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check (is_drill = (seed is not null)),
    check (is_drill = (code like 'D%'))
  );

  create table recall_scope (
    recall_id        bigint not null references recall,
    lot_id           bigint not null references lot,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    primary key (recall_id, lot_id)
  );
  create index on recall_scope (lot_id);

  create table recall_complaint (
    recall_id        bigint not null references recall,
    complaint_id     bigint not null references complaint,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    primary key (recall_id, complaint_id)
  );

  -- held and lifted may follow each other several times
  create table recall_hold (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    lot_id           bigint not null references lot,
    from_status      text not null check (from_status in ('quarantine', 'released')),
    state_change_id  bigint not null unique references state_change,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on recall_hold (recall_id, lot_id);

  create table recall_lift (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    lot_id           bigint not null references lot,
    hold_id          bigint not null unique references recall_hold,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on recall_lift (recall_id, lot_id);

  create table recall_entry (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    kind             text not null check (kind in ('opened', 'scope', 'held', 'lifted', 'paused', 'letters', 'answer',
      'decision', 'note', 'closed', 'reopened')),
    text             text not null check (length(text) between 1 and 5000),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on recall_entry (recall_id);

  -- who was written to, and how; what it said is made anew from the record, so nothing personal lies here
  create table recall_letter (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    order_id         bigint not null references customer_order,
    sent_by          text not null check (sent_by in ('post', 'email', 'telephone', 'other')),
    sent_on          date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on recall_letter (recall_id, order_id);

  -- what a recipient says of what they got; the last word of each counts
  create table recall_answer (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    order_id         bigint not null references customer_order,
    lot_id           bigint not null references lot,
    answered_on      date not null,
    received         bigint not null check (received >= 0),
    used             bigint not null check (used >= 0),
    kept             bigint not null check (kept >= 0),
    destroyed        bigint not null check (destroyed >= 0),
    sent_back        bigint not null check (sent_back >= 0),
    note             text not null default '' check (length(note) <= 2000),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check (used + kept + destroyed + sent_back <= received)
  );
  create index on recall_answer (recall_id, order_id, lot_id);
  create index on recall_answer (lot_id);

  -- what a closing or a drill found
  create table recall_result (
    id               bigint generated always as identity primary key,
    recall_id        bigint not null references recall,
    trace_ms         bigint not null check (trace_ms >= 0),
    took_ms          bigint not null check (took_ms >= trace_ms),
    lots             int not null,
    customers        int not null,
    parcels          int not null,
    reconciled_ppb   bigint not null check (reconciled_ppb between 0 and 1000000000),
    account          jsonb not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );
  create index on recall_result (recall_id);
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on complaint, ${FACTS.join(', ')} from lotwright_app;
    grant select on complaint, ${FACTS.join(', ')} to lotwright_app;
    grant insert (code, reported_on, happened_on, item_id, lot_id, order_id, description, harm, harmed, reporter, contact,
      due_on) on complaint to lotwright_app;
    grant insert (complaint_id, kind, text, due_on, lot_id, order_id) on complaint_entry to lotwright_app;
    grant insert (complaint_id, sha256, type, bytes) on complaint_photo to lotwright_app;
    grant insert (code, is_drill, lot_id, seed, opened_on, why) on recall to lotwright_app;
    grant insert (recall_id, lot_id) on recall_scope to lotwright_app;
    grant insert (recall_id, complaint_id) on recall_complaint to lotwright_app;
    grant insert (recall_id, lot_id, from_status, state_change_id) on recall_hold to lotwright_app;
    grant insert (recall_id, lot_id, hold_id) on recall_lift to lotwright_app;
    grant insert (recall_id, kind, text) on recall_entry to lotwright_app;
    grant insert (recall_id, order_id, sent_by, sent_on) on recall_letter to lotwright_app;
    grant insert (recall_id, order_id, lot_id, answered_on, received, used, kept, destroyed, sent_back, note)
      on recall_answer to lotwright_app;
    grant insert (recall_id, trace_ms, took_ms, lots, customers, parcels, reconciled_ppb, account)
      on recall_result to lotwright_app;
    grant insert (delivery_line_id, supplier_lot, quantity, expires_on, epc_class, event_id, document_sha256)
      on announced_lot to lotwright_app;
    -- who got what is not unlearned: neither party to it can be taken away
    revoke delete on customer, supplier from lotwright_app;
    revoke update on customer from lotwright_app;
    grant update (name, contact) on customer to lotwright_app;
    grant execute on function erase_customer(bigint, date) to lotwright_app;
  end $$;
`;
