-- What happened, as far as is known: the entries of the ledger without those that were corrected, and without the
-- corrections. An entry that was corrected never happened. Sums of the whole ledger are the same with all of them; whoever
-- asks which lot, day or person there was asks here.
create view standing_movement as
  select m.* from movement m
  where m.cause <> 'correction'
    -- corrections are the few entries with a reverses_id: said, or all of the ledger would be read to find them
    and not exists (select from movement undo where undo.reverses_id = m.id and undo.reverses_id is not null);

do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  revoke all on standing_movement from lotwright_app;
  grant select on standing_movement to lotwright_app;
end $$;
