-- Gives back up to amount of a reservation; answers how much was freed.
create or replace function free_reservation(which bigint, amount bigint) returns bigint
  language plpgsql security definer set search_path = public as $$
declare
  r reservation%rowtype;
  given bigint;
begin
  select * into r from reservation where id = which;
  if not found then
    raise exception 'there is no reservation with id %', which using errcode = 'LW001';
  end if;
  perform 1 from lot where id = r.lot_id for update;
  perform 1 from batch where id = r.batch_id for update;
  perform 1 from delivery_line where id = r.delivery_line_id for update;
  select * into r from reservation where id = which for update;
  given := least(r.open, greatest(amount, 0));
  update reservation set open = open - given, freed = freed + given where id = which;
  update lot set reserved = reserved - given where id = r.lot_id;
  update batch set promised = promised - given where id = r.batch_id;
  update delivery_line set promised = promised - given where id = r.delivery_line_id;
  return given;
end $$;
