-- Takes away who a customer was wherever it is kept: their row, complaints and what was written of them, recipients'
-- notes, kept answers, files of orders. What they got stays, under a number. Refused while a recall that is open needs
-- to reach them, and so long after their last shipment as the workshop says the law asks for.
create or replace function erase_customer(which bigint, today date) returns jsonb
  language plpgsql security definer set search_path = public as $$
declare
  c customer%rowtype;
  last_sent date;
  days int := coalesce((select contact_days from trace_setting), 1095);
  open_recall text;
  complaints bigint[];
  told jsonb := '{}';
  touched int;
  names text[];
  called text;
  word text;
  in_json text;
  in_its_place text;
begin
  perform acting_person();
  select * into c from customer where id = which for update;
  if not found then raise exception 'there is no customer with id %', which using errcode = 'LW001'; end if;
  if c.erased_at is not null then
    raise exception 'who customer % was is erased already', which using errcode = 'LW008';
  end if;
  select r.code into open_recall from recall r join recall_scope s on s.recall_id = r.id
    join standing_movement m on m.lot_id = s.lot_id and m.cause = 'shipment'
    join order_line ol on ol.id = m.order_line_id join customer_order o on o.id = ol.order_id
    where o.customer_id = which and not r.is_drill and coalesce((select e.kind <> 'closed' from recall_entry e
      where e.recall_id = r.id and e.kind in ('closed', 'reopened') order by e.id desc limit 1), true)
    order by r.id limit 1;
  if open_recall is not null then
    raise exception 'recall % is open and has to reach them', open_recall using errcode = 'LW008';
  end if;
  select max(m.done_on) into last_sent from standing_movement m join order_line ol on ol.id = m.order_line_id
    join customer_order o on o.id = ol.order_id where o.customer_id = which and m.cause = 'shipment';
  if last_sent + days > today then
    raise exception 'something was sent to them on %, so they must be reachable until %', last_sent, last_sent + days
      using errcode = 'LW008';
  end if;

  select coalesce(array_agg(k.id), '{}') into complaints from complaint k
    where k.order_id in (select id from customer_order where customer_id = which) or lower(k.reporter) = lower(c.name)
      or exists (select from complaint_entry e join customer_order o on o.id = e.order_id
        where e.complaint_id = k.id and o.customer_id = which);
  -- all the words that name them: as customer, and as whoever complained
  select array_agg(distinct v.value) into names from (
    select c.name as value union all select c.contact
    union all select k.reporter from complaint k where k.id = any(complaints)
    union all select k.contact from complaint k where k.id = any(complaints)) v where v.value <> '';

  update complaint set reporter = '', contact = '' where id = any(complaints);
  foreach called in array names loop
    -- a very short name is found where it stands alone in quotes; in running text it would hit other words
    in_json := to_json(called)::text;
    in_its_place := '"(erased)"';
    if length(called) >= 4 then
      in_json := substr(in_json, 2, length(in_json) - 2);
      in_its_place := '(erased)';
      word := '(?i)' || regexp_replace(called, '([^[:alnum:][:space:]])', '\\\1', 'g');
      update complaint set description = regexp_replace(description, word, '(erased)', 'g') where description ~ word;
      update complaint_entry set text = regexp_replace(text, word, '(erased)', 'g') where text ~ word;
      update recall_answer set note = regexp_replace(note, word, '(erased)', 'g') where note ~ word;
      update recall_entry set text = regexp_replace(text, word, '(erased)', 'g') where text ~ word;
      if to_regclass('reminder') is not null then
        execute $x$ update reminder set title = regexp_replace(title, $1, '(erased)', 'g'),
          detail = regexp_replace(detail, $1, '(erased)', 'g') where title ~ $1 or detail ~ $1 $x$ using word;
      end if;
    end if;
    update idempotency set body = replace(body, in_json, in_its_place) where position(in_json in body) > 0;
    update order_file set report = replace(report::text, in_json, in_its_place)::jsonb
      where position(in_json in report::text) > 0;
    -- letters that went out or wait to, with what is enclosed
    if to_regclass('message') is not null then
      execute $x$ delete from message_file where message_id in
        (select id from message where position($1 in letter::text) > 0) $x$ using in_json;
      execute $x$ update message set letter = replace(letter::text, $1, $2)::jsonb
        where position($1 in letter::text) > 0 $x$ using in_json, in_its_place;
    end if;
    -- a file whose rows are not taken yet holds them as the shop wrote them, in whatever encoding
    delete from order_file where content is not null
      and position(convert_to(called, 'UTF8') in content) > 0;
    get diagnostics touched = row_count;
    told := jsonb_set(told, '{files}', to_jsonb(coalesce((told->>'files')::int, 0) + touched));
  end loop;
  update recall_answer set note = '' where order_id in (select id from customer_order where customer_id = which)
    and note <> '';
  update customer set name = 'erased ' || id, contact = '', erased_at = clock_timestamp() where id = which;
  return told || jsonb_build_object('complaints', cardinality(complaints));
end $$;

revoke all on function erase_customer(bigint, date) from public;
do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  grant execute on function erase_customer(bigint, date) to lotwright_app;
end $$;
