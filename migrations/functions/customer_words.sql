-- What names a customer: their name, and how they or whoever complained for them are reached, as a whole and each line.
create or replace function customer_words(which bigint) returns text[]
  language sql stable set search_path = public as $$
  with own as (
    select c.name as word from customer c where c.id = which
    union all
    select c.contact from customer c where c.id = which
    union all
    select unnest(array[k.reporter, k.contact]) from complaint k
      where complaint_order(k.id) in (select o.id from customer_order o where o.customer_id = which))
  select coalesce(array_agg(distinct word order by word), '{}') from (
    select btrim(word) as word from own union all select btrim(line) from own, regexp_split_to_table(word, '[\r\n]+') line) w
  where word <> ''
$$;
