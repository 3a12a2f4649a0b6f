-- A kept sample is thrown away once; what was kept, of which batch and until when, stays as it was written.
create or replace function discard_once() returns trigger language plpgsql as $$
begin
  if old.discarded_on is not null or new.discarded_on is null
      or (new.batch_id, new.movement_id, new.place, new.discard_on) is distinct from
        (old.batch_id, old.movement_id, old.place, old.discard_on) then
    raise exception 'a kept sample is discarded once, and nothing else of it changes' using errcode = 'LW008';
  end if;
  return new;
end $$;
