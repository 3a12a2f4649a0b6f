-- A lot, batch, order, run or purchase order changes its state only along a transition that is written down, and each
-- change is kept with who made it and why.
create or replace function guard_state() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if not exists (select from transition
      where subject = tg_table_name and from_status = old.status and to_status = new.status) then
    raise exception 'a % cannot go from % to %', replace(tg_table_name, '_', ' '), old.status, new.status
      using errcode = 'LW008';
  end if;
  insert into state_change (subject, subject_id, from_status, to_status, why, done_by)
    values (tg_table_name, old.id, old.status, new.status,
      coalesce(current_setting('lotwright.why', true), ''), acting_person());
  return new;
end $$;
