import type { MigrationInterface, QueryRunner } from 'typeorm';

/** A weighing says which entry booked what its lot held beyond the book, so that both are taken back together. */
export class FoundByWeighing1764000000036 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table movement
        add found_id bigint references movement,
        add constraint found_by_weighing check (found_id is null or cause = 'consumption');
      create index on movement (found_id) where found_id is not null;
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant insert (found_id) on movement to lotwright_app;
      end $$;`);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop view if exists lead_time, standing_movement');
    await db.query('alter table movement drop column found_id');
  }
}
