import type { LedgerRule } from './0009-ledger-rules.js';
import { RULES as BATCH_AND_EARLIER_RULES } from './0015-batch-rules.js';
import { PURCHASE_RULES } from './0018-purchase-rules.js';
import { TRACE_RULES } from './0021-trace-rules.js';
import { CHECK_RULES } from './0023-check-rules.js';

/** Of the rows that break a rule, so many are named; all are counted. */
const NAMED_MAX = 50;

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

/**
 * The functions that check these rules, over those there are. Tables a rule reads need not be there yet: they are looked for
 * when the check runs.
 */
export const ledgerChecks = (rules: readonly LedgerRule[]): string => `
  -- One row for each promise: how many rows were checked, how many are wrong, the first of those, and the time it took.
  -- Stable: all of it looks at the moment of the query that calls it.
  create or replace function ledger_checks()
    returns table (rule text, checked bigint, wrong bigint, took_ms double precision, faults jsonb)
    language plpgsql stable set search_path = public set jit = off as $$
  declare
    began timestamptz;
  begin ${rules.map(check).join('')}
  end $$;

  -- The rows that break a promise, up to ${NAMED_MAX} of each; none when all is well.
  create or replace function ledger_violations() returns table (rule text, subject text, found text, expected text)
    language sql stable set search_path = public as $$
    select c.rule, f.subject, f.found, f.expected
    from ledger_checks() c, jsonb_to_recordset(c.faults) as f (subject text, found text, expected text)
  $$;
`;

/**
 * Every promise of the data, those of later migrations last. A migration that adds some puts them in a file of its own,
 * lists them here, and runs `ledgerChecks(LEDGER_RULES)`.
 */
export const LEDGER_RULES: readonly LedgerRule[] = [
  ...BATCH_AND_EARLIER_RULES,
  ...PURCHASE_RULES,
  ...TRACE_RULES,
  ...CHECK_RULES,
];
