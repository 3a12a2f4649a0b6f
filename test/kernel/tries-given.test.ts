import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { type Attempt, attemptAsDue } from '../../src/kernel/plan/attempt.js';
import type { Job } from '../../src/kernel/plan/job.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { asGiven } from '../../src/kernel/plan/tries.js';
import { comes, counted, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** A spray and a stick take a cap, a mist a bottle, and each batch all day at the bench. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [counted('CAP'), counted('BOTTLE'), ...['SPRAY', 'STICK', 'MIST'].map((code) => product(code))],
    formulas: [
      ...['SPRAY', 'STICK'].map((of) => formula(of, [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 })),
      formula('MIST', [line(1, 'BOTTLE', 'each', 1)], { minutesBatch: 480 }),
    ],
    lines: [ordered('spray', 'SPRAY', 4, 2)],
    ...rest,
  });

/** Each batch waits so many days; null: for what it can expect. */
function waiting(of: Snapshot, days: (job: Job) => number | null) {
  const { model, netted } = netOf(of);
  const arrived = new Map(
    [...arrivals(model, netted)].map(([job, arrival]) => {
      const wait = days(job);
      return [job, wait === null ? arrival : { ...arrival, earliest: model.start + wait }];
    }),
  );
  const attempt = attemptAsDue(model, { netted, last: new Set(), arrived });
  const daysOf = ({ placed }: Attempt) =>
    Object.fromEntries(netted.jobs.map((job) => [job.key, (placed.get(job)!.day ?? Infinity) - model.start]));
  const given = (stepsLeft = 100) => {
    const budget = { stepsLeft };
    const best = asGiven(model, attempt, budget);
    return { days: daysOf(best), steps: stepsLeft - budget.stepsLeft, isSame: best === attempt };
  };
  return { before: daysOf(attempt), given };
}

describe('what waits for what it was not given', () => {
  const caps = { lots: [lot('C', 'CAP', 4)] };

  it('is made of what is there for it', () => {
    const { before, given } = waiting(shop(caps), () => 5);
    expect(before).toEqual({ 'SPRAY/1': 5 });
    expect(given()).toEqual({ days: { 'SPRAY/1': 2 }, steps: 1, isSame: false });
  });

  it('stays where it waits for what it was given, or is in time all the same', () => {
    const same = { steps: 0, isSame: true };
    const delivered = waiting(shop({ deliveries: [comes('D', 'CAP', 4, 6)] }), () => null);
    expect(delivered.given()).toEqual({ days: { 'SPRAY/1': 6 }, ...same });
    const inTime = waiting(shop({ ...caps, lines: [ordered('spray', 'SPRAY', 4, 9)] }), () => 5);
    expect(inTime.given()).toEqual({ days: { 'SPRAY/1': 9 }, ...same });
  });

  it('waits for what it lacks and is still to come', () => {
    const { before, given } = waiting(shop({ deliveries: [comes('D', 'CAP', 4, 6)] }), () => 0);
    expect(before).toEqual({ 'SPRAY/1': 2 });
    expect(given()).toEqual({ days: { 'SPRAY/1': 6 }, steps: 1, isSame: false });
  });

  it('costs a step for each batch, and stays where there are fewer', () => {
    const { given } = waiting(shop(caps), () => 5);
    expect(given(1)).toMatchObject({ days: { 'SPRAY/1': 2 }, steps: 1 });
    expect(given(0)).toEqual({ days: { 'SPRAY/1': 5 }, steps: 0, isSame: true });
  });

  it('stays where others would be served worse for it', () => {
    // the mist is placed before the spray, which then had to wait until tomorrow
    const lines = [ordered('mist', 'MIST', 4, 0), { ...ordered('spray', 'SPRAY', 4, 0), weight: 5 }];
    const both = shop({ lots: [...caps.lots, lot('B', 'BOTTLE', 4)], lines });
    const { before, given } = waiting(both, ({ item }) => (item.code === 'MIST' ? 1 : 0));
    expect(before).toEqual({ 'MIST/1': 1, 'SPRAY/1': 0 });
    expect(given()).toEqual({ days: before, steps: 2, isSame: true });
  });

  it('stays where that serves others worse, while what lacks something waits for it', () => {
    const lines = [
      ordered('mist', 'MIST', 4, 0),
      { ...ordered('spray', 'SPRAY', 4, 0), urgent: true },
      ordered('stick', 'STICK', 4, 3),
    ];
    const lots = [...caps.lots, lot('B', 'BOTTLE', 4)];
    const all = shop({ lots, deliveries: [comes('D', 'CAP', 4, 6)], lines });
    const { before, given } = waiting(all, ({ item }) => (item.code === 'MIST' ? 1 : 0));
    expect(before).toEqual({ 'MIST/1': 1, 'SPRAY/1': 0, 'STICK/1': 3 });
    // all three at once, those that lack something, and then the mist alone again
    expect(given()).toEqual({ days: { 'MIST/1': 1, 'SPRAY/1': 0, 'STICK/1': 6 }, steps: 9, isSame: false });
  });
});
