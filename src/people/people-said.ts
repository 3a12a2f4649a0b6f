/** Who works here, as a plan reads it (`SnapshotPerson`); null where nobody is said. */
export const PEOPLE = `(select json_agg(json_build_object('name', p.name, 'minutes', p.minutes, 'skills', p.skills)
    order by p.name) from person p where p.is_active)`;
