-- What was sent stays sent, under the same id.
create or replace function guard_sent() returns trigger language plpgsql as $$
begin
  raise exception 'message % was sent and stays so', old.uuid using errcode = 'LW008';
end $$;
