-- As the owner of the tables, since the application may neither truncate nor switch a guard off. The guards are
-- off for this transaction only, and nobody else can reach the tables until it ends. Waits for whoever is at work.
create or replace function remove_demo() returns void
  language plpgsql security definer set search_path = public set lock_timeout = '10s' as $$
declare
  guarded regclass;
begin
  perform from workshop where is_demo for update;
  if not found then
    raise exception 'this workshop is no demonstration, so what it recorded stays' using errcode = 'LW008';
  end if;
  for guarded in select tgrelid from pg_trigger where tgname = 'no_truncate' and tgrelid = any(demo_tables()) loop
    execute format('alter table %s disable trigger no_truncate', guarded);
  end loop;
  execute 'truncate ' || array_to_string(demo_tables(), ', ') || ' restart identity';
  for guarded in select tgrelid from pg_trigger where tgname = 'no_truncate' and tgrelid = any(demo_tables()) loop
    execute format('alter table %s enable trigger no_truncate', guarded);
  end loop;
  -- an empty workshop of its own: the demonstration does not come back by itself
  insert into workshop (name) values ('Workshop');
end $$;

revoke all on function remove_demo() from public;
do $$ begin
  if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
  grant execute on function remove_demo() to lotwright_app;
end $$;
