import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import type { Job, LineState } from '../../src/kernel/plan/job.js';
import type { Placed } from '../../src/kernel/plan/schedule-job.js';
import { partsOf, readyOf } from '../../src/kernel/plan/line-waits.js';
import { type LineCosts, serviceOf, ServiceSum } from '../../src/kernel/plan/service.js';
import { drawOnShelf } from '../../src/kernel/plan/shelf.js';
import type { Snapshot, SnapshotLine } from '../../src/kernel/plan/snapshot.js';
import {
  compareService,
  inOrder,
  isNoWorseServed,
  type Term,
  termsBesidePlaces,
  termsFrom,
  termsOfLines,
} from '../../src/kernel/plan/terms.js';
import { beingMade, counted, day, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const DUE = 100;
const state = (row: Partial<SnapshotLine> = {}) => ({ row, shipBy: DUE }) as LineState;

describe('what lines cost', () => {
  const none = { urgent: 0, uncovered: 0, late: 0, days: 0, weightedDays: 0 };
  const sum = (row: Partial<SnapshotLine>, ready: number | null, before?: LineCosts) => {
    const service = new ServiceSum(before);
    service.add(state(row), ready);
    return service.sum;
  };

  it('is nothing in time; late its weight and its days; not covered its weight twice', () => {
    expect(sum({}, DUE)).toEqual(none);
    expect(sum({}, DUE + 3)).toEqual({ ...none, late: 1, days: 3, weightedDays: 3 });
    expect(sum({ weight: 5 }, DUE + 3)).toEqual({ ...none, late: 5, days: 3, weightedDays: 15 });
    expect(sum({}, null)).toEqual({ ...none, uncovered: 1, late: 1 });
    expect(sum({ weight: 5 }, null)).toEqual({ ...none, uncovered: 5, late: 5 });
  });

  it('is one more before all else where it is urgent', () => {
    expect(sum({ urgent: true }, DUE)).toEqual(none);
    expect(sum({ urgent: true, weight: 5 }, DUE + 1)).toEqual({
      ...none,
      urgent: 1,
      late: 5,
      days: 1,
      weightedDays: 5,
    });
    expect(sum({ urgent: true }, null)).toEqual({ ...none, urgent: 1, uncovered: 1, late: 1 });
  });

  it('is its share of all that where it is a part of a line', () => {
    const part = (ready: number | null) => {
      const service = new ServiceSum();
      service.add(state({ weight: 5, urgent: true }), ready, 30);
      return service.sum;
    };
    expect(part(DUE)).toEqual(none);
    expect(part(DUE + 2)).toEqual({ urgent: 30, uncovered: 0, late: 150, days: 60, weightedDays: 300 });
    expect(part(null)).toEqual({ ...none, urgent: 30, uncovered: 150, late: 150 });
  });

  it('is added to what others cost', () => {
    const before = { urgent: 1, uncovered: 2, late: 3, days: 4, weightedDays: 5 };
    expect(sum({ weight: 2 }, DUE + 3, before)).toEqual({ ...before, late: 5, days: 7, weightedDays: 11 });
    expect(before.late).toBe(3);
  });
});

describe('the order of terms', () => {
  const usual = ['urgent', 'uncovered', 'late', 'movedSoon', 'days', 'expires', 'washing', 'moved'];

  it('is as usual unless the workshop says what counts first', () => {
    expect(termsFrom()).toEqual(usual);
    expect(termsFrom(['weightedDays'])).toEqual([
      'uncovered',
      'weightedDays',
      'urgent',
      'late',
      'movedSoon',
      'days',
      'expires',
      'washing',
      'moved',
    ]);
    expect(termsFrom(['weightedDays', 'uncovered']).slice(0, 2)).toEqual(['weightedDays', 'uncovered']);
    // an urgent line that is not covered is counted as one
    expect(termsFrom(['late', 'urgent'])).toEqual([
      'late',
      'urgent',
      'uncovered',
      'movedSoon',
      'days',
      'expires',
      'washing',
      'moved',
    ]);
    // nobody is late for these
    expect(termsFrom(['washing', 'uneven', 'moved'])).toEqual([
      'uncovered',
      'washing',
      'urgent',
      'late',
      'days',
      'uneven',
      'moved',
      'movedSoon',
      'expires',
    ]);
    expect(termsFrom(['late', 'expires']).slice(0, 3)).toEqual(['late', 'uncovered', 'expires']);
    expect(termsFrom(['washing', 'days', 'days'])).toEqual([
      'uncovered',
      'washing',
      'days',
      'urgent',
      'late',
      'movedSoon',
      'expires',
      'moved',
    ]);
  });

  it('arranges what is known, and counts nothing for the rest', () => {
    const terms: Term[] = ['washing', 'late', 'weightedDays'];
    expect(inOrder({ late: 2, washing: 30, days: 9 }, terms)).toEqual([30, 2, 0]);
    expect(termsOfLines(['washing', 'late', 'expires', 'weightedDays'])).toEqual(['late', 'weightedDays']);
    expect(termsBesidePlaces(['movedSoon', 'late', 'washing', 'uneven', 'moved'])).toEqual(['late', 'washing']);
  });

  it('is what a plan costs is listed in', () => {
    const lines = [{ ...ordered('late', 'BOX', 2, 4), weight: 5 }];
    const costs = (terms?: Term[]) => {
      const of = planned({ lines, lots: [lot('C', 'CAP', 9), { ...lot('OLD', 'CAP', 1, 3), valueE4: 7 }] });
      of.model.terms = termsFrom(terms);
      return serviceOf(of.model, of.planned);
    };
    const [urgent, uncovered, late, movedSoon, days, expires, washing, moved] = costs();
    expect([late, days]).toEqual([5, 3]);
    expect(costs(['expires', 'weightedDays'])).toEqual([
      uncovered,
      expires,
      15,
      urgent,
      late,
      movedSoon,
      days,
      washing,
      moved,
    ]);
  });
});

it('compares term by term, what counts most first', () => {
  expect(compareService([1, 9], [2, 0])).toBeLessThan(0);
  expect(compareService([2, 0], [1, 9])).toBeGreaterThan(0);
  expect(compareService([1, 3], [1, 2])).toBe(1);
  expect(compareService([1, 2], [1, 2])).toBe(0);
  // terms beyond those of the first do not count
  expect(compareService([1], [1, 2])).toBe(0);
});

it('tells plans apart by whom they serve alone, whatever pours move and however days are filled', () => {
  const terms: Term[] = ['late', 'moved', 'uneven', 'washing'];
  const isNoWorse = (one: number[]) => isNoWorseServed(one, [2, 1, 100, 30], terms);
  expect(isNoWorse([2, 9, 900, 30])).toBe(true);
  expect(isNoWorse([2, 0, 0, 31])).toBe(false);
  expect(isNoWorse([1, 9, 900, 99])).toBe(true);
  expect(isNoWorse([3, 0, 0, 0])).toBe(false);
});

/** A set of a box and a cap, made on day 5 and ready on day 7, of what there is. */
function planned(rest: Partial<Snapshot>, ready: number | null = 7) {
  const { model, netted } = netOf(
    openShop({
      items: [counted('CAP'), product('BOX')],
      formulas: [formula('BOX', [line(1, 'CAP', 'each', 1)], { restDays: 2 })],
      ...rest,
    }),
  );
  const at = ready === null ? null : { day: dayOf(day(5)), ready: dayOf(day(ready)) };
  const shelf = drawOnShelf(netted, () => at);
  const none = { vessel: null, emptied: null, heldUpBy: null };
  const placed = new Map(
    netted.jobs.map((job): [Job, Placed] => [job, at ? { ...at, ...none } : { day: null, ready: null, ...none }]),
  );
  return { model, planned: { netted, shelf, placed } };
}

describe('what a line waits for', () => {
  const waits = (rest: Partial<Snapshot>, ready: number | null = 7) => {
    const { model, planned: of } = planned(rest, ready);
    return partsOf(model, of).map(
      ({ wait }) => wait && { ready: wait.ready - dayOf(day(0)), jobs: wait.jobs.map(({ key }) => key) },
    );
  };
  const making = beingMade('BOX', 1, 9, { day: day(-1) });
  const caps = lot('C', 'CAP', 99);

  it('is today at the soonest, the day the customer takes it, and its batches', () => {
    const lines = [ordered('o', 'BOX', 2, 20)];
    expect(waits({ lines, lots: [lot('L', 'BOX', 2)] })).toEqual([{ ready: 0, jobs: [] }]);
    expect(waits({ lines: [{ ...lines[0]!, notBefore: day(11) }], lots: [lot('L', 'BOX', 2)] })).toEqual([
      { ready: 11, jobs: [] },
    ]);
    expect(waits({ lines, lots: [caps] })).toEqual([{ ready: 0, jobs: ['BOX/1'] }]);
  });

  it('is what is in the making and what is delivered, the last of them', () => {
    expect(waits({ lines: [ordered('o', 'BOX', 2, 20)], lots: [caps], making: [making] })).toEqual([
      { ready: 9, jobs: ['BOX/1'] },
    ]);
    const deliveries = [3, 6].map((n) => ({ key: `D${n}`, item: 'CAP', free: 1, day: day(n), expiresOn: null }));
    expect(waits({ lines: [ordered('o', 'CAP', 2, 20)], deliveries })).toEqual([{ ready: 6, jobs: [] }]);
    // another line has what comes last
    expect(waits({ lines: [ordered('o', 'CAP', 1, 3), ordered('p', 'CAP', 1, 20)], deliveries })).toEqual([
      { ready: 3, jobs: [] },
      { ready: 6, jobs: [] },
    ]);
  });

  it('is nothing where something of it is missing', () => {
    expect(waits({ lines: [ordered('o', 'BOX', 2, 20)] })).toEqual([null]);
    expect(waits({ lines: [ordered('o', 'CAP', 2, 20)], lots: [lot('C', 'CAP', 1)] })).toEqual([null]);
    expect(waits({ formulas: [], lines: [ordered('o', 'BOX', 2, 20)] })).toEqual([null]);
    expect(waits({ lines: [ordered('o', 'BOX', 2, 20)], lots: [caps] }, null)).toEqual([null]);
    const { model, planned: of } = planned({ lines: [ordered('o', 'BOX', 2, 20)], lots: [caps] });
    of.netted.lines[0]!.leftOut = 1;
    expect(partsOf(model, of)).toMatchObject([{ wait: null }]);
  });
});

it('costs of a line that is sent in parts what of it is late, and of others all', () => {
  // three boxes lie there, two are ready three days late; of the others two are late, and two caps are missing
  const lines = [
    { ...ordered('parts', 'BOX', 5, 4), sends: 'parts' as const, weight: 3 },
    ordered('whole', 'BOX', 2, 4),
    { ...ordered('caps', 'CAP', 8, 20), sends: 'parts' as const },
  ];
  const { model, planned: of } = planned({ lines, lots: [lot('L', 'BOX', 3), lot('C', 'CAP', 10)] });
  const whole = 1_000_000;
  expect(partsOf(model, of).map(({ line: { row }, share }) => [row.key, share])).toEqual([
    ['parts', (whole * 3) / 5],
    ['parts', (whole * 2) / 5],
    ['whole', whole],
    ['caps', (whole * 6) / 8],
    ['caps', (whole * 2) / 8],
  ]);
  const [urgent, uncovered, late, , days] = serviceOf(model, of);
  expect([urgent, uncovered, late, days]).toEqual([
    0,
    whole / 4,
    (3 * whole * 2) / 5 + whole + whole / 4,
    3 * ((whole * 2) / 5 + whole),
  ]);
});

it('goes when all its batches are ready, and not at all where one has no day', () => {
  const jobs = ['a', 'b'].map((key) => ({ key })) as Job[];
  const wait = { ready: 40, jobs };
  const placed = (a: number | null, b: number | null) => (job: Job) => ({ ready: job === jobs[0] ? a : b }) as Placed;
  expect(readyOf(wait, placed(50, 60))).toBe(60);
  expect(readyOf(wait, placed(30, 20))).toBe(40);
  expect(readyOf(wait, placed(50, null))).toBeNull();
  expect(readyOf({ ...wait, jobs: [] }, placed(50, 60))).toBe(40);
});

it('serves lines first, and then counts what expires and what is washed', () => {
  const lines = [ordered('late', 'BOX', 2, 4), ordered('none', 'CAP', 99, 20), ordered('in time', 'BOX', 1, 20)];
  const lots = [lot('C', 'CAP', 3), { ...lot('OLD', 'CAP', 1, 3), valueE4: 7 }];
  const { model, planned: of } = planned({ lines, lots });
  // ready on day 7, three days late; most of the caps are missing; the old one is over on day 5
  expect(serviceOf(model, of)).toEqual([0, 1, 2, 0, 3, 7, 0, 0]);
});
