import type { MigrationInterface, QueryRunner } from 'typeorm';

const BEFORE = `'urgent', 'uncovered', 'late', 'days', 'weightedDays', 'expires', 'washing'`;

const constraint = (terms: string, most: number): string => `
  alter table workshop drop constraint workshop_plan_terms_check;
  alter table workshop add constraint workshop_plan_terms_check
    check (plan_terms <@ array[${terms}] and array_position(plan_terms, null) is null and cardinality(plan_terms) <= ${most})`;

/** That pours stay where they were shown, and how evenly days are filled, can be said to count first too. */
export class PlanTermsOfPlaces1764000000035 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(constraint(`${BEFORE}, 'moved', 'uneven'`, 9));
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(
      `update workshop set plan_terms = array_remove(array_remove(plan_terms, 'moved'), 'uneven')
       where plan_terms && array['moved', 'uneven']`,
    );
    await db.query(constraint(BEFORE, 7));
  }
}
