-- An answer as it was kept, or null where PostgreSQL cannot read it: it knows no half of a character, JSON does.
create or replace function kept_json(body text) returns jsonb language plpgsql immutable as $$
begin
  return body::jsonb;
exception when others then
  return null;
end $$;
