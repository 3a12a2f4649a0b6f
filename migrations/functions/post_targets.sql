-- What a movement that is taken back had used of a promise is promised again, where the lot may still be used on that day.
-- After the rooms posted to what it was for (triggers fire by name).
create or replace function post_targets() returns trigger language plpgsql security definer set search_path = public as $$
declare
  was movement%rowtype;
  l lot%rowtype;
  r reservation%rowtype;
  owed int := 0;
begin
  select * into was from movement where id = new.reverses_id;
  if was.taken > 0 then
    select * into l from lot where id = new.lot_id;
    select * into r from reservation where id = was.reservation_id for update;
    if r.order_line_id is not null then
      select owed_life_days into owed from item where id = r.item_id;
    end if;
    if l.status = 'released' and (l.expires_on is null or l.expires_on >= r.need_on + owed) then
      update reservation set consumed = consumed - was.taken, open = open + was.taken where id = r.id;
      update lot set reserved = reserved + was.taken where id = l.id;
    else
      update reservation set consumed = consumed - was.taken, freed = freed + was.taken where id = r.id;
    end if;
  end if;
  return null;
end $$;
