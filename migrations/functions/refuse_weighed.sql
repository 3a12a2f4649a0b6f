-- An input into which something was weighed keeps its item and its amount.
create or replace function refuse_weighed() returns trigger language plpgsql as $$
begin
  raise exception 'line % of the batch is weighed already', new.position using errcode = 'LW008';
end $$;
