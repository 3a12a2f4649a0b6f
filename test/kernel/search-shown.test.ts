import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { goSoonest, isBestPossible, searchGuide } from '../../src/kernel/plan/search.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { bulk, comes, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { wash, washingBy } from '../support/washing.js';
import { formula, line } from '../support/workshop.js';

/** A and B take a cap each and all day at the bench; A takes a lid too. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [...['CAP', 'LID'].map(counted), ...['A', 'B'].map((code) => product(code))],
    formulas: [
      formula('A', [line(1, 'CAP', 'each', 1), line(2, 'LID', 'each', 1)], { minutesBatch: 480 }),
      formula('B', [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 }),
    ],
    lots: [lot('CAPS', 'CAP', 99), lot('LIDS', 'LID', 99)],
    ...rest,
  });

function asDue(of: Snapshot) {
  const { model, netted } = netOf(of);
  const attempt = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  const daysBy = (guide: typeof attempt.guide) =>
    Object.fromEntries(
      attempt.scheduler.place(guide).map((placed, i) => [netted.jobs[i]!.item.code, placed.day! - model.start]),
    );
  return { model, attempt, daysBy };
}

function searched(of: Snapshot, stepsLeft: number) {
  const { model, attempt, daysBy } = asDue(of);
  const work = { stepsLeft, ordersAPair: 360 };
  const guide = searchGuide(model, attempt, work);
  return { before: daysBy(attempt.guide), days: guide && daysBy(guide), steps: stepsLeft - work.stepsLeft };
}

const shownOn = (...pours: [string, number][]): Partial<Snapshot> => ({
  shown: { pours: pours.map(([of, on]) => ({ key: of, item: of, day: day(on), vessel: null, output: 1 })) },
});

describe('the search for a better order, where a plan was shown', () => {
  const lines = [ordered('a', 'A', 1, 5), ordered('b', 'B', 1, 5)];

  it('takes what was shown after one try, where all are in time by it', () => {
    const of = shop({ lines, ...shownOn(['A', 1], ['B', 3]) });
    expect(searched(of, 99)).toEqual({ before: { A: 5, B: 4 }, days: { A: 1, B: 3 }, steps: 4 });
    expect(searched(of, 4)).toMatchObject({ days: { A: 1, B: 3 }, steps: 4 });
  });

  it('does not try it without the steps', () => {
    expect(searched(shop({ lines, ...shownOn(['A', 1], ['B', 3]) }), 3)).toMatchObject({ days: null, steps: 2 });
  });

  it('does not make anybody late for it', () => {
    const of = shop({ lines, ...shownOn(['A', 9]) });
    expect(searched(of, 40)).toEqual({ before: { A: 5, B: 4 }, days: null, steps: 40 });
  });
});

it('gives what is there before a delivery to who is in time with it', () => {
  // A is due first and would take the cap, but has its lid on day 5 only; B would then wait for the caps of day 6
  const of = shop({
    lots: [lot('ONE', 'CAP', 1)],
    deliveries: [comes('CAPS', 'CAP', 1, 6), comes('LIDS', 'LID', 1, 5)],
    lines: [ordered('a', 'A', 1, 3), ordered('b', 'B', 1, 4)],
  });
  expect(searched(of, 400)).toMatchObject({ before: { A: 5, B: 6 }, days: { A: 6, B: 4 } });
});

describe('a plan is not the best there is', () => {
  const best = (of: Snapshot) => {
    const { model, attempt } = asDue(of);
    return [goSoonest(model, attempt), isBestPossible(model, attempt)];
  };
  const lines = [ordered('a', 'A', 1, 5)];

  it('where something is not where it was shown', () => {
    expect(best(shop({ lines }))).toEqual([true, true]);
    expect(best(shop({ lines, ...shownOn(['A', 5]) }))).toEqual([true, true]);
    expect(best(shop({ lines, ...shownOn(['A', 3]) }))).toEqual([true, false]);
  });

  it('where something is washed', () => {
    const poured = (held: string) =>
      openShop({
        items: [counted('OIL'), bulk('MINT'), bulk('SMOKE')],
        formulas: [formula('MINT', [line(1, 'OIL', 'each', 1)], { vesselKind: 'jug' })],
        vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 99_000 }],
        lots: [lot('OIL', 'OIL', 99)],
        lines: [ordered('m', 'MINT', 1, 5)],
        washing: washingBy(
          [wash('heavy', 'light', 30)],
          { MINT: 'light', SMOKE: 'heavy' },
          {
            held: [{ vessel: 'JUG', item: held }],
          },
        ),
      });
    expect(best(poured('MINT'))).toEqual([true, true]);
    expect(best(poured('SMOKE'))).toEqual([true, false]);
  });
});
