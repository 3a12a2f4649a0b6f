import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import type { PersonPut, PersonView } from './people.schema.js';

/** More than a small workshop has; of so many, a plan knows who may do what at once. */
const PEOPLE_MAX = 60;

const VIEW = 'select id, name, minutes, skills, is_active as "isActive" from person';

/** Who works here. Where nobody is said, the workshop's own minutes count, and anybody may make anything. */
@Injectable()
export class PeopleService {
  constructor(private readonly database: Database) {}

  /** By name. */
  list(): Promise<{ people: PersonView[] }> {
    return this.database.read(async (tx) => ({
      people: await tx.query<PersonView[]>(`${VIEW} order by lower(name), id`),
    }));
  }

  /** Throws 422 where somebody has that name already, 409 `too-many`. */
  add(who: string, body: PersonPut): Promise<PersonView> {
    return this.database.act({ who }, async (tx) => {
      await refuseSameName(tx, body.name);
      const [row] = await tx.query<{ id: number }[]>(
        'insert into person (name, minutes, skills, is_active) values ($1, $2, $3, $4) returning id',
        columnsOf(body),
      );
      const [all] = await tx.query<{ rows: number }[]>('select count(*)::int as rows from person');
      if (all!.rows > PEOPLE_MAX) throw conflict('too-many', `At most ${PEOPLE_MAX} people can be said to work here.`);
      return personById(tx, row!.id);
    });
  }

  /** Throws 404, and 422 where somebody else has that name. */
  change(who: string, id: number, body: PersonPut): Promise<PersonView> {
    return this.database.act({ who }, async (tx) => {
      await refuseSameName(tx, body.name, id);
      const [changed] = await tx.query<[{ id: number }[], number]>(
        `update person set name = $1, minutes = $2, skills = $3, is_active = $4, said_by = acting_person(), said_at = now()
         where id = $5 returning id`,
        [...columnsOf(body), id],
      );
      if (changed.length === 0) throw notFound('person', id);
      return personById(tx, id);
    });
  }

  /** Throws 404. */
  takeOff(who: string, id: number): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const [gone] = await tx.query<[{ id: number }[], number]>('delete from person where id = $1 returning id', [id]);
      if (gone.length === 0) throw notFound('person', id);
    });
  }
}

const columnsOf = ({ name, minutes, skills, isActive }: PersonPut): unknown[] => [
  name,
  minutes,
  [...new Set(skills)],
  isActive,
];

async function personById(tx: EntityManager, id: number): Promise<PersonView> {
  return (await tx.query<PersonView[]>(`${VIEW} where id = $1`, [id]))[0]!;
}

/** Names are told apart by their letters alone, whichever are capitals. */
async function refuseSameName(tx: EntityManager, name: string, but: number | null = null): Promise<void> {
  const [other] = await tx.query<{ name: string }[]>(
    'select name from person where lower(name) = lower($1) and id is distinct from $2',
    [name, but],
  );
  if (other)
    throw invalid('/name', `Somebody is called ${other.name} already: add what tells them apart.`, 'same-name');
}
