-- A batch that has begun, or is over, stays as it was planned. One that is planned or begun into a vessel in which another
-- stands is marked for it, until it is put elsewhere: a weighing can be taken back whatever stands where.
create or replace function guard_batch() returns trigger language plpgsql as $$
begin
  if old.status not in ('planned', 'reserved') and (new.output, new.put_in_mg, new.day, new.vessel_id, new.minutes)
      is distinct from (old.output, old.put_in_mg, case when new.status = 'resting' and old.status = 'weighed' then new.day else old.day end, old.vessel_id, old.minutes) then
    raise exception 'batch % is %, so its plan no longer changes', old.code, old.status using errcode = 'LW008';
  end if;
  if new.status = 'cancelled' and new.promised > 0 then
    raise exception 'batch % is still promised to others', old.code using errcode = 'LW008';
  end if;
  if (new.vessel_id, new.day, new.emptied_on) is distinct from (old.vessel_id, old.day, old.emptied_on) then
    new.shares_vessel := false;
  end if;
  if old.status = 'weighed' and new.status = 'reserved' then
    new.shares_vessel := exists (select from batch o where o.vessel_id = new.vessel_id and o.id <> new.id
      and o.status in ('planned', 'reserved') and not o.shares_vessel
      and o.day <= new.emptied_on and new.day <= o.emptied_on);
  end if;
  return new;
end $$;
