import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { Figures } from '../../src/kernel/plan/random.js';
import type { Guide } from '../../src/kernel/plan/schedule-job.js';
import { changedFor, goSoonest, isBestPossible, searchGuide } from '../../src/kernel/plan/search.js';
import type { Snapshot, SnapshotLot } from '../../src/kernel/plan/snapshot.js';
import { bulk, comes, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** Answers as it is told, and remembers below what it was asked to. */
class Told extends Figures {
  readonly asked: number[] = [];
  constructor(private readonly answers: readonly number[]) {
    super();
  }
  override below(below: number): number {
    return this.answers[this.asked.push(below) - 1]!;
  }
}

function asDue(of: Snapshot) {
  const { model, netted } = netOf(of);
  const attempt = attemptAsDue(model, { netted, last: new Set(), arrived: arrivals(model, netted) });
  const days = (guide: Guide | null) =>
    guide &&
    Object.fromEntries(
      attempt.scheduler.place(guide).map((placed, i) => [netted.jobs[i]!.item.code, placed.day! - model.start]),
    );
  return { model, netted, attempt, days };
}

describe('one thing that is changed', () => {
  /** Four batches: a tin, a plain, and a filling of a bulk that stands in its jug. */
  const { attempt, netted } = asDue(
    openShop({
      items: [counted('CAP'), bulk('BULK'), ...['FILL', 'PLAIN', 'TIN'].map((code) => product(code))],
      formulas: [
        formula('BULK', [line(1, 'CAP', 'each', 1)], { vesselKind: 'jug' }),
        formula('FILL', [line(1, 'BULK', 'each', 1)]),
        ...['PLAIN', 'TIN'].map((of) => formula(of, [line(1, 'CAP', 'each', 1)])),
      ],
      vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 99_000 }],
      lots: [lot('CAPS', 'CAP', 99)],
      lines: [ordered('f', 'FILL', 1, 4), ordered('p', 'PLAIN', 1, 2), ordered('t', 'TIN', 1, 3)],
    }),
  );
  const at = (code: string): number => netted.jobs.findIndex((job) => job.item.code === code);
  const [FILL, PLAIN, TIN, BULK] = ['FILL', 'PLAIN', 'TIN', 'BULK'].map(at) as [number, number, number, number];
  const guide: Guide = {
    ...attempt.guide,
    order: [PLAIN, TIN, FILL, BULK],
    waits: [5, 5, 5, 5],
    leaves: [0, 0, 0, 0],
    early: [false, false, false, false],
  };
  const changed = (wanted: number, answers: number[]) => {
    const figures = new Told(answers);
    const { order, early, waits, leaves } = changedFor({ ...attempt, guide }, wanted, figures);
    const named = (list: readonly unknown[]) => [FILL, PLAIN, TIN, BULK].map((job) => list[job]);
    return {
      order: order.map((job) => netted.jobs[job]!.item.code),
      early: named(early),
      waits: named(waits),
      leaves: named(leaves),
      asked: figures.asked,
    };
  };
  const none = [false, false, false, false];
  const asIs = { order: ['PLAIN', 'TIN', 'FILL', 'BULK'], early: none, waits: [5, 5, 5, 5], leaves: [0, 0, 0, 0] };

  it.each([0, 1])('is that a batch goes earlier in the order, and early', (kind) => {
    expect(changed(TIN, [kind, 0])).toEqual({
      ...asIs,
      order: ['TIN', 'PLAIN', 'FILL', 'BULK'],
      early: [false, false, true, false],
      asked: [8, 2],
    });
  });

  it('is of what a batch draws from as often as of itself', () => {
    const early = { ...asIs, order: ['BULK', 'PLAIN', 'TIN', 'FILL'], early: [false, false, false, true] };
    expect(changed(FILL, [0, 0, 0, 0])).toEqual({ ...early, asked: [8, 2, 1, 4] });
    const itself = { ...asIs, order: ['PLAIN', 'FILL', 'TIN', 'BULK'], early: [true, false, false, false] };
    expect(changed(FILL, [0, 1, 1])).toEqual({ ...itself, asked: [8, 2, 3] });
  });

  it('is that a batch goes later in the order', () => {
    const later = { ...asIs, order: ['PLAIN', 'FILL', 'BULK', 'TIN'], asked: [8, 3] };
    expect(changed(TIN, [2, 2])).toEqual(later);
  });

  it('is that any batch is early, or no longer', () => {
    expect(changed(TIN, [3, PLAIN])).toEqual({ ...asIs, early: [false, true, false, false], asked: [8, 4] });
    const { early } = changedFor(
      { ...attempt, guide: { ...guide, early: guide.early.map(() => true) } },
      TIN,
      new Told([3, PLAIN]),
    );
    expect(early.map((is, job) => (is ? null : job)).filter((job) => job !== null)).toEqual([PLAIN]);
  });

  it('is the place of any batch', () => {
    expect(changed(TIN, [4, 0, 2])).toEqual({ ...asIs, order: ['TIN', 'FILL', 'PLAIN', 'BULK'], asked: [8, 4, 4] });
  });

  it.each([5, 6])('is for how many days a batch waits that is early', (kind) => {
    const early = [false, false, true, false];
    expect(changed(FILL, [kind, TIN, 0])).toEqual({ ...asIs, early, waits: [5, 5, 0, 5], asked: [8, 4, 2] });
    expect(changed(FILL, [kind, TIN, 1, 7])).toEqual({ ...asIs, early, waits: [5, 5, 7, 5], asked: [8, 4, 2, 8] });
  });

  it('is how many vessels it leaves, or its place where it needs none', () => {
    expect(changed(TIN, [7, BULK, 3])).toEqual({ ...asIs, leaves: [0, 0, 0, 3], asked: [8, 4, 4] });
    expect(changed(FILL, [7, TIN, 3, 0])).toEqual({
      ...asIs,
      order: ['BULK', 'PLAIN', 'TIN', 'FILL'],
      asked: [8, 4, 4, 4],
    });
  });
});

