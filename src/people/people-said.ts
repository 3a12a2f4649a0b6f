/** Who works here, as a plan reads it (`SnapshotPerson`); null where nobody is said. */
export const PEOPLE = `(select json_agg(json_build_object('name', p.name, 'minutes', p.minutes, 'skills', p.skills)
    order by p.name) from person p where p.is_active)`;

/** Of a formula `f`: who may make it now; null where anybody may. */
export const WHO_MAY = `(case when f.skill is not null and exists (select from person where is_active)
    then (select coalesce(json_agg(p.name order by p.name), '[]') from person p
      where p.is_active and f.skill = any(p.skills)) end)`;
