import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * What is said of an item's use before its own weeks say enough: that it is used like another one, or how much somebody
 * takes it to be. Without a day it counts beside all of its own weeks; with one, beside those from then on.
 */
export class SaidUse1764000000030 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table said_use (
        item_id          bigint primary key references item,
        -- so much of what the other item uses
        like_id          bigint references item check (like_id <> item_id),
        like_ppb         bigint check (like_ppb between 1000000 and 100000000000),
        -- or so much, in the item's base unit, in so much time
        quantity         bigint check (quantity between 1 and 9000000000000),
        per              text check (per in ('week', 'month')),
        from_day         date,
        said_by          text not null default acting_person(),
        said_at          timestamptz not null default now(),
        check ((like_id is null) = (like_ppb is null)),
        check ((quantity is null) = (per is null)),
        check ((like_id is null) <> (quantity is null))
      );
      create index on said_use (like_id);

      -- what is expected decides what has to be ordered, and so which notices are due
      create trigger note_change after insert or update or delete on said_use
        for each statement execute function note_change();

      create function guard_measure_in_reorder() returns trigger language plpgsql security definer
        set search_path = public as $$
      begin
        if exists (select from said_use where item_id = new.id or like_id = new.id) then
          raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
        end if;
        return new;
      end $$;
      create trigger guard_measure_in_reorder before update of measure on item
        for each row when (new.measure <> old.measure) execute function guard_measure_in_reorder();
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    const [row] = (await db.query('select demo_tables()::text[] as tables')) as { tables: string[] }[];
    const tables = row!.tables.filter((table) => table !== 'said_use').map((table) => `'${table}'`);
    await db.query(`
      create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
        select array[${tables.join(', ')}]::regclass[]
      $$;
      drop function guard_measure_in_reorder cascade;
      drop table said_use;
    `);
  }
}
