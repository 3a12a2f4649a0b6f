import type { MigrationInterface, QueryRunner } from 'typeorm';

const TERMS = `'urgent', 'uncovered', 'late', 'days', 'weightedDays', 'expires', 'washing'`;

/** What the workshop wants to count first where a plan cannot do all: terms of what plans cost, the first first. */
export class PlanTerms1764000000032 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- none: as usual
      alter table workshop add column plan_terms text[] not null default '{}'
        check (plan_terms <@ array[${TERMS}] and array_position(plan_terms, null) is null
          and cardinality(plan_terms) <= 7)
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('alter table workshop drop column plan_terms');
  }
}
