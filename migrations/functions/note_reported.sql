-- After check_act, which knows the line, and before post_movement (triggers fire by name).
create or replace function note_reported() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if new.cause = 'correction' then
    new.reported := (select reported from movement where id = new.reverses_id);
  else
    -- whoever ships holds the line already
    new.reported := coalesce((select greatest(0, -new.quantity - (quantity - shipped - cancelled))
      from order_line where id = new.order_line_id), 0);
  end if;
  return new;
end $$;
