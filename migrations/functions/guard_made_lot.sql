-- What a batch made, and every part of it, waits for the batch: it can be held meanwhile, and is released after it.
create or replace function guard_made_lot() returns trigger language plpgsql security definer set search_path = public as $$
declare
  made_by batch%rowtype;
begin
  with recursive above (id, parent) as (
    select new.id, new.parent_lot_id
    union all
    select l.id, l.parent_lot_id from lot l join above a on l.id = a.parent
  )
  select b.* into made_by from above a join batch_output o on o.lot_id = a.id and o.kind = 'made'
    join batch b on b.id = o.batch_id where b.status <> 'released'
      and (new.status = 'released' or (b.status = 'resting' and a.id = new.id));
  if found then
    raise exception 'lot % comes of batch %, which is %: it is decided with the batch', new.code, made_by.code,
      made_by.status using errcode = 'LW008';
  end if;
  return new;
end $$;
