import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { Crew, crewOf, isTheirs, minutesOpen } from '../../src/kernel/plan/crew.js';
import type { SnapshotPerson } from '../../src/kernel/plan/snapshot.js';
import { formula, emptyWorkshop, seeded } from '../support/workshop.js';
import { doable } from '../support/people-checker.js';
import { person } from '../support/people.js';
import { runs } from '../support/scale.js';

const MONDAY = dayOf('2027-01-04');
const crew = (people: SnapshotPerson[], ...skills: string[]) => new Crew(people, new Set(skills));
const told = ({ few }: Crew) => few.map(({ names, skills, minutes }) => [names, [...skills], minutes[0]]);

describe('those who alone may do something', () => {
  it('are nobody where anything may be done by all', () => {
    expect(told(crew([person('Ada', 100, ['lye']), person('Bea', 50, ['lye'])], 'lye'))).toEqual([]);
    expect(told(crew([person('Ada', 100, ['lye']), person('Bea', 50)]))).toEqual([]);
  });

  it('are those who have a skill, and those who have one or another', () => {
    const people = [person('Ada', 100, ['lye', 'wax']), person('Bea', 50, ['wax', 'cut']), person('Cleo', 25)];
    expect(told(crew(people, 'lye', 'wax'))).toEqual([
      [['Ada'], ['lye'], 100],
      [['Ada', 'Bea'], ['lye', 'wax'], 150],
    ]);
    expect(told(crew(people, 'lye', 'cut'))).toEqual([
      [['Ada'], ['lye'], 100],
      [['Bea'], ['cut'], 50],
    ]);
  });

  it('have not to be looked at together where they have nobody in common, but as everybody who lacks minutes', () => {
    const apart = crew([person('Ada', 100, ['lye']), person('Bea', 50, ['cut']), person('Cleo', 25)], 'lye', 'cut');
    expect(apart.everyFew.map(({ names }) => names)).toEqual([['Ada'], ['Bea'], ['Ada', 'Bea']]);
  });

  it('are none at all for what nobody may do, which is not asked of others', () => {
    const people = [person('Ada', 100, ['lye']), person('Bea', 50)];
    expect(told(crew(people, 'lye', 'gold'))).toEqual([
      [[], ['gold'], 0],
      [['Ada'], ['lye'], 100],
    ]);
    expect(crew(people, 'gold').longestDay('gold')).toBe(0);
  });
});

it('counts the minutes of a weekday, of all and of those who may', () => {
  const people = [person('Ada', 100, ['lye'], { 3: 240, 6: 0 }), person('Bea', 200, [], { 0: 60, 6: 0 })];
  const both = crew(people, 'lye');
  expect([0, 1, 3, 6].map((n) => both.minutesOn(MONDAY + n))).toEqual([160, 300, 440, 0]);
  expect([both.longestDay(), both.longestDay('lye')]).toEqual([440, 240]);
  const open = { openMinutes: (day: number) => (day === MONDAY ? 0 : both.minutesOn(day)) };
  expect(minutesOpen(open, MONDAY, both.few[0])).toBe(0);
  expect(minutesOpen(open, MONDAY + 3, both.few[0])).toBe(240);
  expect(minutesOpen(open, MONDAY + 3)).toBe(440);
});

it('is nobody where nobody is said, and asks for what formulas and batches in the making ask for', () => {
  const shop = emptyWorkshop({ formulas: [formula('SOAP', [], { skill: 'lye' }), formula('CARD', [])] });
  expect(crewOf(shop)).toBeNull();
  expect(crewOf({ ...shop, people: [] })).toBeNull();
  const people = [person('Ada', 100, ['lye', 'wax']), person('Bea', 50)];
  expect(told(crewOf({ ...shop, people })!)).toEqual([[['Ada'], ['lye'], 100]]);
  const making = {
    code: 'B1',
    item: 'CARD',
    free: 0,
    day: shop.today,
    readyOn: shop.today,
    emptiedOn: shop.today,
    vessel: null,
    minutes: 5,
    expiresOn: null,
    skill: 'wax',
  };
  expect(told(crewOf({ ...shop, people, making: [making] })!)).toEqual([[['Ada'], ['lye', 'wax'], 100]]);
});

it('says of any work whether it can be done in a day, as giving it out one minute after the other does', () => {
  let [fits, fitsNot, needsUnion] = [0, 0, 0];
  for (let seed = 1; seed <= runs(3_000, 60_000); seed++) {
    const pick = seeded(seed);
    const skills = ['a', 'b', 'c', 'd', 'e'].slice(0, 1 + pick(5));
    const people = Array.from({ length: 1 + pick(5) }, (_, n) =>
      person(
        `P${n}`,
        pick(4) === 0 ? 0 : pick(60),
        skills.filter(() => pick(2) === 0),
      ),
    );
    const work = Array.from({ length: 1 + pick(5) }, () => ({
      skill: pick(4) === 0 ? undefined : skills[pick(skills.length)],
      minutes: pick(45),
    }));
    const shop = emptyWorkshop({ people });
    const asked = work.reduce((sum, { minutes }) => sum + minutes, 0);
    const isDoable = doable(shop, MONDAY, work) === asked;
    const all = new Crew(people, new Set(skills));
    const minutesFor = (few: (typeof all.few)[number]) =>
      work.reduce((sum, { skill, minutes }) => sum + (isTheirs(few, skill) ? minutes : 0), 0);
    const tooFew = all.few.filter((few) => minutesFor(few) > few.minutes[0]!);
    expect([seed, asked <= all.minutesOn(MONDAY) && tooFew.length === 0]).toEqual([seed, isDoable]);
    if (isDoable) fits++;
    else fitsNot++;
    if (tooFew.length > 0 && tooFew.every(({ skills: theirs }) => theirs.size > 1)) needsUnion++;
  }
  for (const cases of [fits, fitsNot, needsUnion]) expect(cases).toBeGreaterThan(10);
});
