-- The rows that break a promise, up to 50 of each; none when all is well.
create or replace function ledger_violations() returns table (rule text, subject text, found text, expected text)
  language sql stable set search_path = public as $$
  select c.rule, f.subject, f.found, f.expected
  from ledger_checks() c, jsonb_to_recordset(c.faults) as f (subject text, found text, expected text)
$$;
