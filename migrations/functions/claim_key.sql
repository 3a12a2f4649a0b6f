-- Makes the key this transaction's own until it ends, and answers what is kept for it, if anything. The look comes
-- after the lock and is a statement of its own, so it sees whatever the holder before committed.
create or replace function claim_key(for_who text, for_route text, for_key text) returns setof idempotency
  language plpgsql volatile set search_path = public as $$
begin
  if not pg_try_advisory_xact_lock(hashtextextended(concat_ws(chr(31), for_who, for_route, for_key), 0)) then
    raise exception 'a request with this key is still being worked on: ask again in a moment' using errcode = 'LW010';
  end if;
  return query select * from idempotency where who = for_who and route = for_route and key = for_key;
end $$;
