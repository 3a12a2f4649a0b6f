-- An input that takes a lot set aside for rework is of that lot's item.
create or replace function guard_rework_input() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if (select item_id from lot where id = new.rework_lot_id) <> new.item_id then
    raise exception 'a line that takes a lot is of its item' using errcode = 'LW004';
  end if;
  return new;
end $$;
