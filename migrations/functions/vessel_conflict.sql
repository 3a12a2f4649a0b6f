-- Two batches in one vessel on the same days, of those that are not done with: the one that came in first, and the other.
-- A plan is refused that makes such a pair; it comes of what happened otherwise than planned, or from before that was so.
create view vessel_conflict as
  select first.id as first_id, other.id as other_id, v.code as vessel, first.code as first, other.code as other,
    other.day as from_day, least(first.emptied_on, other.emptied_on) as to_day
  from batch first
    join batch other on other.vessel_id = first.vessel_id and (first.day, first.id) < (other.day, other.id)
      and other.day <= first.emptied_on
    join vessel v on v.id = first.vessel_id
  where first.status in ('planned', 'reserved', 'weighed', 'resting')
    and other.status in ('planned', 'reserved', 'weighed', 'resting');

do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  revoke all on vessel_conflict from lotwright_app;
  grant select on vessel_conflict to lotwright_app;
end $$;
