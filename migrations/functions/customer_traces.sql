-- Every place that tells who a customer was, with what is written there and what is to be: their own row; complaints about
-- their orders; what recipients, returns and changes of state say of their orders; letters to them; and, value by value,
-- the reports and answers that are kept as JSON. Found by ids alone, never by looking for a name in what others wrote.
-- A list of { place, of, key, before, after }: `of` says in words of what, `key` is the row's own; after is null where it goes.
create or replace function customer_traces(which bigint) returns jsonb
  language sql stable set search_path = public as $$
  with c as materialized (select * from customer where id = which),
  words as materialized (select customer_words(which) as words),
  orders as materialized (select o.id, o.channel || '/' || o.number as name from customer_order o where o.customer_id = which),
  complaints as materialized (select k.* from complaint k where complaint_order(k.id) in (select id from orders)),
  -- what came back from them, as the lots it became
  lines as materialized (select ol.id, o.name from order_line ol join orders o on o.id = ol.order_id),
  came_back as materialized (
    select m.lot_id, min(l.name) as name from movement m join lines l on l.id = m.order_line_id
    where m.cause = 'return' group by m.lot_id),
  letters as materialized (select m.* from message m where m.customer_id = which),
  codes as materialized (select coalesce(array_agg(code), '{}') as codes from complaints),
  found (place, of, key, before, after) as (
    select 'customer.name', 'customer ' || which, to_jsonb(c.id), c.name, 'erased ' || which from c
    union all select 'customer.contact', 'customer ' || which, to_jsonb(c.id), c.contact, '' from c
    union all select 'complaint.reporter', k.code, to_jsonb(k.id), k.reporter, '' from complaints k
    union all select 'complaint.contact', k.code, to_jsonb(k.id), k.contact, '' from complaints k
    union all select 'complaint.description', k.code, to_jsonb(k.id), k.description, without_words(k.description, words, 5000)
      from complaints k, words
    union all select 'complaint_entry.text', k.code, to_jsonb(e.id), e.text, without_words(e.text, words, 5000)
      from complaints k join complaint_entry e on e.complaint_id = k.id, words
    -- whoever answers a recall says who they are in any words
    union all select 'recall_answer.note', r.code || ', order ' || o.name, to_jsonb(a.id), a.note, ''
      from recall_answer a join orders o on o.id = a.order_id join recall r on r.id = a.recall_id
    union all select 'movement.reason', 'order ' || l.name, to_jsonb(m.id), m.reason, without_words(m.reason, words)
      from movement m join lines l on l.id = m.order_line_id, words where m.reason <> ''
    union all select 'movement.reason', 'lot ' || t.code, to_jsonb(m.id), m.reason, without_words(m.reason, words)
      from movement m join came_back b on b.lot_id = m.lot_id join lot t on t.id = m.lot_id, words
      where m.reason <> '' and m.order_line_id is null
    union all select 'state_change.why', 'order ' || o.name, to_jsonb(s.id), s.why, without_words(s.why, words)
      from state_change s join orders o on s.subject = 'customer_order' and s.subject_id = o.id, words where s.why <> ''
    union all select 'state_change.why', 'lot ' || t.code, to_jsonb(s.id), s.why, without_words(s.why, words)
      from state_change s join came_back b on s.subject = 'lot' and s.subject_id = b.lot_id join lot t on t.id = b.lot_id, words
      where s.why <> ''
    union all select 'message.letter', 'letter ' || m.id, to_jsonb(m.id), m.letter::text, (
        select jsonb_object_agg(e.key, case
          when e.key = 'to' then (select jsonb_agg('(erased)'::text) from jsonb_array_elements(e.value))
          when e.key in ('subject', 'text') then to_jsonb(without_words(e.value #>> '{}', words)) else e.value end)
        from jsonb_each(m.letter) e)::text
      from letters m, words
    -- a mail server's remark repeats the address it refused
    union all select 'message.last_error', 'letter ' || m.id, to_jsonb(m.id), m.last_error, '(erased)'
      from letters m where m.last_error <> ''
    union all select 'message.status', 'letter ' || m.id, to_jsonb(m.id), m.status, 'dropped'
      from letters m where m.status in ('waiting', 'handed', 'given-up')
    union all select 'message_file.content', 'letter ' || m.id, jsonb_build_array(f.message_id, f.position), f.name, null
      from letters m join message_file f on f.message_id = m.id
    union all select 'order_file.report', 'order file ' || f.id, to_jsonb(f.id), f.report::text,
        without_customer(f.report, which, c.name, codes, words)::text
      from order_file f, c, codes, words where f.report is not null
    -- one that cannot be read is told apart by nothing, and goes as a whole
    union all select 'idempotency.body', i.route, jsonb_build_array(i.who, i.route, i.key), coalesce(j.doc::text, i.body),
        without_customer(j.doc, which, c.name, codes, words)::text
      from idempotency i cross join lateral (select kept_json(i.body) as doc) j, c, codes, words
      where i.body ~ '"(customer|reporter|isErased)":')
  select coalesce(jsonb_agg(to_jsonb(found) order by place, of, key), '[]') from found where before is distinct from after
$$;