describe('whether every line goes as soon as it can', () => {
  const shop = (rest: Partial<Snapshot>, restDays = 0): Snapshot =>
    openShop({
      items: [...['OIL', 'LID'].map(counted), bulk('BULK'), product('FILL'), product('TIN', { shelfLifeDays: 9 })],
      formulas: [
        formula('BULK', [line(1, 'OIL', 'each', 1)], { restDays, minutesBatch: 480 }),
        formula('FILL', [line(1, 'BULK', 'each', 1)], { restDays: 1, minutesBatch: 480 }),
        formula('TIN', [line(1, 'LID', 'each', 1)], { minutesBatch: 480 }),
      ],
      lots: ['OIL', 'LID'].map((code) => lot(code, code, 99)),
      lines: [ordered('f', 'FILL', 1, 1)],
      ...rest,
    });
  const soonest = (of: Snapshot) => {
    const { model, attempt } = asDue(of);
    return goSoonest(model, attempt);
  };

  it('is so where all are in time, and where it takes as long as bench and rest alone', () => {
    expect(soonest(shop({ lines: [] }))).toBe(true);
    expect(soonest(shop({ lines: [ordered('t', 'TIN', 1, 0)] }))).toBe(true);
    // by tomorrow the bench has the bulk today and the filling tomorrow, which rests
    expect(soonest(shop({}, 1))).toBe(true);
    expect(soonest(shop({ lines: [ordered('f', 'FILL', 1, 2)] }, 5))).toBe(true);
  });

  it('is not so where one waits for the bench', () => {
    const lines = [ordered('f', 'TIN', 1, 0), ordered('t', 'FILL', 1, 1)];
    expect(soonest(shop({ lines }))).toBe(false);
    expect(soonest(shop({}))).toBe(false);
  });

  it('is so where it waits for a delivery, or an open day', () => {
    const lines = [ordered('t', 'TIN', 1, 0)];
    expect(soonest(shop({ lots: [], deliveries: [comes('D', 'LID', 1, 3)], lines }))).toBe(true);
    const closed = shop({ lines });
    closed.workshop.closedDays = [0, 1].map(day);
    expect(soonest(closed)).toBe(true);
    // what can never be made could go no sooner
    const never = shop({ lines });
    never.workshop.benchMinutes = [0, 0, 0, 0, 0, 0, 0];
    expect(soonest(never)).toBe(true);
  });

  it('is not the best there is where a lot ends of which something is left', () => {
    const lines = [ordered('t', 'TIN', 1, 20)];
    const old: SnapshotLot = { ...lot('OLD', 'LID', 1, 2), valueE4: 10 };
    const best = (lots: SnapshotLot[]) => {
      const { model, attempt } = asDue(shop({ lots, lines }));
      return [goSoonest(model, attempt), isBestPossible(model, attempt)];
    };
    expect(best([lot('LID', 'LID', 9)])).toEqual([true, true]);
    expect(best([lot('LID', 'LID', 9), old])).toEqual([true, false]);
  });
});

