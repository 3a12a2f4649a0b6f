-- Facts stay; only the owner's function that erases may blank who is named in them, and nothing beside.
create or replace function only_erased() returns trigger language plpgsql as $$
begin
  if tg_op = 'UPDATE' and without_person(to_jsonb(new)) = without_person(to_jsonb(old)) then return new; end if;
  raise exception '% on % is refused: it is only added to', tg_op, tg_table_name using errcode = 'LW007';
end $$;
