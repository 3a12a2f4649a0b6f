-- A part of a lot that is never sold again is never sold again either.
create or replace function inherit_never_release() returns trigger language plpgsql security definer set search_path = public as $$
begin
  new.never_release := new.never_release or (select never_release from lot where id = new.parent_lot_id);
  return new;
end $$;
