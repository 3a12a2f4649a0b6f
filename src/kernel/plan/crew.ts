import { type Day, weekdayOf } from '../measure/day.js';
import type { Snapshot, SnapshotPerson } from './snapshot.js';

/** Some of those who work here, and what none but they may do. */
export interface Few {
  names: readonly string[];
  /** What asks for one of these is theirs alone. */
  skills: ReadonlySet<string>;
  /** Theirs together, Monday first. */
  minutes: readonly number[];
}

const WEEKDAYS = [0, 1, 2, 3, 4, 5, 6];

/**
 * Who works here, for how many minutes of each weekday, and what only some may do. Several may share the minutes of a batch.
 * So all batches of a day can be made if and only if, whomever one picks, what only those may do takes no more than their
 * minutes (P. Hall, 1935; with minutes for matches, D. Gale, 1957). Everybody is one such pick; the others that can make a
 * difference are listed.
 */
export class Crew {
  readonly few: readonly Few[];
  /** Those too in whom nobody has anything in common with some others. */
  readonly everyFew: readonly Few[];

  /** `skills`: those that anything asks for. */
  constructor(
    private readonly people: readonly SnapshotPerson[],
    skills: ReadonlySet<string>,
  ) {
    const holders = [...skills].map((skill) => holdersOf(people, skill));
    const fewOf = (pick: bigint): Few => fewFrom(people, skills, pick);
    const picks = picksOf(people, holders);
    this.everyFew = picks.map(fewOf);
    this.few = picks.filter((pick) => isOnePiece(pick, holders)).map(fewOf);
  }

  /** What everybody has on a day that is not closed. */
  minutesOn(day: Day): number {
    return minutesOf(this.people, weekdayOf(day));
  }

  /** Those whose minutes a skill takes, beside everybody's. */
  fewFor(skill: string | undefined): readonly Few[] {
    return this.few.filter((few) => isTheirs(few, skill));
  }

  /** The most minutes a weekday has of those who may do it. */
  longestDay(skill?: string): number {
    const who = this.people.filter(({ skills }) => skill === undefined || skills.includes(skill));
    return Math.max(...WEEKDAYS.map((weekday) => minutesOf(who, weekday)));
  }
}

/** Whether none but these may do what asks for that. */
export const isTheirs = ({ skills }: Few, skill: string | undefined): boolean =>
  skill !== undefined && skills.has(skill);

/** Null where nobody is said, so that anybody may do anything in the workshop's own minutes. */
export function crewOf({ people = [], formulas, making }: Snapshot): Crew | null {
  if (people.length === 0) return null;
  const asked = [...formulas, ...making].flatMap(({ skill }) => skill ?? []);
  return new Crew(people, new Set(asked));
}

/** Minutes of a day: everybody's, or those of `few`. */
export function minutesOpen(
  { openMinutes }: { openMinutes: (day: Day) => number },
  day: Day,
  few?: Pick<Few, 'minutes'>,
): number {
  const open = openMinutes(day);
  return few && open > 0 ? few.minutes[weekdayOf(day)]! : open;
}

const minutesOf = (people: readonly SnapshotPerson[], weekday: number): number =>
  people.reduce((sum, { minutes }) => sum + minutes[weekday]!, 0);

/** All who may do one thing or another, for as many things as there are, but everybody: each pick once, a bit for each person. */
function picksOf(people: readonly SnapshotPerson[], holders: readonly bigint[]): bigint[] {
  const picks = new Set<bigint>();
  for (const who of holders) for (const pick of [0n, ...picks]) picks.add(pick | who);
  picks.delete((1n << BigInt(people.length)) - 1n);
  return [...picks].sort((a, b) => (a < b ? -1 : 1));
}

const holdersOf = (people: readonly SnapshotPerson[], skill: string): bigint =>
  people.reduce((who, { skills }, at) => (skills.includes(skill) ? who | (1n << BigInt(at)) : who), 0n);

const isWithin = (who: bigint, pick: bigint): boolean => (who & ~pick) === 0n;

/** What falls apart into picks that have nobody in common says nothing more than each of these. */
function isOnePiece(pick: bigint, holders: readonly bigint[]): boolean {
  const within = holders.filter((who) => who !== 0n && isWithin(who, pick));
  let piece = within[0] ?? 0n;
  for (let before = 0n; before !== piece;) {
    before = piece;
    for (const who of within) if ((who & piece) !== 0n) piece |= who;
  }
  return piece === pick;
}

/** What nobody may do is asked of nobody. */
function fewFrom(people: readonly SnapshotPerson[], skills: ReadonlySet<string>, pick: bigint): Few {
  const who = people.filter((_, at) => (pick & (1n << BigInt(at))) !== 0n);
  const theirs = [...skills].filter((skill) => {
    const holders = holdersOf(people, skill);
    return isWithin(holders, pick) && (holders !== 0n || pick === 0n);
  });
  return {
    names: who.map(({ name }) => name),
    skills: new Set(theirs),
    minutes: WEEKDAYS.map((weekday) => minutesOf(who, weekday)),
  };
}
