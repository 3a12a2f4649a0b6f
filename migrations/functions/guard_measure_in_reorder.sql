-- As guard_measure, for what is said of an item's use.
create or replace function guard_measure_in_reorder() returns trigger language plpgsql security definer
  set search_path = public as $$
begin
  if exists (select from said_use where item_id = new.id or like_id = new.id) then
    raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
  end if;
  return new;
end $$;
