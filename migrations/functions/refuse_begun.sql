-- What was weighed is in the batch: neither the batch nor the input is taken back or planned anew under it.
create or replace function refuse_begun() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if exists (select from batch_input where batch_id = new.id and weighed > 0) then
    raise exception 'batch % is begun: it has something weighed into it', new.code using errcode = 'LW008';
  end if;
  return new;
end $$;
