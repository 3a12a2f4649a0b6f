-- Evidence alone moves a lot's date: an examination where it is a retest date, or the correction of one written down
-- wrongly.
create or replace function post_retest() returns trigger language plpgsql security definer set search_path = public as $$
declare
  l lot%rowtype;
begin
  select * into l from lot where id = new.lot_id for update;
  if not new.is_correction and not exists (select from item where id = l.item_id and lot_date_kind = 'retest') then
    raise exception 'the date of lot % is no retest date', l.code using errcode = 'LW008';
  end if;
  new.from_date := l.expires_on;
  new.created_at := clock_timestamp();
  update lot set expires_on = new.to_date where id = l.id;
  return new;
end $$;
