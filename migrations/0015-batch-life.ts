import type { MigrationInterface, QueryRunner } from 'typeorm';
import { PROMISE_RULES } from './0009-promise-rules.js';
import { STOCK_RULES } from './0009-ledger-rules.js';
import { checksOf, RULES } from './0015-batch-rules.js';
import { GUARDS, GUARDS_BEFORE } from './0015-batch-guards.js';

const NEW_TABLES = ['bench_entry', 'batch_finish', 'batch_output', 'rework'];

/**
 * The life of a batch after it is weighed: what happened at the bench, what its closing said, which lots came out of it,
 * and which rejected lots may go into another.
 */
export class BatchLife1764000000015 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(TABLES);
    await db.query(GUARDS);
    await db.query(checksOf(RULES));
    await listDemoTables(db, (tables) => [...tables, ...NEW_TABLES]);
    await db.query(GRANTS);
  }

  async down(db: QueryRunner): Promise<void> {
    await listDemoTables(db, (tables) => tables.filter((table) => !NEW_TABLES.includes(table)));
    await db.query(checksOf([...STOCK_RULES, ...PROMISE_RULES]));
    await db.query(GUARDS_BEFORE);
    await db.query(`
      delete from transition where (subject, from_status, to_status)
        in (('batch', 'reserved', 'rejected'), ('lot', 'held', 'quarantine'));
      drop table batch_output, batch_finish, bench_entry;
      alter table batch_input drop column meant, drop column rework_lot_id;
      drop table rework;
      alter table batch drop constraint promised_within_output, drop column made, drop column is_rework;
      alter table batch add check (promised between 0 and output);
      alter table movement drop constraint revaluation_of, drop constraint difference_is_revaluation;
      alter table movement add check ((price_difference_id is null) = (cause <> 'revaluation'));
      alter table workshop drop column labour_rate_e4, drop column loss_tolerance_ppb, drop column weigh_tolerance_ppb,
        drop column is_best_before_of_materials;
      drop function post_finish, refuse_loop, guard_made_lot, guard_rework, guard_rework_input;
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

/** Drops the unnamed CHECK of a table that says this. */
const dropCheck = (table: string, says: string) => `
  do $$ declare found text; begin
    select conname into strict found from pg_constraint
      where conrelid = '${table}'::regclass and contype = 'c' and pg_get_constraintdef(oid) like '%${says}%';
    execute format('alter table ${table} drop constraint %I', found);
  end $$;`;

function onlyAddedTo(table: string): string {
  return `
    create trigger append_only before update or delete on ${table} for each row execute function refuse_change();
    create trigger no_truncate before truncate on ${table} for each statement execute function refuse_change();`;
}

const TABLES = `
  alter table workshop
    -- what an hour at the bench costs; null: labour is not part of what a lot is worth
    add labour_rate_e4 bigint check (labour_rate_e4 between 0 and 10000000000),
    -- of what is put in: how far the loss may depart from the formula's without a reason
    add loss_tolerance_ppb bigint not null default 20000000 check (loss_tolerance_ppb between 0 and 1000000000),
    -- of a line: how far its weight may depart from what was meant and still count as right
    add weigh_tolerance_ppb bigint not null default 10000000 check (weigh_tolerance_ppb between 0 and 1000000000),
    add is_best_before_of_materials boolean not null default false;

  ${dropCheck('batch', 'promised')}
  -- made: what came out, known once it is closed; until then what was meant to
  alter table batch
    add made bigint check (made >= 0),
    add is_rework boolean not null default false,
    add constraint promised_within_output check (promised between 0 and coalesce(made, output));

  -- a rejected lot that may go into another batch
  create table rework (
    lot_id           bigint primary key references lot,
    why              text not null check (why <> ''),
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp()
  );

  -- meant: what the sheet said first, where the rest of a batch was scaled to what is in already
  alter table batch_input
    add meant bigint check (meant > 0),
    add rework_lot_id bigint references rework;

  -- What happens to a batch beside weighing. unbooked: weighed of what is in no lot, such as tap water; a correction is
  -- another entry below zero
  create table bench_entry (
    id               bigint generated always as identity primary key,
    batch_id         bigint not null references batch,
    kind             text not null check (kind in ('pause', 'resume', 'deviation', 'unbooked')),
    batch_input_id   bigint references batch_input,
    quantity         bigint check (quantity <> 0),
    note             text not null default '',
    -- of a deviation by which targets changed: position, from, to
    targets          jsonb,
    done_on          date not null,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check ((kind = 'unbooked') = (quantity is not null)),
    check (kind <> 'unbooked' or batch_input_id is not null)
  );
  create index on bench_entry (batch_id);

  create table batch_finish (
    batch_id         bigint primary key references batch,
    finished_on      date not null,
    -- milligrams: what went in, of which in no lot; what is in the made lot, left over, lost, and expected to be lost
    put_in_mg        bigint not null check (put_in_mg >= 0),
    unbooked_mg      bigint not null check (unbooked_mg between 0 and put_in_mg),
    made             bigint not null check (made >= 0),
    made_mg          bigint not null check (made_mg >= 0),
    left_mg          bigint not null check (left_mg >= 0),
    loss_mg          bigint not null,
    expected_loss_mg bigint not null check (expected_loss_mg >= 0),
    loss_reason      text not null default '',
    density_ug_per_ml bigint check (density_ug_per_ml between 100000 and 25000000),
    minutes          int not null check (minutes between 0 and 100000),
    labour_e4        bigint not null check (labour_e4 >= 0),
    inputs_e4        bigint not null check (inputs_e4 >= 0),
    -- where nothing came out, all of it is lost
    lost_e4          bigint not null check (lost_e4 >= 0),
    -- by its own shelf life, and by the earliest date of what went in
    keeps_until      date,
    materials_until  date,
    created_by       text not null default acting_person(),
    created_at       timestamptz not null default clock_timestamp(),
    check (put_in_mg = made_mg + left_mg + loss_mg),
    check (made > 0 or lost_e4 = inputs_e4 + labour_e4),
    check (made = 0 or lost_e4 = 0)
  );

  -- leftover: of what input, which goes back on the shelf as a lot of its own
  create table batch_output (
    batch_id         bigint not null references batch_finish,
    lot_id           bigint primary key references lot,
    kind             text not null check (kind in ('made', 'leftover')),
    batch_input_id   bigint references batch_input,
    check ((kind = 'leftover') = (batch_input_id is not null))
  );
  create unique index on batch_output (batch_id) where kind = 'made';
  create index on batch_output (batch_id);

  -- what is put on after the rest (a label, a box) adds to the made lot what it was worth
  ${dropCheck('movement', 'price_difference_id')}
  alter table movement
    add constraint difference_is_revaluation check (price_difference_id is null or cause = 'revaluation'),
    add constraint revaluation_of check (cause <> 'revaluation' or num_nonnulls(price_difference_id, batch_id) = 1);

  -- a lot that was held while its batch rests waits again; a batch that is begun may be given up
  insert into transition values ('batch', 'reserved', 'rejected'), ('lot', 'held', 'quarantine');
  ${NEW_TABLES.map(onlyAddedTo).join('')}
`;

const GRANTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on ${NEW_TABLES.join(', ')} from lotwright_app;
    grant select on ${NEW_TABLES.join(', ')} to lotwright_app;
    grant insert (batch_id, kind, batch_input_id, quantity, note, targets, done_on) on bench_entry to lotwright_app;
    grant insert (batch_id, finished_on, put_in_mg, unbooked_mg, made, made_mg, left_mg, loss_mg, expected_loss_mg,
      loss_reason, density_ug_per_ml, minutes, labour_e4, inputs_e4, lost_e4, keeps_until, materials_until)
      on batch_finish to lotwright_app;
    grant insert (batch_id, lot_id, kind, batch_input_id) on batch_output to lotwright_app;
    grant insert (lot_id, why) on rework to lotwright_app;
    grant insert (rework_lot_id) on batch_input to lotwright_app;
    grant update (meant) on batch_input to lotwright_app;
  end $$;
`;
