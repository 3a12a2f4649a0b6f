-- A batch never takes what came of itself. Only one that is closed, and still takes labels, could.
create or replace function refuse_loop() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if not exists (select from batch_output where batch_id = new.batch_id) then return new; end if;
  if exists (
    with recursive came_of (lot_id) as (
      select new.lot_id
      union
      select above.id from came_of c cross join lateral (
        select l.parent_lot_id as id from lot l where l.id = c.lot_id and l.parent_lot_id is not null
        union all
        select m.lot_id from batch_output o join standing_movement m on m.batch_id = o.batch_id and m.cause = 'consumption'
          where o.lot_id = c.lot_id) above
    ) select from came_of c join batch_output o on o.lot_id = c.lot_id where o.batch_id = new.batch_id) then
    raise exception 'this lot was made from the batch itself' using errcode = 'LW004';
  end if;
  return new;
end $$;
