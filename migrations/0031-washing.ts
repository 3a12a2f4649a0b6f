import type { MigrationInterface, QueryRunner } from 'typeorm';

const FAMILIES = `'fragrance', 'base', 'container', 'label', 'spray', 'body', 'diffuser', 'candle', 'soap', 'other'`;

/**
 * What a vessel must be washed for between two pours: so many minutes after what is of one family or has one scent, before what
 * is of another or has it, in one vessel, in all of a kind or in any. A committed batch keeps how many of its minutes that is.
 */
export class Washing1764000000031 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- in the maker's own words: light, heavy, citrus
      alter table item add column scent text check (length(scent) between 1 and 40);

      create table washing (
        id               bigint generated always as identity primary key,
        -- one vessel, or all of a kind; with neither, any
        vessel_id        bigint references vessel,
        vessel_kind      text check (vessel_kind ~ '^[a-z][a-z0-9-]{0,39}$'),
        -- what stood in it, and what is poured next; with neither, anything
        after_family     text check (after_family in (${FAMILIES})),
        after_scent      text check (length(after_scent) between 1 and 40),
        before_family    text check (before_family in (${FAMILIES})),
        before_scent     text check (length(before_scent) between 1 and 40),
        minutes          int not null check (minutes between 0 and 1440),
        said_by          text not null default acting_person(),
        said_at          timestamptz not null default now(),
        check (num_nonnulls(vessel_id, vessel_kind) <= 1),
        check (num_nonnulls(after_family, after_scent) <= 1),
        check (num_nonnulls(before_family, before_scent) <= 1),
        unique nulls not distinct (vessel_id, vessel_kind, after_family, after_scent, before_family, before_scent)
      );

      -- what is washed decides which day is full, and so what is late and which notices are due
      create trigger note_change after insert or update or delete on washing
        for each statement execute function note_change();

      alter table batch
        -- how many of its minutes are for washing its vessel first, and after which item
        add column wash_minutes int not null default 0,
        add column wash_after_id bigint references item,
        add constraint washing_within_minutes check (wash_minutes between 0 and minutes),
        add constraint washed_after_something check ((wash_minutes = 0) = (wash_after_id is null));
      -- what was emptied out of a vessel last
      create index on batch (vessel_id, emptied_on) where vessel_id is not null and status in ('released', 'rejected');

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant update (wash_minutes, wash_after_id) on batch to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    const [row] = (await db.query('select demo_tables()::text[] as tables')) as { tables: string[] }[];
    const tables = row!.tables.filter((table) => table !== 'washing').map((table) => `'${table}'`);
    await db.query(`
      create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
        select array[${tables.join(', ')}]::regclass[]
      $$;
      drop table washing;
      drop index batch_vessel_id_emptied_on_idx;
      alter table batch drop constraint washed_after_something, drop constraint washing_within_minutes,
        drop column wash_after_id, drop column wash_minutes;
      alter table item drop column scent;
    `);
  }
}
