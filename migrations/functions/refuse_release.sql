-- What came back from a customer and may have been opened.
create or replace function refuse_release() returns trigger language plpgsql as $$
begin
  raise exception 'lot % came back from a customer and is never sold again', new.code using errcode = 'LW008';
end $$;
