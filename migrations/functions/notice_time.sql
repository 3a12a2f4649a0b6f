-- When something may go out that is ready at an instant: at the next hour of digests on the workshop's clock where one
-- is said, and not in its quiet hours. An hour the clock leaves out in spring is the one an hour later; of one it goes
-- through twice in autumn it is the second.
create or replace function notice_time(ready timestamptz, zone text, quiet_from time, quiet_to time, digest_at time)
  returns timestamptz language plpgsql stable as $$
declare
  at_ timestamptz := ready;
  local_ timestamp;
  days int;
begin
  if digest_at is not null then
    local_ := ready at time zone zone;
    at_ := (local_::date + digest_at) at time zone zone;
    if at_ < ready then at_ := ((local_::date + 1) + digest_at) at time zone zone; end if;
  end if;
  if quiet_from is null then return at_; end if;
  local_ := at_ at time zone zone;
  if quiet_from < quiet_to then
    if local_::time < quiet_from or local_::time >= quiet_to then return at_; end if;
    days := 0;
  else
    if local_::time < quiet_from and local_::time >= quiet_to then return at_; end if;
    days := case when local_::time >= quiet_from then 1 else 0 end;
  end if;
  return greatest(at_, ((local_::date + days) + quiet_to) at time zone zone);
end $$;
