-- As guard_measure, for amounts of a lot.
create or replace function guard_measure_in_stock() returns trigger language plpgsql security definer
  set search_path = public as $$
begin
  if exists (select from lot where item_id = new.id) then
    raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
  end if;
  return new;
end $$;
