-- Who acts: set for each transaction by the application. Without it nothing that records an act can be written.
create or replace function acting_person() returns text language plpgsql stable as $$
declare who text := current_setting('lotwright.who', true);
begin
  if who is null or who = '' then
    raise exception 'lotwright.who is not set: an act needs a person' using errcode = 'LW000';
  end if;
  return who;
end $$;
