-- Moves the day a reservation is needed on; refused where its lot does not last so long.
create or replace function move_reservation(which bigint, new_day date) returns void
  language plpgsql security definer set search_path = public as $$
declare
  l lot%rowtype;
begin
  select * into l from lot where id = (select lot_id from reservation where id = which) for update;
  if l.expires_on < new_day then
    raise exception 'lot % was last usable on %, not on %', l.code, l.expires_on, new_day using errcode = 'LW003';
  end if;
  update reservation set need_on = new_day where id = which;
end $$;
