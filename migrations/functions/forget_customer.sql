-- Takes away who a customer was, at exactly the places that were looked at (`seen`: the MD5 of customer_traces) and nowhere
-- else. What they got stays, under a number. Refused for the reasons erasure_refusals gives, and where what is kept of them
-- is no longer what was seen. Answers how many of each kind were changed.
create or replace function forget_customer(which bigint, today date, seen text, reason text) returns jsonb
  language plpgsql security definer set search_path = public as $$
declare
  refusals text[];
  traces jsonb;
  t record;
begin
  perform acting_person();
  perform from customer where id = which for update;
  if not found then raise exception 'there is no customer with id %', which using errcode = 'LW001'; end if;
  -- nobody writes a complaint about their orders meanwhile
  perform from customer_order where customer_id = which order by id for update;
  refusals := erasure_refusals(which, today);
  if cardinality(refusals) > 0 then
    raise exception '%', array_to_string(refusals, '; ') using errcode = 'LW008';
  end if;
  traces := customer_traces(which);
  if md5(traces::text) <> seen then
    raise exception 'what is kept of customer % changed since you looked: look again', which using errcode = 'LW011';
  end if;
  for t in select x.* from jsonb_to_recordset(traces) as x (place text, key jsonb, after text) loop
    case t.place
      when 'customer.name' then update customer set name = t.after where id = t.key::bigint;
      when 'customer.contact' then update customer set contact = t.after where id = t.key::bigint;
      when 'complaint.reporter' then update complaint set reporter = t.after where id = t.key::bigint;
      when 'complaint.contact' then update complaint set contact = t.after where id = t.key::bigint;
      when 'complaint.description' then update complaint set description = t.after where id = t.key::bigint;
      when 'complaint_entry.text' then update complaint_entry set text = t.after where id = t.key::bigint;
      when 'recall_answer.note' then update recall_answer set note = t.after where id = t.key::bigint;
      when 'movement.reason' then update movement set reason = t.after where id = t.key::bigint;
      when 'state_change.why' then update state_change set why = t.after where id = t.key::bigint;
      when 'message.letter' then update message set letter = t.after::jsonb where id = t.key::bigint;
      when 'message.last_error' then update message set last_error = t.after where id = t.key::bigint;
      when 'message.status' then update message set status = t.after where id = t.key::bigint;
      when 'message_file.content' then
        delete from message_file where message_id = (t.key ->> 0)::bigint and position = (t.key ->> 1)::int;
      when 'order_file.report' then update order_file set report = t.after::jsonb where id = t.key::bigint;
      when 'idempotency.body' then
        update idempotency set body = t.after, content_type = case when t.after is not null then content_type end,
            forgotten_at = case when t.after is null then clock_timestamp() end
          where who = t.key ->> 0 and route = t.key ->> 1 and key = t.key ->> 2;
    end case;
  end loop;
  update customer set erased_at = clock_timestamp(), erased_by = acting_person(), erased_why = reason where id = which;
  return (select coalesce(jsonb_object_agg(place, places), '{}')
    from (select x ->> 'place' as place, count(*) as places from jsonb_array_elements(traces) x group by 1) counted);
end $$;

revoke all on function forget_customer(bigint, date, text, text) from public;
do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  grant execute on function forget_customer(bigint, date, text, text) to lotwright_app;
end $$;
