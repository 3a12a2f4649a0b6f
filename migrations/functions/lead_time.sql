-- How long each delivered line took from ordering until it came, the mean of its parts by what came of it; parts put
-- right do not count. Where nobody said when it was ordered, from when it was written down, if that was before it came.
create view lead_time as
  select line_id, supplier_id, item_id, pack_id, ordered_on, last_on,
    (took * 1.0 / quantity)::double precision as days
  from (
    select dl.id as line_id, d.supplier_id, dl.item_id, dl.pack_id, o.ordered_on, max(m.done_on) as last_on,
      sum(m.quantity) as quantity, sum(m.quantity * (m.done_on - o.ordered_on)) as took,
      min(m.done_on - o.ordered_on) as least, bool_or(d.ordered_on is not null) as is_known
    from standing_movement m join delivery_line dl on dl.id = m.delivery_line_id join delivery d on d.id = dl.delivery_id
      left join workshop w on true
      cross join lateral (
        select coalesce(d.ordered_on, (d.created_at at time zone coalesce(w.time_zone, 'UTC'))::date) as ordered_on) o
    where m.cause = 'receipt'
    group by dl.id, d.supplier_id, o.ordered_on
  ) taken
  where least >= 0 and (is_known or least > 0);

do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  revoke all on lead_time from lotwright_app;
  grant select on lead_time to lotwright_app;
end $$;
