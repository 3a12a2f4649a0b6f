/**
 * Days of lots and of what was done with them lie in reach: no year 1, no infinity, which arithmetic with days cannot bear.
 * What is kept beyond is brought within first. A day something came or was done is then the one it was written down on, for
 * want of a better, a lot's never after its first movement; a last usable day long ago stays long ago, and one far away far.
 */
export const DAYS = `
  alter table movement disable trigger append_only;
  update movement set done_on = (recorded_at at time zone 'UTC')::date
    where done_on not between '1970-01-01' and '2199-12-31';
  alter table movement enable trigger append_only;
  update lot l set came_on = least((l.created_at at time zone 'UTC')::date,
      (select min(m.done_on) from movement m where m.lot_id = l.id))
    where came_on not between '1970-01-01' and '2199-12-31';
  update lot set expires_on = case when expires_on < '1970-01-01' then '1970-01-01'::date else '2199-12-31'::date end
    where expires_on not between '1970-01-01' and '2199-12-31';
  alter table lot
    add constraint came_within_reach check (came_on between '1970-01-01' and '2199-12-31'),
    add constraint expires_within_reach check (expires_on between '1970-01-01' and '2199-12-31');
  alter table movement add constraint done_within_reach check (done_on between '1970-01-01' and '2199-12-31');
`;

export const DAYS_BEFORE = `
  alter table movement drop constraint done_within_reach;
  alter table lot drop constraint came_within_reach, drop constraint expires_within_reach;
`;
