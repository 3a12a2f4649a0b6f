-- Each answer that is kept takes away up to ten that are two days old: they cannot pile up, and nobody pays for many.
create or replace function prune_answers() returns trigger language plpgsql security definer set search_path = public as $$
begin
  delete from idempotency where (who, route, key) in (
    select who, route, key from idempotency where created_at < now() - interval '48 hours'
    order by created_at limit 10 for update skip locked);
  return null;
end $$;
