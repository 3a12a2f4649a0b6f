import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * Who works here, for how many minutes of each weekday, and what only some may do; and what a formula asks for of whoever
 * makes it. Where nobody is said, the workshop's own minutes count and anybody may make anything.
 */
export class People1764000000033 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table person (
        id               bigint generated always as identity primary key,
        name             text not null check (length(name) between 1 and 80),
        -- Monday first; 0 is a day they are not here
        minutes          int[] not null check (array_length(minutes, 1) = 7 and array_position(minutes, null) is null
          and 0 <= all (minutes) and 1440 >= all (minutes)),
        -- in the maker's own words: lye, hot wax
        skills           text[] not null default '{}' check (array_position(skills, null) is null and cardinality(skills) <= 20),
        -- who is away for long, or has left, counts for no day and keeps what is said of them
        is_active        boolean not null default true,
        said_by          text not null default acting_person(),
        said_at          timestamptz not null default now()
      );
      create unique index person_name on person (lower(name));

      -- who is there decides which day is full, and so what is late and which notices are due
      create trigger note_change after insert or update or delete on person
        for each statement execute function note_change();

      -- what whoever makes it must be able to do; null: anybody may
      alter table formula add column skill text check (length(skill) between 1 and 60);
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    const [row] = (await db.query('select demo_tables()::text[] as tables')) as { tables: string[] }[];
    const tables = row!.tables.filter((table) => table !== 'person').map((table) => `'${table}'`);
    await db.query(`
      create or replace function demo_tables() returns regclass[] language sql stable set search_path = public as $$
        select array[${tables.join(', ')}]::regclass[]
      $$;
      alter table formula drop column skill;
      drop table person;
    `);
  }
}
