import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotPerson } from '../../src/kernel/plan/snapshot.js';

/*
 * Whether those who work on a day can do its batches: minutes are given to people one path after the other, as a flow from
 * work to those who may do it (L. R. Ford and D. R. Fulkerson, 1956). Nothing here comes from the planner but its answer.
 */

const MS_A_DAY = 86_400_000;
const dayOf = (iso: string): number => Date.parse(`${iso}T00:00:00Z`) / MS_A_DAY;
/** 1 January 1970 was a Thursday; Monday is 0. */
const weekday = (day: number): number => (((day + 3) % 7) + 7) % 7;

/** Minutes of one day that ask for one skill, or for none. */
interface Work {
  skill: string | undefined;
  minutes: number;
}

const mayDo = ({ skills }: SnapshotPerson, skill: string | undefined): boolean =>
  skill === undefined || skills.includes(skill);

const isClosed = ({ workshop }: Snapshot, day: number): boolean =>
  workshop.closedDays.some((one) => dayOf(one) === day);

const hoursOf = (shop: Snapshot, person: SnapshotPerson, day: number): number =>
  isClosed(shop, day) ? 0 : person.minutes[weekday(day)]!;

/** What everybody has together on a day; undefined where nobody is said. */
export function peoplesMinutes(shop: Snapshot, day: number): number | undefined {
  return shop.people?.reduce((sum, person) => sum + hoursOf(shop, person, day), 0);
}

/** The most minutes a weekday has of those who may do it. */
export function longestOf(shop: Snapshot, skill?: string): number {
  if (!shop.people) return Math.max(...shop.workshop.benchMinutes);
  const able = shop.people.filter((person) => mayDo(person, skill));
  return Math.max(...[0, 1, 2, 3, 4, 5, 6].map((at) => able.reduce((sum, { minutes }) => sum + minutes[at]!, 0)));
}

/** How many minutes of some work can be done on a day. */
export function doable(shop: Snapshot, day: number, work: readonly Work[]): number {
  const people = shop.people!;
  const toDo = work.map(({ minutes }) => minutes);
  const free = people.map((person) => hoursOf(shop, person, day));
  const does = work.map(() => people.map(() => 0));
  let done = 0;
  for (let moved = 1; moved > 0; done += moved) {
    moved = 0;
    for (let of = 0; of < work.length && moved === 0; of++) if (toDo[of]! > 0) moved = giveOn(of, toDo[of]!, new Set());
  }
  return done;

  /** Gives up to so many minutes of some work to whoever is free, others handing theirs on where they must. */
  function giveOn(of: number, most: number, asked: Set<number>): number {
    for (const [who, person] of people.entries()) {
      if (asked.has(who) || !mayDo(person, work[of]!.skill)) continue;
      asked.add(who);
      let given = Math.min(most, free[who]!);
      if (given > 0) free[who]! -= given;
      for (let other = 0; other < work.length && given === 0; other++) {
        const held = does[other]![who]!;
        if (other === of || held === 0) continue;
        given = giveOn(other, Math.min(most, held), asked);
        does[other]![who]! -= given;
        // what was handed on is not to do again
        toDo[other]! += given;
      }
      if (given === 0) continue;
      does[of]![who]! += given;
      toDo[of]! -= given;
      return given;
    }
    return 0;
  }
}

interface OnDay {
  before: Work[];
  planned: Work[];
}

function workByDay(shop: Snapshot, plan: Proposal): Map<number, OnDay> {
  const days = new Map<number, OnDay>();
  const add = (day: string, as: keyof OnDay, work: Work): void => {
    const at = dayOf(day);
    const on = days.get(at) ?? { before: [], planned: [] };
    days.set(at, on);
    on[as].push(work);
  };
  for (const { day, minutes, skill } of shop.making) add(day, 'before', { minutes, skill });
  for (const { day, minutes, item } of plan.batches)
    if (day !== null) add(day, 'planned', { minutes, skill: skillOf(shop, item) });
  for (const { day, more, batch } of plan.rewashed ?? [])
    add(day, 'planned', { minutes: more, skill: shop.making.find(({ code }) => code === batch)!.skill });
  return days;
}

const skillOf = (shop: Snapshot, item: string): string | undefined =>
  shop.formulas.find((row) => row.item === item)!.skill;

/** Sentences that say which batches nobody can do on their day, or who could do what is said to wait for them. */
export function peopleFaults(shop: Snapshot, plan: Proposal): string[] {
  if (!shop.people) return [];
  const faults: string[] = [];
  const days = workByDay(shop, plan);
  for (const [day, { before, planned }] of days) {
    const wanted = planned.reduce((sum, { minutes }) => sum + minutes, 0);
    // what is in the making may be more than can be done; a plan adds nothing to that
    const added = doable(shop, day, [...before, ...planned]) - doable(shop, day, before);
    if (added < wanted) faults.push(`of ${wanted} minutes on day ${day} only ${added} can be done by who may`);
  }
  for (const { key, item, day, minutes, heldUpBy } of plan.batches) {
    const skill = skillOf(shop, item);
    const longest = longestOf(shop, skill);
    if (day !== null && !shop.people.some((one) => mayDo(one, skill) && hoursOf(shop, one, dayOf(day)) > 0))
      faults.push(`${key} is on ${day}, and nobody is there who may make it`);
    if (heldUpBy === 'nobody-may' && longest > 0) faults.push(`${key} says that nobody may make it, and some may`);
    if (heldUpBy === 'skill-short' && minutes <= longest)
      faults.push(`${key} says it takes too long for who may make it, whose longest day has ${longest} minutes`);
    if (heldUpBy?.startsWith('skill') && skill === undefined) faults.push(`${key} says ${heldUpBy}, and anybody may`);
  }
  return faults;
}

/** Whether a batch could be done on a day beside all that the plan has there. */
export function hasPeopleFor(shop: Snapshot, plan: Proposal, day: number, batch: { item: string; minutes: number }) {
  const { before, planned } = workByDay(shop, plan).get(day) ?? { before: [], planned: [] };
  const work = { minutes: batch.minutes, skill: skillOf(shop, batch.item) };
  const there = shop.people!.some((one) => mayDo(one, work.skill) && hoursOf(shop, one, day) > 0);
  return (
    there &&
    doable(shop, day, [...before, ...planned, work]) - doable(shop, day, [...before, ...planned]) === batch.minutes
  );
}
