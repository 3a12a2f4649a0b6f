-- What taking back a receipt does to the delivery line it came on, in the same statement: its received.
create or replace function post_delivery() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if exists (select from movement where id = new.reverses_id and cause = 'receipt') then
    update delivery_line set received = received + new.quantity where id = new.delivery_line_id;
  end if;
  return null;
end $$;
