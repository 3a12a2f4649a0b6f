-- What a movement does to the order line it was for, in the same statement: its shipped and returned.
create or replace function post_line() returns trigger language plpgsql security definer set search_path = public as $$
declare
  kind text := coalesce((select cause from movement where id = new.reverses_id), new.cause);
begin
  if kind = 'shipment' then
    update order_line set from_stock = from_stock - new.quantity,
        shipped = shipped - new.quantity - sign(-new.quantity) * new.reported
      where id = new.order_line_id and quantity - shipped - cancelled >= -new.quantity - new.reported
        and from_stock - new.quantity between returned
          and shipped - new.quantity - sign(-new.quantity) * new.reported;
    if not found and new.quantity < 0 then
      raise exception 'the order line has less open than %',
        (select amount_text(-new.quantity, item_id) from order_line where id = new.order_line_id) using errcode = 'LW005';
    elsif not found then
      raise exception 'some of what was shipped came back: correct that return first' using errcode = 'LW006';
    end if;
  elsif kind = 'return' then
    update order_line set returned = returned + new.quantity
      where id = new.order_line_id and returned + new.quantity <= from_stock;
    if not found then
      raise exception 'less than % was shipped of the line and has not come back',
        (select amount_text(new.quantity, item_id) from order_line where id = new.order_line_id) using errcode = 'LW005';
    end if;
  end if;
  return null;
end $$;
