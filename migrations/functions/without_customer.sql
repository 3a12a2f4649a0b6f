-- A kept answer or report without who a customer was: only at the places where what this program answers holds them.
-- The member `customer` of an order or a line of one, and a change of it, is the name of one customer, which is unique among
-- them; a complaint is told by its code, a customer by their id. All else, keys too, stays as it is: where a report says
-- which column of a file holds customers, `customer` names a column.
create or replace function without_customer(doc jsonb, which bigint, called text, complaints text[], words text[])
  returns jsonb language plpgsql immutable strict set search_path = public as $$
declare
  in_their_place jsonb := to_jsonb('erased ' || which);
  is_order boolean;
  is_complaint boolean;
  is_customer boolean;
begin
  if jsonb_typeof(doc) = 'array' then
    return coalesce((select jsonb_agg(without_customer(e.value, which, called, complaints, words) order by e.at)
      from jsonb_array_elements(doc) with ordinality as e (value, at)), '[]');
  elsif jsonb_typeof(doc) <> 'object' then
    return doc;
  end if;
  -- an order has lines and a line its place; of the columns of a file all members are text
  is_order := coalesce(jsonb_typeof(coalesce(doc -> 'lines', doc -> 'line')) in ('array', 'number'), false);
  is_complaint := doc ? 'reporter' and doc ->> 'code' = any(complaints);
  is_customer := doc ? 'isErased' and doc ->> 'id' = which::text;
  return coalesce((select jsonb_object_agg(m.key, case
      when jsonb_typeof(m.value) = 'string' then case
        when ((m.key = 'customer' and doc ?& array['channel', 'number'] and is_order)
            or (m.key in ('from', 'to') and doc ->> 'field' = 'customer'))
          and lower(m.value #>> '{}') = lower(called) then in_their_place
        when is_customer and m.key = 'name' then in_their_place
        when is_complaint and m.key = 'reporter' or (is_complaint or is_customer) and m.key = 'contact' then to_jsonb(''::text)
        when is_complaint and m.key = 'description' then to_jsonb(without_words(m.value #>> '{}', words))
        else m.value end
      when is_complaint and m.key = 'entries' and jsonb_typeof(m.value) = 'array' then (
        select coalesce(jsonb_agg(case when e.value ? 'text'
          then jsonb_set(e.value, '{text}', to_jsonb(without_words(e.value ->> 'text', words))) else e.value end order by e.at), '[]')
        from jsonb_array_elements(m.value) with ordinality as e (value, at))
      else without_customer(m.value, which, called, complaints, words) end)
    from jsonb_each(doc) m), '{}');
end $$;
