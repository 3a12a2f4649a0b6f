import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { minutesTaken, minutesTakenByFew } from '../../src/kernel/plan/minutes-taken.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import type { SnapshotPerson } from '../../src/kernel/plan/snapshot.js';
import { beingMade, day, openShop, product } from '../support/open-shop.js';
import { person } from '../support/people.js';

/** Of Monday 30 and 20 minutes are taken, of Tuesday 10; the 20 are what only Ada may do. */
const modelOf = (people: SnapshotPerson[]) =>
  buildModel(
    openShop({
      items: [product('A')],
      people,
      making: [
        beingMade('A', 1, 5, { code: 'M1', day: day(0), minutes: 30 }),
        beingMade('A', 1, 5, { code: 'M2', day: day(0), minutes: 20, skill: 'lye' }),
        beingMade('A', 1, 5, { code: 'M3', day: day(1), minutes: 10, skill: 'cut' }),
      ],
    }),
  );

describe('minutes that batches in the making have', () => {
  it('are added up by day', () => {
    const taken = [...minutesTaken(modelOf([]))];
    expect(taken).toEqual([
      [dayOf(day(0)), 50],
      [dayOf(day(1)), 10],
    ]);
    expect(minutesTakenByFew(modelOf([])).size).toBe(0);
  });

  it('are theirs who alone may make them', () => {
    const byFew = minutesTakenByFew(modelOf([person('Ada', 100, ['lye', 'cut']), person('Bea', 100, ['cut'])]));
    expect([...byFew].map(([{ names }, taken]) => [names, [...taken]])).toEqual([[['Ada'], [[dayOf(day(0)), 20]]]]);
  });
});
