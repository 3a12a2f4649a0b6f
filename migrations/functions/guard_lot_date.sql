-- A lot's last day does not move before a day it is set aside for.
create or replace function guard_lot_date() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if exists (select from reservation where lot_id = new.id and open > 0 and need_on > new.expires_on) then
    raise exception 'lot % is reserved for a day after %', new.code, new.expires_on using errcode = 'LW003';
  end if;
  return new;
end $$;
