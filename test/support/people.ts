import { addDays } from '../../src/kernel/measure/day.js';
import type { Snapshot, SnapshotPerson } from '../../src/kernel/plan/snapshot.js';
import { seeded } from './workshop.js';

/** Somebody with as many minutes on each weekday, but on those where another number is said, Monday being 0. */
export const person = (
  name: string,
  minutes: number,
  skills: string[] = [],
  but: Record<number, number> = {},
): SnapshotPerson => ({ name, minutes: [0, 1, 2, 3, 4, 5, 6].map((at) => but[at] ?? minutes), skills });

const NAMES = ['Ada', 'Bea', 'Cleo', 'Dora', 'Enid'];
const SKILLS = ['lye', 'hot wax', 'solvents', 'cutting'];

/** The workshop with some who work there, what only some may do, and batches in the making that ask for it. */
export function withRandomPeople(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed + 3_000_017);
  const between = (low: number, high: number): number => low + pick(high - low + 1);
  const many = between(1, NAMES.length);
  const skills = SKILLS.slice(0, between(1, SKILLS.length));
  const people = NAMES.slice(0, many).map((name): SnapshotPerson => ({
    name,
    minutes: [0, 1, 2, 3, 4, 5, 6].map((at) => (at === 6 || pick(4) === 0 ? 0 : between(60, 900 / many + 120))),
    skills: skills.filter(() => pick(2) === 0),
  }));
  const skill = () => (pick(5) < 2 ? {} : { skill: skills[pick(skills.length)]! });
  const formulas = shop.formulas.map((formula) => ({ ...formula, ...skill() }));
  const making = shop.making.map((row) => ({ ...row, ...skill() }));
  for (let n = between(0, 6); n > 0; n--) {
    const day = addDays(shop.today, between(0, 12));
    making.push({
      code: `WAITS-${n}`,
      item: formulas[pick(formulas.length)]!.item,
      free: 0,
      day,
      readyOn: day,
      emptiedOn: day,
      vessel: null,
      minutes: between(5, 120),
      expiresOn: null,
      ...skill(),
    });
  }
  return { ...shop, people, formulas, making };
}
