-- What was sent is what was asked for: lines change in a draft only.
create or replace function guard_purchase_line() returns trigger language plpgsql security definer set search_path = public as $$
declare
  o purchase_order%rowtype;
begin
  select * into o from purchase_order where id = coalesce(new.purchase_order_id, old.purchase_order_id) for update;
  if found and o.status <> 'draft' then
    raise exception 'purchase order % is %, only a draft is changed', o.code, o.status using errcode = 'LW008';
  end if;
  return coalesce(new, old);
end $$;
