import { BATCH_RULES } from './ledger-rules/batches.js';
import { CHECK_RULES } from './ledger-rules/checks.js';
import { PROMISE_RULES } from './ledger-rules/promises.js';
import { PURCHASE_RULES } from './ledger-rules/purchases.js';
import type { LedgerRule } from './ledger-rules/rule.js';
import { STOCK_RULES } from './ledger-rules/stock.js';
import { TRACE_RULES } from './ledger-rules/trace.js';

/** Everything the data promise. */
const LEDGER_RULES: readonly LedgerRule[] = [
  ...STOCK_RULES,
  ...PROMISE_RULES,
  ...BATCH_RULES,
  ...PURCHASE_RULES,
  ...TRACE_RULES,
  ...CHECK_RULES,
];

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

/** The one function that is not written down as it is made: the rules one after the other, each in the same frame. */
export const LEDGER_CHECKS = `-- One row for each promise: how many rows were checked, how many are wrong, the first of those, and the time it took.
-- Stable: all of it looks at the moment of the query that calls it.
create or replace function ledger_checks()
  returns table (rule text, checked bigint, wrong bigint, took_ms double precision, faults jsonb)
  language plpgsql stable set search_path = public set jit = off as $$
declare
  began timestamptz;
begin ${LEDGER_RULES.map(check).join('')}
end $$;
`;
