-- Only a rejected lot is set aside to be worked into another batch, and nothing that a customer sent back.
create or replace function guard_rework() returns trigger language plpgsql security definer set search_path = public as $$
declare
  l lot%rowtype;
begin
  select * into l from lot where id = new.lot_id for update;
  if l.status is distinct from 'rejected' then
    raise exception 'lot % is %, only a rejected lot is set aside to be worked into another', l.code, l.status
      using errcode = 'LW002';
  end if;
  if l.never_release then
    raise exception 'lot % came back from a customer and is never sold again, in whatever', l.code using errcode = 'LW008';
  end if;
  return new;
end $$;
