import type { MigrationInterface, QueryRunner } from 'typeorm';

/** What the newest plan means to use for each order line, so that a page of orders need not read a whole plan. */
export class LineCover1764000000011 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- Rewritten whole with each plan. It references nothing: lines never go, and a lock on each of ten thousand lines
      -- would stand in the way of everybody who changes an order meanwhile.
      create table line_cover (
        order_line_id    bigint primary key,
        run_id           bigint not null,
        -- units that nothing was set aside for when the plan was made, and of those the units it found something for
        asked            bigint not null check (asked > 0),
        found            bigint not null check (found between 0 and asked),
        -- the day all of it can go; null where something is missing
        ready_on         date,
        because          text,
        -- from what, in the plan's order
        sources          jsonb not null
      );
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop table line_cover');
  }
}
