-- Of the ledger and of changes of state: facts stay; only the owner's function that erases may blank who is named in the
-- reason that was given.
create or replace function only_reason_erased() returns trigger language plpgsql as $$
begin
  if tg_op = 'UPDATE' and to_jsonb(new) - array['reason', 'why'] = to_jsonb(old) - array['reason', 'why'] then return new; end if;
  raise exception '% on % is refused: it is only added to', tg_op, tg_table_name using errcode = 'LW007';
end $$;
