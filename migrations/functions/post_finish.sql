-- What the closing of a batch says was made is what the batch has to give.
create or replace function post_finish() returns trigger language plpgsql security definer set search_path = public as $$
begin
  update batch set made = new.made where id = new.batch_id;
  return null;
end $$;
