import type { MigrationInterface, QueryRunner } from 'typeorm';

const NEW_TABLES = [
  'change',
  'sweep',
  'reminder',
  'message',
  'message_reminder',
  'message_file',
  'notice_setting',
  'muted_kind',
];

/** A change of one of these may make a notice due, or take away its cause. */
const WATCHED = [
  'item',
  'formula',
  'use_limit',
  'vessel',
  'closed_day',
  'customer_order',
  'order_line',
  'supplier',
  'pack',
  'delivery',
  'delivery_line',
  'movement',
  'reservation',
  'batch',
  'shelf_count',
  'retest',
  'kept_sample',
];

/** Notices and the outbox they leave by. The rows are the truth: a queue only carries their names to whoever sends them. */
export class Messages1764000000022 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(NOTICE_TIME);
    await db.query(CHANGES);
    await listDemoTables(db, (tables) => [...tables, ...NEW_TABLES]);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await listDemoTables(db, (tables) => tables.filter((table) => !NEW_TABLES.includes(table)));
    for (const table of [...WATCHED, 'lot', 'workshop']) await db.query(`drop trigger note_change on ${table}`);
    await db.query(`
      drop table ${NEW_TABLES.toReversed().join(', ')};
      drop function note_change, guard_sent, notice_time;
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
  -- What there is to be told. One row for each cause as long as it lasts; a cause that comes back is told anew.
  create table reminder (
    id               bigint generated always as identity primary key,
    kind             text not null check (kind ~ '^[a-z][a-z-]{0,39}$'),
    -- names the cause: the same text is the same cause
    cause            text not null check (length(cause) between 1 and 300),
    title            text not null check (length(title) between 1 and 300),
    detail           text not null default '' check (length(detail) <= 2000),
    -- the page that shows more, from the root of the workshop's address
    link             text not null default '' check (link = '' or link ~ '^/'),
    due_on           date not null,
    status           text not null default 'open' check (status in ('open', 'snoozed', 'acknowledged', 'over')),
    -- how often it was put off: after each time it is told again
    round            int not null default 0 check (round >= 0),
    snoozed_until    date,
    over_on          date,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    changed_by       text not null default acting_person(),
    changed_at       timestamptz not null default now(),
    check ((status = 'snoozed') = (snoozed_until is not null)),
    check ((status = 'over') = (over_on is not null))
  );
  create unique index reminder_cause on reminder (cause) where status <> 'over';
  create index on reminder (cause, over_on) where status = 'over';

  -- What goes out. waiting: not before due_at; handed: a worker was told; dropped: nothing was left to say
  create table message (
    id               bigint generated always as identity primary key,
    -- what the receiver tells a repeat by; the same for every try
    uuid             uuid not null unique default gen_random_uuid(),
    channel          text not null check (channel in ('email', 'webhook')),
    is_digest        boolean not null default false,
    -- the workshop's day of a digest
    digest_on        date,
    -- of one that is no notice: to whom, and what it says
    letter           jsonb,
    status           text not null default 'waiting'
      check (status in ('waiting', 'handed', 'sent', 'dropped', 'given-up')),
    due_at           timestamptz not null,
    handed_at        timestamptz,
    -- whoever sends it has it for himself until then
    sending_until    timestamptz,
    sent_at          timestamptz,
    -- how often it was handed to the queue, and how often sending was tried
    offers           int not null default 0 check (offers >= 0),
    tries            int not null default 0 check (tries >= 0),
    last_error       text not null default '',
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now(),
    check ((status = 'sent') = (sent_at is not null)),
    check (status <> 'handed' or handed_at is not null),
    check (is_digest = (digest_on is not null)),
    check (letter is null or (channel = 'email' and not is_digest))
  );
  create unique index message_digest on message (channel, digest_on) where is_digest;
  create index message_due on message (due_at, id) where status = 'waiting';
  create index message_handed on message (handed_at) where status = 'handed';
  create index message_failing on message (id) where status = 'given-up' or last_error <> '';

  create table message_reminder (
    reminder_id      bigint not null references reminder,
    channel          text not null,
    round            int not null,
    message_id       bigint not null references message,
    primary key (reminder_id, channel, round)
  );
  create index on message_reminder (message_id);

  create table message_file (
    message_id       bigint not null references message,
    position         int not null check (position between 1 and 20),
    name             text not null check (length(name) between 1 and 200),
    type             text not null,
    content          bytea not null check (length(content) <= 20000000),
    primary key (message_id, position)
  );

  create function guard_sent() returns trigger language plpgsql as $$
  begin
    raise exception 'message % was sent and stays so', old.uuid using errcode = 'LW008';
  end $$;
  create trigger guard_sent before update on message for each row
    when (old.status = 'sent' and (new.status, new.sent_at, new.uuid) is distinct from (old.status, old.sent_at, old.uuid))
    execute function guard_sent();

  -- how notices leave; without the row the defaults of the columns hold
  create table notice_setting (
    id               int primary key default 1 check (id = 1),
    email_to         text[] not null default '{}' check (cardinality(email_to) <= 20),
    email_digest     boolean not null default true,
    webhook_url      text not null default '' check (webhook_url = '' or webhook_url ~ '^https?://'),
    webhook_secret   text not null default '',
    webhook_digest   boolean not null default false,
    digest_at        time not null default '07:00',
    quiet_from       time,
    quiet_to         time,
    -- a lot not counted for so many days is to be counted; 0 never
    count_days       int not null default 120 check (count_days between 0 and 3650),
    -- a use limit looked up longer ago than this is to be looked up again; 0 never
    limit_months     int not null default 24 check (limit_months between 0 and 240),
    -- hex sha-256 of the secret in the calendar's address; null: there is no calendar
    calendar_hash    text check (calendar_hash ~ '^[0-9a-f]{64}$'),
    calendar_since   timestamptz,
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    check ((quiet_from is null) = (quiet_to is null)),
    check (quiet_from is distinct from quiet_to or quiet_from is null),
    check ((webhook_url = '') = (webhook_secret = '')),
    check ((calendar_hash is null) = (calendar_since is null))
  );

  create table muted_kind (
    kind             text primary key,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default now()
  );

  -- each look for what is due
  create table sweep (
    id               bigint generated always as identity primary key,
    day              date not null,
    found            int not null check (found >= 0),
    added            int not null check (added >= 0),
    ended            int not null check (ended >= 0),
    took_ms          int not null check (took_ms >= 0),
    done_at          timestamptz not null default clock_timestamp()
  );
  create index on sweep (day);
`;

const NOTICE_TIME = `
  -- When something may go out that is ready at an instant: at the next hour of digests on the workshop's clock where one
  -- is said, and not in its quiet hours. An hour the clock leaves out in spring is the one an hour later; of one it goes
  -- through twice in autumn it is the second.
  create function notice_time(ready timestamptz, zone text, quiet_from time, quiet_to time, digest_at time)
    returns timestamptz language plpgsql stable as $$
  declare
    at_ timestamptz := ready;
    local_ timestamp;
    days int;
  begin
    if digest_at is not null then
      local_ := ready at time zone zone;
      at_ := (local_::date + digest_at) at time zone zone;
      if at_ < ready then at_ := ((local_::date + 1) + digest_at) at time zone zone; end if;
    end if;
    if quiet_from is null then return at_; end if;
    local_ := at_ at time zone zone;
    if quiet_from < quiet_to then
      if local_::time < quiet_from or local_::time >= quiet_to then return at_; end if;
      days := 0;
    else
      if local_::time < quiet_from and local_::time >= quiet_to then return at_; end if;
      days := case when local_::time >= quiet_from then 1 else 0 end;
    end if;
    return greatest(at_, ((local_::date + days) + quiet_to) at time zone zone);
  end $$;
`;

const CHANGES = `
  -- that a transaction changed something notices may depend on: once for each, taken away by the look that saw it
  create table change (
    xact             xid8 primary key default pg_current_xact_id(),
    at               timestamptz not null default now()
  );
  create index on change (at);

  create function note_change() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    insert into change default values on conflict do nothing;
    return null;
  end $$;
  ${WATCHED.map(
    (table) => `
  create trigger note_change after insert or update or delete on ${table}
    for each statement execute function note_change();`,
  ).join('')}
  -- what a lot holds is changed by its movements, which are watched
  create trigger note_change after insert or delete or update of status, expires_on, place on lot
    for each statement execute function note_change();
  create trigger note_change after update on workshop for each statement execute function note_change();
  -- what was not wanted, or could not be sent, is told once it can be
  create trigger note_change after insert or update or delete on notice_setting
    for each statement execute function note_change();
  create trigger note_change after insert or delete on muted_kind for each statement execute function note_change();
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on change, sweep, reminder, message, message_reminder, message_file from lotwright_app;
    grant select, delete on change to lotwright_app;
    grant select, delete on sweep to lotwright_app;
    grant insert (day, found, added, ended, took_ms) on sweep to lotwright_app;
    grant select on reminder, message, message_reminder, message_file to lotwright_app;
    grant insert (kind, cause, title, detail, link, due_on) on reminder to lotwright_app;
    grant update (title, detail, link, due_on, status, round, snoozed_until, over_on, changed_by, changed_at)
      on reminder to lotwright_app;
    grant insert (channel, is_digest, digest_on, letter, due_at) on message to lotwright_app;
    grant update (status, due_at, handed_at, sending_until, sent_at, offers, tries, last_error) on message to lotwright_app;
    grant insert on message_reminder, message_file to lotwright_app;
  end $$;
`;