describe('the search for a better order', () => {
  /** A, B and C take a cap each and all day at the bench. */
  const shop = (rest: Partial<Snapshot>): Snapshot =>
    openShop({
      items: [counted('CAP'), ...['A', 'B', 'C'].map((code) => product(code))],
      formulas: ['A', 'B', 'C'].map((of) => formula(of, [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 })),
      lots: [lot('CAPS', 'CAP', 99)],
      ...rest,
    });
  const search = (of: Snapshot, stepsLeft: number) => {
    const { model, attempt, days } = asDue(of);
    const work = { stepsLeft, ordersAPair: 360 };
    return { days: days(searchGuide(model, attempt, work)), steps: stepsLeft - work.stepsLeft };
  };

  it('takes no step where nothing waits for a batch, and one try where nothing can be better', () => {
    expect(search(shop({ lines: [] }), 99)).toEqual({ days: null, steps: 0 });
    expect(search(shop({ lines: [ordered('c', 'CAP', 1, 2)] }), 99)).toEqual({ days: null, steps: 0 });
    expect(search(shop({ lines: [ordered('a', 'A', 1, 2)] }), 99)).toEqual({ days: null, steps: 1 });
  });

  it('takes whole tries, as many as there are steps for', () => {
    // one of two is late, whatever is tried
    const late = shop({ lines: [ordered('a', 'A', 1, 0), ordered('b', 'B', 1, 0)] });
    expect([2, 3, 4, 5, 6, 7].map((steps) => search(late, steps).steps)).toEqual([2, 2, 4, 4, 6, 6]);
    expect(search(late, 1_000)).toEqual({ days: null, steps: 1_000 });
  });

  it('finds what goes sooner, and leaves all else as late as is safe', () => {
    // as late as is safe the bulk has the day on which it should be filled
    const of = openShop({
      items: [counted('OIL'), bulk('BULK'), product('FILL'), product('TIN')],
      formulas: [
        formula('BULK', [line(1, 'OIL', 'each', 1)], { minutesBatch: 480 }),
        formula('FILL', [line(1, 'BULK', 'each', 1)], { minutesBatch: 480 }),
        formula('TIN', [line(1, 'OIL', 'each', 1)], { minutesBatch: 480 }),
      ],
      lots: [lot('OIL', 'OIL', 99)],
      lines: [ordered('f', 'FILL', 1, 3), ordered('t', 'TIN', 1, 9)],
    });
    expect(asDue(of).days(asDue(of).attempt.guide)).toEqual({ BULK: 3, FILL: 4, TIN: 9 });
    const { days, steps } = search(of, 900);
    expect(days).toMatchObject({ FILL: 3, TIN: 9 });
    // it ends where nothing betters it for a while
    expect(steps).toBeLessThan(900);
    // with steps for one try beside the first, all is made as early as can be
    expect(search(of, 2 * 3).days).toEqual({ BULK: 0, FILL: 1, TIN: 2 });
  });
});
