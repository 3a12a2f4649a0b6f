-- Of a table that is only added to.
create or replace function refuse_change() returns trigger language plpgsql as $$
begin
  raise exception '% on % is refused: it is only added to', tg_op, tg_table_name using errcode = 'LW007';
end $$;
