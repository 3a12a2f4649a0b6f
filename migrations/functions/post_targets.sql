-- What the act was for, in the same statement: a line's shipped and returned, an input's weighed, a delivery's received.
create or replace function post_targets() returns trigger language plpgsql security definer set search_path = public as $$
declare
  was movement%rowtype;
  l lot%rowtype;
  r reservation%rowtype;
  kind text := new.cause;
  owed int;
begin
  if kind = 'correction' then
    select * into was from movement where id = new.reverses_id;
    kind := was.cause;
  end if;
  if kind = 'shipment' and new.order_line_id is not null then
    update order_line set from_stock = from_stock - new.quantity,
        shipped = shipped - new.quantity - sign(-new.quantity) * new.reported
      where id = new.order_line_id and quantity - shipped - cancelled >= -new.quantity - new.reported
        and from_stock - new.quantity between returned
          and shipped - new.quantity - sign(-new.quantity) * new.reported;
    if not found and new.quantity < 0 then
      raise exception 'the order line has less open than %', -new.quantity using errcode = 'LW005';
    elsif not found then
      raise exception 'some of what was shipped came back: correct that return first' using errcode = 'LW006';
    end if;
  elsif kind = 'return' then
    update order_line set returned = returned + new.quantity
      where id = new.order_line_id and returned + new.quantity <= from_stock;
    if not found then
      raise exception 'less than % was shipped of the line and has not come back', new.quantity using errcode = 'LW005';
    end if;
  elsif kind = 'consumption' and new.batch_input_id is not null then
    update batch_input set weighed = weighed - new.quantity, closed = closed and new.quantity < 0
      where id = new.batch_input_id;
  elsif new.cause = 'correction' and kind = 'receipt' then
    update delivery_line set received = received + new.quantity where id = new.delivery_line_id;
  end if;
  if was.taken > 0 then
    -- what was promised before is promised again, where the lot may still be used on that day
    select * into l from lot where id = new.lot_id;
    select * into r from reservation where id = was.reservation_id for update;
    select i.owed_life_days into owed from order_line ol join item i on i.id = ol.item_id where ol.id = r.order_line_id;
    if l.status = 'released' and (l.expires_on is null or l.expires_on >= r.need_on + coalesce(owed, 0)) then
      update reservation set consumed = consumed - was.taken, open = open + was.taken where id = r.id;
      update lot set reserved = reserved + was.taken where id = l.id;
    else
      update reservation set consumed = consumed - was.taken, freed = freed + was.taken where id = r.id;
    end if;
  end if;
  return null;
end $$;
