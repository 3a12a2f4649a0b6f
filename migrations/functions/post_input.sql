-- What a movement does to the batch input it was for, in the same statement: its weighed.
create or replace function post_input() returns trigger language plpgsql security definer set search_path = public as $$
declare
  kind text := coalesce((select cause from movement where id = new.reverses_id), new.cause);
begin
  if kind = 'consumption' then
    update batch_input set weighed = weighed - new.quantity, closed = closed and new.quantity < 0
      where id = new.batch_input_id;
  end if;
  return null;
end $$;
