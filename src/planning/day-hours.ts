import type { EntityManager } from 'typeorm';
import { UNNAMED } from '../catalog/workshop.service.js';
import { dayOf, weekdayOf } from '../kernel/measure/day.js';
import { Crew, type Few, isTheirs, minutesOpen } from '../kernel/plan/crew.js';
import type { SnapshotPerson } from '../kernel/plan/snapshot.js';
import { PEOPLE } from '../people/people-said.js';

/** Minutes at the bench on a day, and what they ask for of whoever does them. */
export interface Work {
  day: string;
  minutes: number;
  skill: string | null;
}

/** Some of those who work here, what of a day's work only they may do, and how many minutes they have. */
export interface FewLoad {
  who: string[];
  skills: string[];
  minutesOpen: number;
  minutesUsed: number;
}

/** `few`: only those whom anything of that day asks for. */
export interface DayHours {
  day: string;
  minutesOpen: number;
  minutesUsed: number;
  /** Who is there; null where nobody is said to work here. */
  people: { name: string; minutes: number }[] | null;
  few: FewLoad[];
}

interface Said {
  bench: number[];
  closed: string[];
  people: SnapshotPerson[] | null;
}

/** Of each of these days what the bench has and what is asked of it. */
export async function hoursOf(tx: EntityManager, days: readonly string[], work: readonly Work[]): Promise<DayHours[]> {
  const [said] = await tx.query<Said[]>(
    `select coalesce((select bench_minutes from workshop), $2::int[]) as bench,
       coalesce((select json_agg(day) from closed_day where day = any($1::date[])), '[]') as closed,
       ${PEOPLE} as people`,
    [days, UNNAMED.benchMinutes],
  );
  return days.map((day) => hoursOn(day, said!, work));
}

function hoursOn(day: string, { bench, closed, people }: Said, work: readonly Work[]): DayHours {
  const asked = work.filter((one) => one.day === day);
  const skills = asked.flatMap(({ skill }) => skill ?? []);
  const crew = people && new Crew(people, new Set(skills));
  const isClosed = closed.includes(day);
  const at = weekdayOf(dayOf(day));
  const open = { openMinutes: () => (isClosed ? 0 : crew ? crew.minutesOn(dayOf(day)) : (bench[at] ?? 0)) };
  const there = people?.map(({ name, minutes }) => ({ name, minutes: isClosed ? 0 : minutes[at]! }));
  const usedOf = (few?: Few): number =>
    asked.reduce((sum, { minutes, skill }) => sum + (!few || isTheirs(few, skill ?? undefined) ? minutes : 0), 0);
  return {
    day,
    minutesOpen: open.openMinutes(),
    minutesUsed: usedOf(),
    people: there?.filter(({ minutes }) => minutes > 0) ?? null,
    few: (crew?.few ?? []).map((few) => ({
      who: [...few.names],
      skills: [...few.skills].toSorted(),
      minutesOpen: minutesOpen(open, dayOf(day), few),
      minutesUsed: usedOf(few),
    })),
  };
}
