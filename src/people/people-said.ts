import type { EntityManager } from 'typeorm';
import type { SnapshotPerson } from '../kernel/plan/snapshot.js';

/** Who works here, as a plan reads it (`SnapshotPerson`); null where nobody is said. */
export const PEOPLE = `(select json_agg(json_build_object('name', p.name, 'minutes', p.minutes, 'skills', p.skills)
    order by p.name) from person p where p.is_active)`;

/** Who works here now; null where nobody is said. */
export async function peopleOf(tx: EntityManager): Promise<SnapshotPerson[] | null> {
  const rows = await tx.query<{ people: SnapshotPerson[] | null }[]>(`select ${PEOPLE} as people`);
  return rows[0]!.people;
}
