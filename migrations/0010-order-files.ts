import type { MigrationInterface, QueryRunner } from 'typeorm';

/** Shops' files on their way in: kept from the first look until their rows are taken. */
export class OrderFiles1764000000010 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table order_file (
        id               bigint generated always as identity primary key,
        name             text not null check (length(name) between 1 and 200),
        -- the bytes as they came; null once its rows are taken
        content          bytea,
        -- how many lines of text it has: a file of so many rows at most
        lines            int not null check (lines > 0),
        channel          text references channel,
        dates            text check (dates in ('dmy', 'mdy')),
        -- which header was said to be what
        column_map       jsonb not null default '{}',
        -- what became of its rows
        report           jsonb,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        check ((content is null) = (report is not null))
      );
      create index on order_file (created_at);
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop table order_file');
  }
}
