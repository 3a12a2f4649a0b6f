import type { MigrationInterface, QueryRunner } from 'typeorm';
import { CHECK_RULES } from './0023-check-rules.js';
import { LEDGER_RULES, ledgerChecks } from './ledger-checks.js';

/** Checks and kept samples are among what `npm run verify` looks at. */
export class VerifyChecks1764000000023 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(ledgerChecks(LEDGER_RULES));
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(ledgerChecks(LEDGER_RULES.filter((rule) => !CHECK_RULES.includes(rule))));
  }
}
