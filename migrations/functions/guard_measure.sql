-- Amounts are kept without their unit: milligrams cannot become pieces once an amount of the item is written. Here those of
-- formulas; lots, orders and purchases have a guard of their own.
create or replace function guard_measure() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if exists (select from formula_line where item_id = new.id) or exists (select from formula where item_id = new.id) then
    raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
  end if;
  return new;
end $$;
