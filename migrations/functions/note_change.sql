-- Says that this transaction changed something notices may depend on; once is enough.
create or replace function note_change() returns trigger language plpgsql security definer set search_path = public as $$
begin
  insert into change default values on conflict do nothing;
  return null;
end $$;
