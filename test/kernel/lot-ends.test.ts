import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptBy, attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { beforeLotsEnd } from '../../src/kernel/plan/lot-ends.js';
import type { Guide } from '../../src/kernel/plan/schedule-job.js';
import type { Snapshot, SnapshotLot } from '../../src/kernel/plan/snapshot.js';
import { beingMade, bulk, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const ALL_DAY = { minutesBatch: 480 };

/** Candles A and B take wax, and a tin does not. Each batch takes all day at the bench. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [...['WAX', 'LID'].map(counted), ...['A', 'B', 'TIN'].map((code) => product(code))],
    formulas: [
      ...['A', 'B'].map((of) => formula(of, [line(1, 'WAX', 'each', 1)], ALL_DAY)),
      formula('TIN', [line(1, 'LID', 'each', 1)], ALL_DAY),
    ],
    lines: [ordered('a', 'A', 4, 20)],
    ...rest,
  });
/** What ends is worth something. */
const ends = (code: string, on: number, free: number, of = 'WAX'): SnapshotLot => ({
  ...lot(code, of, free, on),
  valueE4: 10 * free,
});
const plenty = ['WAX', 'LID'].map((code) => lot(`NEW-${code}`, code, 999));

/** The days of batches as they are due, or by a guide, and then before lots end; what that took; the lots they take of. */
function made(of: Snapshot, guideOf: (guide: Guide) => Guide = (guide) => guide, stepsLeft = 10_000) {
  const { model, netted } = netOf(of);
  const asDue = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  const attempt = attemptBy(model, asDue, asDue.scheduler, guideOf(asDue.guide));
  const work = { stepsLeft };
  const best = beforeLotsEnd(model, attempt, work);
  const daysOf = ({ placed }: typeof best) =>
    Object.fromEntries(netted.jobs.map((job) => [job.item.code, placed.get(job)!.day! - model.start]));
  const lots = [...best.shelf.inputs.values()].flatMap(({ taken }) => taken.map(({ key }) => key));
  return { before: daysOf(attempt), days: daysOf(best), steps: stepsLeft - work.stepsLeft, lots: lots.sort() };
}

describe('what would use a lot that ends', () => {
  it('is made before that', () => {
    expect(made(shop({ lots: [ends('OLD', 2, 4), ...plenty] }))).toEqual({
      before: { A: 20 },
      days: { A: 0 },
      steps: 1,
      lots: ['OLD'],
    });
  });

  it('stays where nothing ends, or it is made by the last day of a lot', () => {
    const as = (on: number) => ({ before: { A: on }, days: { A: on }, steps: 0 });
    expect(made(shop({ lots: plenty }))).toMatchObject(as(20));
    const lots = [ends('OLD', 2, 4), ends('OLDER', 5, 8), ...plenty];
    const lines = (due: number) => [ordered('a', 'A', 4, due), ordered('later', 'TIN', 1, 40)];
    expect(made(shop({ lots, lines: lines(4) }))).toMatchObject({ days: { A: 4, TIN: 40 }, steps: 0 });
    expect(made(shop({ lots, lines: lines(5) }))).toMatchObject({ days: { A: 5, TIN: 40 }, steps: 0 });
    expect(made(shop({ lots, lines: lines(6) }))).toMatchObject({ days: { A: 0, TIN: 40 } });
    // the order in which lots are named says nothing
    const turned = lots.map((one) => ({ ...one, code: one.code === 'OLD' ? 'Z' : one.code }));
    expect(made(shop({ lots: turned, lines: lines(4) }))).toMatchObject({ steps: 0 });
  });

  it('is made with all others at once', () => {
    const lines = [ordered('a', 'A', 4, 20), ordered('b', 'B', 4, 20), ordered('tin', 'TIN', 4, 30)];
    expect(made(shop({ lots: [ends('OLD', 1, 8), ...plenty], lines }))).toEqual({
      before: { A: 20, B: 19, TIN: 30 },
      days: { A: 0, B: 1, TIN: 30 },
      steps: 3,
      lots: ['NEW-LID', 'OLD', 'OLD'],
    });
  });

  it('is made alone where all at once would keep another from its day', () => {
    const lines = [ordered('tin', 'TIN', 4, 1), ordered('a', 'A', 4, 20), ordered('b', 'B', 4, 20)];
    const of = shop({ lots: [ends('OLD', 1, 4), ...plenty], lines });
    const days = { A: 0, B: 20, TIN: 1 };
    expect(made(of)).toMatchObject({ days, steps: 3 * 3 });
    // the steps do for all at once and for the first of them
    expect(made(of, undefined, 3 * 2)).toMatchObject({ days, steps: 3 * 2 });
  });

  it('goes before what is early already, and waits for nothing', () => {
    const lines = [ordered('tin', 'TIN', 4, 10), ordered('a', 'A', 4, 20)];
    const of = shop({ lots: [ends('OLD', 0, 4), ...plenty], lines });
    const early = (guide: Guide): Guide => ({ ...guide, early: [false, true], waits: [3, 0] });
    expect(made(of, early)).toMatchObject({ before: { A: 20, TIN: 0 }, days: { A: 0, TIN: 1 }, steps: 2 });
  });

  it('is made with what it draws from', () => {
    const of = openShop({
      items: [...['WAX', 'LID'].map(counted), bulk('BULK'), product('FILL')],
      formulas: [
        formula('BULK', [line(1, 'LID', 'each', 1)]),
        formula('FILL', [line(1, 'BULK', 'each', 1), line(2, 'WAX', 'each', 1)]),
      ],
      lots: [ends('OLD', 2, 4), ...plenty],
      lines: [ordered('fill', 'FILL', 4, 20)],
    });
    expect(made(of)).toMatchObject({ before: { BULK: 20, FILL: 20 }, days: { BULK: 0, FILL: 0 }, steps: 2 });
    // of what is made for it there is no lot to use
    const ofBulk = { ...of, lots: [ends('OLD', 2, 4, 'BULK'), ...plenty] };
    expect(made(ofBulk)).toMatchObject({ days: { BULK: 20, FILL: 20 }, steps: 0 });
  });

  it('is not what cannot be made at all', () => {
    const of = shop({ lots: [ends('OLD', 2, 4), ...plenty.slice(0, 1)] });
    of.formulas[0]!.lines.push(line(2, 'LID', 'each', 1));
    expect(made(of)).toMatchObject({ days: { A: 20 }, steps: 0 });
  });
});

describe('where there is no room before a lot ends', () => {
  const full = [0, 1].map((n) => beingMade('TIN', 0, n, { code: `M-${n}`, day: day(n), minutes: 480 }));
  const of = shop({
    lots: [ends('OLD', 1, 4), ...plenty],
    lines: [ordered('a', 'A', 4, 20), ordered('tin', 'TIN', 4, 30)],
    making: full,
  });

  it('a hundred other orders are tried, after all at once and each alone', () => {
    expect(made(of).steps).toBe(2 * (1 + 1 + 100));
  });

  it('no more is tried than there are steps', () => {
    const used = [1, 2, 3, 4, 5, 6].map((stepsLeft) => made(of, undefined, stepsLeft).steps);
    expect(used).toEqual([0, 2, 2, 4, 4, 6]);
  });
});
