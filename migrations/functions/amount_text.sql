-- An amount of an item as a person reads it in a refusal: a count, or grams and from a kilogram on kilograms, to the
-- milligram; never a bare number of milligrams.
create or replace function amount_text(quantity bigint, of_item bigint) returns text
  language sql stable set search_path = public as $$
  select case when measure = 'counted' then quantity::text
    when abs(quantity) >= 1000000 and quantity % 1000 = 0 then trim_scale(quantity / 1000000.0) || ' kg'
    else trim_scale(quantity / 1000.0) || ' g' end
  from item where id = of_item
$$;
