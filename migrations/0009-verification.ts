import type { MigrationInterface, QueryRunner } from 'typeorm';
import { VIOLATIONS as BALANCE_VIOLATIONS } from './0004-stock-ledger.js';
import { VIOLATIONS as ACT_VIOLATIONS } from './0006-ledger-checks.js';
import { STOCK_RULES } from './0009-ledger-rules.js';
import type { LedgerRule } from './0009-ledger-rules.js';
import { PROMISE_RULES, STATEFUL } from './0009-promise-rules.js';

/** Of the rows that break a rule, so many are named; all are counted. */
const NAMED_MAX = 50;

/**
 * Everything the ledger promises, rule by rule, with how many rows each was checked on and how long that took. So that a
 * state can be followed from its beginning, every row remembers the one it began in.
 */
export class Verification1764000000009 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(FIRST_STATUS);
    await db.query('drop function ledger_violations, act_violations, balance_violations');
    await db.query(CHECKS);
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

const check = ({ rule, rows, faults }: LedgerRule) => `
    rule := '${rule}';
    began := clock_timestamp();
    select count(*) into checked from ${rows};
    select count(*), coalesce(jsonb_agg(jsonb_build_object('subject', f.subject, 'found', f.found, 'expected', f.expected)
        order by f.place) filter (where f.place <= ${NAMED_MAX}), '[]')
      into wrong, faults
      from (select *, row_number() over () as place from (${faults}) as x (subject, found, expected)) as f;
    took_ms := extract(epoch from clock_timestamp() - began) * 1000;
    return next;`;

const CHECKS = `
  -- One row for each promise: how many rows were checked, how many are wrong, the first of those, and the time it took.
  -- Stable: all of it looks at the moment of the query that calls it.
  create function ledger_checks()
    returns table (rule text, checked bigint, wrong bigint, took_ms double precision, faults jsonb)
    language plpgsql stable set search_path = public set jit = off as $$
  declare
    began timestamptz;
  begin ${[...STOCK_RULES, ...PROMISE_RULES].map(check).join('')}
  end $$;

  -- The rows that break a promise, up to ${NAMED_MAX} of each; none when all is well.
  create function ledger_violations() returns table (rule text, subject text, found text, expected text)
    language sql stable set search_path = public as $$
    select c.rule, f.subject, f.found, f.expected
    from ledger_checks() c, jsonb_to_recordset(c.faults) as f (subject text, found text, expected text)
  $$;
`;
