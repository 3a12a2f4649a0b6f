import type { MigrationInterface, QueryRunner } from 'typeorm';
import { VIOLATIONS as BALANCE_VIOLATIONS } from './0004-stock-ledger.js';
import { VIOLATIONS as ACT_VIOLATIONS } from './0006-ledger-checks.js';
import { STOCK_RULES } from './0009-ledger-rules.js';
import { PROMISE_RULES, STATEFUL } from './0009-promise-rules.js';
import { ledgerChecks } from './ledger-checks.js';

/**
 * Everything the ledger promises, rule by rule, with how many rows each was checked on and how long that took. So that a
 * state can be followed from its beginning, every row remembers the one it began in.
 */
export class Verification1764000000009 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(FIRST_STATUS);
    await db.query('drop function ledger_violations, act_violations, balance_violations');
    await db.query(ledgerChecks([...STOCK_RULES, ...PROMISE_RULES]));
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop function ledger_violations, ledger_checks');
    for (const table of STATEFUL)
      await db.query(`
        drop trigger first_status on ${table};
        drop trigger keep_first_status on ${table};
        alter table ${table} drop column first_status`);
    await db.query('drop function note_first_status');
    await db.query(BALANCE_VIOLATIONS);
    await db.query(ACT_VIOLATIONS);
  }
}

const FIRST_STATUS = `
  create function note_first_status() returns trigger language plpgsql as $$
  begin
    new.first_status := new.status;
    return new;
  end $$;
  ${STATEFUL.map(
    (table) => `
  alter table ${table} add first_status text;
  update ${table} t set first_status = coalesce((select from_status from state_change s
    where s.subject = '${table}' and s.subject_id = t.id order by s.id limit 1), status);
  create trigger first_status before insert on ${table} for each row execute function note_first_status();
  create trigger keep_first_status before update on ${table} for each row
    when (old.first_status is distinct from new.first_status) execute function refuse_change();`,
  ).join('')}
`;
