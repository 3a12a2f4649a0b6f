-- The row without what may name a person.
create or replace function without_person(of_row jsonb) returns jsonb language sql immutable as $$
  select of_row - array['description', 'reporter', 'contact', 'text', 'note']
$$;
