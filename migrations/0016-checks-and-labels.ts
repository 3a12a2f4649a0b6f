import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * What is found out about a batch before it is released, what is kept of it, and what its label says. What was found is
 * only added to: a later result stands before an earlier one, which stays.
 */
export class ChecksAndLabels1764000000016 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(CHECKS);
    await db.query(LABELS);
    await db.query(GRANTS);
    await replaceDemoTables(db, (tables) => [...tables, ...TABLES]);
  }

  async down(db: QueryRunner): Promise<void> {
    await replaceDemoTables(db, (tables) => tables.filter((table) => !TABLES.includes(table)));
    await db.query(`drop table ${TABLES.toReversed().join(', ')}; drop function discard_once`);
  }
}

const TABLES = [
  'bench_rules',
  'check_kind',
  'check_result',
  'check_photo',
  'kept_sample',
  'item_label',
  'allergen',
  'label_sheet',
];

/** Whatever other migrations added to the list stays in it. */
async function replaceDemoTables(db: QueryRunner, change: (tables: string[]) => string[]): Promise<void> {
  const [row] = (await db.query(`select array(select unnest(demo_tables())::text) as tables`)) as {
    tables: string[];
  }[];
  await db.query(`
    create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
      select array[${change(row!.tables)
        .map((table) => `'${table}'`)
        .join(', ')}]::regclass[]
    $$`);
}

const onlyAddedTo = (table: string): string => `
    create trigger append_only before update or delete on ${table} for each row execute function refuse_change();
    create trigger no_truncate before truncate on ${table} for each statement execute function refuse_change();`;

const CHECKS = `
  -- by which rules this workshop works at the bench; without the row the defaults of the columns hold
  create table bench_rules (
    id               int primary key default 1 check (id = 1),
    net_rule         text not null default 'nist-133' check (net_rule in ('nist-133', 'eu-76-211')),
    -- an allergen is named on a label when there is more of it than this
    leave_on_ppb     bigint not null default 10000 check (leave_on_ppb between 0 and 1000000000),
    rinse_off_ppb    bigint not null default 100000 check (rinse_off_ppb between 0 and 1000000000),
    allergen_source  text not null
      default 'Regulation (EC) 1223/2009, annex III, as amended by Regulation (EU) 2023/1545',
    -- where the pages of this workshop are reached from outside; empty is wherever they are asked from
    address          text not null default '' check (address = '' or address ~ '^https?://'),
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now()
  );

  -- what a workshop says otherwise than the definitions the program brings along
  create table check_kind (
    code             text primary key check (code ~ '^[a-z][a-z0-9-]{0,59}$'),
    family           text not null,
    made             text not null check (made in ('bulk', 'product', 'either')),
    position         int not null check (position between 1 and 999),
    name             text not null check (length(name) between 1 and 200),
    how              text not null default '',
    measure          text not null check (measure in ('number', 'choice', 'weights')),
    unit             text not null default '',
    -- thousandths of the unit; null sets no limit
    lowest_e3        bigint,
    highest_e3       bigint check (highest_e3 >= lowest_e3),
    choices          text[] not null default '{}',
    good             text[] not null default '{}' check (good <@ choices),
    -- fewer units than the rule's plan takes are enough for this workshop; null asks for all the plan takes
    units_least      int check (units_least between 1 and 1000),
    -- of the kinds with the same word one is enough
    one_of           text not null default '',
    is_required      boolean not null,
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    check ((measure = 'choice') = (cardinality(good) > 0)),
    check (measure = 'number' or (lowest_e3 is null and highest_e3 is null))
  );

  -- with what it was judged by, so that later limits change nothing of it
  create table check_result (
    id               bigint generated always as identity primary key,
    batch_id         bigint not null references batch,
    kind             text not null,
    name             text not null,
    unit             text not null default '',
    value_e3         bigint,
    lowest_e3        bigint,
    highest_e3       bigint,
    choice           text,
    weights_mg       bigint[] check (cardinality(weights_mg) between 1 and 1000 and 0 <= all (weights_mg)),
    judgement        jsonb,
    passes           boolean not null,
    note             text not null default '',
    done_on          date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check (num_nonnulls(value_e3, choice, weights_mg) = 1),
    check ((weights_mg is null) = (judgement is null)),
    check (value_e3 is null or passes = (value_e3 >= coalesce(lowest_e3, value_e3) and value_e3 <= coalesce(highest_e3, value_e3)))
  );
  create index on check_result (batch_id, kind, id);

  create table check_photo (
    id               bigint generated always as identity primary key,
    check_result_id  bigint not null references check_result,
    -- hex sha-256 of what is stored: its name there
    sha256           text not null check (sha256 ~ '^[0-9a-f]{64}$'),
    type             text not null check (type in ('image/jpeg', 'image/png', 'image/webp')),
    bytes            int not null check (bytes > 0),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    unique (check_result_id, sha256)
  );

  create table kept_sample (
    id               bigint generated always as identity primary key,
    batch_id         bigint not null references batch,
    movement_id      bigint not null unique references movement,
    place            text not null check (place <> ''),
    discard_on       date not null,
    discarded_on     date,
    discarded_by     text,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check ((discarded_on is null) = (discarded_by is null))
  );
  create index on kept_sample (batch_id);
  create index on kept_sample (discard_on) where discarded_on is null;

  create function discard_once() returns trigger language plpgsql as $$
  begin
    if old.discarded_on is not null or new.discarded_on is null
        or (new.batch_id, new.movement_id, new.place, new.discard_on) is distinct from
          (old.batch_id, old.movement_id, old.place, old.discard_on) then
      raise exception 'a kept sample is discarded once, and nothing else of it changes' using errcode = 'LW008';
    end if;
    return new;
  end $$;
  create trigger discard_once before update on kept_sample for each row execute function discard_once();
  create trigger no_delete before delete on kept_sample for each row execute function refuse_change();
  create trigger no_truncate before truncate on kept_sample for each statement execute function refuse_change();
  ${['check_result', 'check_photo'].map(onlyAddedTo).join('')}
`;

