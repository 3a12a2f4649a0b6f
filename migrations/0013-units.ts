import type { MigrationInterface, QueryRunner } from 'typeorm';

/** In which units a workshop reads its weights: metric, or metric with US customary beside it. */
export class Units1764000000013 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`alter table workshop add units text not null default 'metric' check (units in ('metric', 'us'))`);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('alter table workshop drop column units');
  }
}
