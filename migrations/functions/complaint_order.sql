-- The order a complaint is about: the last that was named. Whose order that is, theirs is the complaint.
create or replace function complaint_order(which bigint) returns bigint
  language sql stable set search_path = public as $$
  select coalesce(
    (select e.order_id from complaint_entry e where e.complaint_id = k.id and e.kind = 'order' order by e.id desc limit 1),
    k.order_id)
  from complaint k where k.id = which
$$;