const LABELS = `
  -- what a label says of an item beyond its formula: of a material only how it is called there
  create table item_label (
    item_id          bigint primary key references item,
    printed_name     text not null default '' check (length(printed_name) <= 200),
    net_mg           bigint check (net_mg > 0),
    net_ul           bigint check (net_ul > 0),
    -- how much one unit may be short, where it was looked up; milligrams or microlitres, as the label is
    allowed_short    bigint check (allowed_short > 0),
    opened_months    int check (opened_months between 1 and 120),
    -- which threshold holds for naming allergens
    contact          text not null default 'none' check (contact in ('leave-on', 'rinse-off', 'none')),
    cautions         text[] not null default '{}',
    maker            text not null default '',
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    check (num_nonnulls(net_mg, net_ul) <= 1),
    check (allowed_short is null or num_nonnulls(net_mg, net_ul) = 1)
  );

  create table allergen (
    item_id          bigint not null references item,
    name             text not null check (length(name) between 1 and 120),
    part_ppb         bigint not null check (part_ppb between 1 and 1000000000),
    source           text not null check (source <> ''),
    dated            date not null,
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    primary key (item_id, name)
  );

  -- a sheet of labels by its dimensions, in thousandths of a millimetre
  create table label_sheet (
    code             text primary key check (code ~ '^[a-z0-9][a-z0-9-]{0,59}$'),
    name             text not null check (length(name) between 1 and 200),
    page_width_um    int not null check (page_width_um between 20000 and 1000000),
    page_height_um   int not null check (page_height_um between 10000 and 1000000),
    columns          int not null check (columns between 1 and 50),
    rows             int not null check (rows between 1 and 100),
    width_um         int not null check (width_um between 10000 and 1000000),
    height_um        int not null check (height_um between 8000 and 1000000),
    left_um          int not null check (left_um >= 0),
    top_um           int not null check (top_um >= 0),
    pitch_x_um       int not null check (pitch_x_um >= width_um),
    pitch_y_um       int not null check (pitch_y_um >= height_um),
    updated_by       text not null default acting_person(),
    updated_at       timestamptz not null default now(),
    check (left_um + (columns - 1) * pitch_x_um + width_um <= page_width_um),
    check (top_um + (rows - 1) * pitch_y_um + height_um <= page_height_um)
  );
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on check_result, check_photo, kept_sample from lotwright_app;
    grant select on check_result, check_photo, kept_sample to lotwright_app;
    grant insert (batch_id, kind, name, unit, value_e3, lowest_e3, highest_e3, choice, weights_mg, judgement, passes, note,
      done_on) on check_result to lotwright_app;
    grant insert (check_result_id, sha256, type, bytes) on check_photo to lotwright_app;
    grant insert (batch_id, movement_id, place, discard_on) on kept_sample to lotwright_app;
    grant update (discarded_on, discarded_by) on kept_sample to lotwright_app;
  end $$;
`;
