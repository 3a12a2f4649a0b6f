-- Every row remembers the state it began in, so that its states can be followed from the beginning.
create or replace function note_first_status() returns trigger language plpgsql as $$
begin
  new.first_status := new.status;
  return new;
end $$;
