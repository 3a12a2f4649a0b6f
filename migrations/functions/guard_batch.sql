-- A batch that has begun, or is over, stays as it was planned.
create or replace function guard_batch() returns trigger language plpgsql as $$
begin
  if old.status not in ('planned', 'reserved') and (new.output, new.put_in_mg, new.day, new.vessel_id, new.minutes)
      is distinct from (old.output, old.put_in_mg, case when new.status = 'resting' and old.status = 'weighed' then new.day else old.day end, old.vessel_id, old.minutes) then
    raise exception 'batch % is %, so its plan no longer changes', old.code, old.status using errcode = 'LW008';
  end if;
  if new.status = 'cancelled' and new.promised > 0 then
    raise exception 'batch % is still promised to others', old.code using errcode = 'LW008';
  end if;
  return new;
end $$;
