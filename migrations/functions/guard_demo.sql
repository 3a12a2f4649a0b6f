-- A workshop becomes the demonstration only while it holds nothing, so none of one's own is ever emptied as one.
create or replace function guard_demo() returns trigger language plpgsql security definer set search_path = public as $$
begin
  if exists (select from workshop where is_demo) then return new; end if;
  if exists (select from item) or exists (select from channel) or exists (select from supplier)
      or exists (select from vessel) then
    raise exception 'this workshop holds things of its own, so it cannot become the demonstration'
      using errcode = 'LW008';
  end if;
  return new;
end $$;
