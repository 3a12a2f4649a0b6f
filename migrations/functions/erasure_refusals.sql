-- Why a customer cannot be erased today, each as a sentence.
create or replace function erasure_refusals(which bigint, today date) returns text[]
  language sql stable set search_path = public as $$
  with orders as materialized (
    select o.id, o.channel || '/' || o.number as name, o.status from customer_order o where o.customer_id = which),
  open_orders as (select name from orders where status not in ('fulfilled', 'cancelled')),
  open_complaints as (
    select k.code from complaint k where complaint_order(k.id) in (select id from orders)
      and coalesce((select e.kind from complaint_entry e where e.complaint_id = k.id and e.kind in ('closed', 'reopened')
        order by e.id desc limit 1), '') <> 'closed'),
  sent as (
    select m.lot_id, m.done_on from standing_movement m join order_line ol on ol.id = m.order_line_id
    where m.cause = 'shipment' and ol.order_id in (select id from orders)),
  open_recalls as (
    select r.code from recall r where not r.is_drill
      and exists (select from recall_scope s join sent on sent.lot_id = s.lot_id where s.recall_id = r.id)
      and coalesce((select e.kind <> 'closed' from recall_entry e where e.recall_id = r.id
        and e.kind in ('closed', 'reopened') order by e.id desc limit 1), true)),
  kept as (
    select max(done_on) as last_sent, max(done_on) + coalesce((select contact_days from trace_setting), 1095) as until from sent),
  waiting as (select f.id from order_file f where f.content is not null)
  select array_remove(array[
    (select 'who customer ' || which || ' was is erased already' from customer where id = which and erased_at is not null),
    (select 'of their orders ' || string_agg(name, ', ' order by name) || case count(*) when 1 then ' is' else ' are' end
        || ' open: send or cancel what is left first' from open_orders having count(*) > 0),
    (select 'complaint ' || string_agg(code, ', ' order by code) || case count(*) when 1 then ' is' else ' are' end
        || ' open: close it first' from open_complaints having count(*) > 0),
    (select 'recall ' || string_agg(code, ', ' order by code) || case count(*) when 1 then ' is' else ' are' end
        || ' open and has to reach them' from open_recalls having count(*) > 0),
    (select 'something was sent to them on ' || last_sent || ', so they must be reachable until ' || until
        from kept where until > today),
    -- whom its rows name nobody knows before they are taken in
    (select 'order file ' || string_agg(id::text, ', ' order by id)
        || ' is not taken in and may name them: take it in or throw it away first' from waiting having count(*) > 0),
    (select 'another customer is called ' || name || ', as they would be' from customer
        where lower(name) = 'erased ' || which and id <> which)
  ], null)
$$;
