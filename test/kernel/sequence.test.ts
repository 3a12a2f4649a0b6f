import { describe, expect, it, vi } from 'vitest';
import type { LineState } from '../../src/kernel/plan/job.js';
import { plan } from '../../src/kernel/plan/plan.js';
import { Figures } from '../../src/kernel/plan/random.js';
import type { ScheduleJob } from '../../src/kernel/plan/schedule-job.js';
import { bestSequence } from '../../src/kernel/plan/sequence.js';
import type { Waiting } from '../../src/kernel/plan/sequence-chains.js';
import { Judge } from '../../src/kernel/plan/sequence-judge.js';
import { inOrder, type Service, type Term, termsFrom } from '../../src/kernel/plan/terms.js';
import { counted, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const START = 100;
const NOTHING = { urgent: 0, uncovered: 0, late: 0, days: 0, weightedDays: 0 };

interface Wanted {
  /** Days it keeps its vessel. */
  days: number;
  /** Days from the start. */
  due: number;
  weight?: number;
  /** Its first day, from the start; and the pour it is made of, by its place. */
  from?: number;
  of?: number;
  mg?: number;
}

const pour = ({ days, from = 0, of, mg = 1 }: Wanted): ScheduleJob =>
  ({
    tier: 0,
    restDays: days - 1,
    vesselKind: 'pot',
    putInMg: mg,
    earliest: START + from,
    freshFrom: Number.NEGATIVE_INFINITY,
    sources: of === undefined ? [] : [{ job: of, held: false, after: 0 }],
  }) as unknown as ScheduleJob;

const pot = (capacityMg = 1, to?: number) => ({
  code: 'P',
  kind: 'pot',
  capacityMg,
  busy: to === undefined ? [] : [{ from: START, to: START + to }],
});

function waiting(wanted: readonly Wanted[], vessels = [pot()], terms: readonly Term[] = termsFrom()): Waiting {
  const lines = wanted.map(({ due, weight }, job) => ({
    line: { row: { weight }, shipBy: START + due } as LineState,
    ready: START,
    jobs: [job],
  }));
  return { jobs: wanted.map(pour), vessels, start: START, lines, others: NOTHING, terms };
}

/** By arithmetic of its own: the days on which pours are ready, each in the pot that is free first. */
function readyIn(wanted: readonly Wanted[], order: readonly number[], pots: readonly ReturnType<typeof pot>[]) {
  const free = pots.map(({ busy }) => Math.max(START, ...busy.map(({ to }) => to + 1)));
  const ready = new Map<number, number>();
  for (const job of order) {
    const { days, from = 0, of, mg = 1 } = wanted[job]!;
    const fits = pots.map(({ capacityMg }, i) => (capacityMg >= mg ? free[i]! : Infinity));
    const into = fits.indexOf(Math.min(...fits));
    const begins = Math.max(START + from, free[into]!, of === undefined ? 0 : (ready.get(of) ?? Infinity));
    ready.set(job, begins + days - 1);
    free[into] = begins + days;
  }
  return ready;
}

function costIn(wanted: readonly Wanted[], order: readonly number[], pots = [pot()], terms = termsFrom()): Service {
  const ready = readyIn(wanted, order, pots);
  const sum = { ...NOTHING };
  for (const [job, { due, weight = 1 }] of wanted.entries()) {
    const late = Math.max(0, ready.get(job)! - START - due);
    if (late === 0) continue;
    if (late === Infinity) sum.uncovered += weight;
    else {
      sum.days += late;
      sum.weightedDays += weight * late;
    }
    sum.late += weight;
  }
  return inOrder(sum, terms);
}

const everyOrder = (places: readonly number[]): number[][] =>
  places.length === 0
    ? [[]]
    : places.flatMap((one) => everyOrder(places.filter((other) => other !== one)).map((rest) => [one, ...rest]));

const asGiven = (wanted: readonly Wanted[]): number[] => wanted.map((_, job) => job);
const best = (wanted: readonly Wanted[], pots = [pot()], terms = termsFrom(), ordersAPair = 400) => {
  const order = asGiven(wanted);
  const given = { order, cost: costIn(wanted, order, pots, terms) };
  return bestSequence(waiting(wanted, pots, terms), given, ordersAPair);
};

describe('an order of pours', () => {
  // all are due on the third day, the last but a day later: one after the other they are ready on days 2, 3 and 4
  const wanted = [
    { days: 3, due: 2 },
    { days: 1, due: 2 },
    { days: 1, due: 3 },
  ];

  it('leaves the long one for the end, so that one line is late and not two', () => {
    expect(costIn(wanted, [0, 1, 2])).toEqual(inOrder({ late: 2, days: 2 }, termsFrom()));
    expect(best(wanted)?.at(-1)).toBe(0);
  });

  it('follows what the workshop says counts first', () => {
    // the long one alone is late by 2 days, or the two others by 3 in all, which weigh more together
    const heavy = [
      { days: 3, due: 2, weight: 7 },
      { days: 1, due: 2, weight: 4 },
      { days: 1, due: 2, weight: 4 },
    ];
    const terms = termsFrom(['weightedDays']);
    const weighted = (order: number[]) => costIn(heavy, order, [pot()], terms)[1];
    expect(
      [
        [1, 2, 0],
        [0, 1, 2],
      ].map(weighted),
    ).toEqual([14, 12]);
    expect(best(heavy, [pot()], terms)).toBeNull();
    expect(best(heavy)?.at(-1)).toBe(0);
  });

  it('is none where nothing is better, where there is but one, or where no order may be judged', () => {
    expect(best([wanted[1]!, wanted[2]!])).toBeNull();
    expect(best([wanted[0]!])).toBeNull();
    expect(best(wanted, [pot()], termsFrom(), 0)).toBeNull();
  });

  it('is none where the one given places a pour before what it is made of', () => {
    const madeOf = [{ ...wanted[0]!, of: 1 }, wanted[1]!, wanted[2]!];
    expect(bestSequence(waiting(madeOf), { order: [0, 1, 2], cost: [] }, 400)).toBeNull();
  });

  it('is found by moving pours and exchanging two, before any are shaken', () => {
    // eight of a day each, of which the last is due first: only in the reverse order none is late
    const reversed = Array.from({ length: 8 }, (_, job) => ({ days: 1, due: 7 - job }));
    const inTime = costIn(reversed, [7, 6, 5, 4, 3, 2, 1, 0]);
    expect(inTime).toEqual(inOrder({}, termsFrom()));
    expect(costIn(reversed, best(reversed, [pot()], termsFrom(), 12)!)).toEqual(inTime);
  });

  it('is looked for until nothing could cost less', () => {
    const reversed = Array.from({ length: 8 }, (_, job) => ({ days: 1, due: 7 - job }));
    const least = inOrder({}, termsFrom());
    const judgedWith = (rest: Partial<Waiting>) => {
      const judged = vi.spyOn(Judge.prototype, 'costOf');
      const order = asGiven(reversed);
      const found = bestSequence({ ...waiting(reversed), ...rest }, { order, cost: costIn(reversed, order) }, 400);
      const times = judged.mock.calls.length;
      judged.mockRestore();
      return { found, times };
    };
    const all = judgedWith({});
    const some = judgedWith({ least });
    expect(some.found).toEqual(all.found);
    expect(some.times).toBeLessThan(all.times / 10);
    expect(judgedWith({ least: costIn(reversed, asGiven(reversed)) })).toEqual({ found: null, times: 1 });
  });

  it('is none where the one given cost something else than by its vessels', () => {
    const cost = inOrder({ late: 2, days: 3 }, termsFrom());
    expect(bestSequence(waiting(wanted), { order: [0, 1, 2], cost }, 400)).toBeNull();
  });

  it('puts what is no pour, and what is for stock, behind', () => {
    const given = waiting(wanted);
    const jobs = [{ ...pour(wanted[0]!), tier: 1 as const }, { ...pour(wanted[0]!), vesselKind: null }, ...given.jobs];
    const lines = given.lines.map((one) => ({ ...one, jobs: one.jobs.map((job) => job + 2) }));
    const cost = inOrder({ late: 2, days: 2 }, termsFrom());
    const order = bestSequence({ ...given, jobs, lines }, { order: [0, 1, 2, 3, 4], cost }, 400);
    expect(order?.slice(2)).toEqual([2, 0, 1]);
  });

  it('counts the rest of what is filled from a pour, and other days a line waits for', () => {
    const given = waiting(wanted);
    // the second and the third are packed, which rests a day more
    const packed = (of: number) => ({ ...pour({ days: 2, due: 0, of }), vesselKind: null });
    const jobs = [...given.jobs, packed(1), packed(2)];
    const lines = [given.lines[0]!, { ...given.lines[1]!, jobs: [3] }, { ...given.lines[2]!, jobs: [4], ready: START }];
    // packed on days 3 and 4, they are ready on days 4 and 5: two days late each
    const cost = inOrder({ late: 2, days: 4 }, termsFrom());
    const at = { order: asGiven([...wanted, wanted[0]!, wanted[0]!]), cost };
    expect(bestSequence({ ...given, jobs, lines }, at, 400)?.slice(0, 3)).toEqual([1, 2, 0]);
    // what comes too late anyway is no reason to wait
    const late = lines.map((one, i) => (i === 0 ? one : { ...one, ready: START + 9 }));
    const lateCost = inOrder({ late: 2, days: 7 + 6 }, termsFrom());
    expect(bestSequence({ ...given, jobs, lines: late }, { ...at, cost: lateCost }, 400)).toBeNull();
  });

  it('is as good as the best of all orders, for few', () => {
    const figures = new Figures(7);
    let bettered = 0;
    for (let n = 0; n < 120; n++) {
      const drawn = Array.from({ length: 2 + (n % 5) }, (_, job): Wanted => ({
        days: 1 + figures.below(4),
        due: figures.below(9),
        weight: 1 + figures.below(3),
        from: figures.below(3),
        of: job > 0 && figures.below(4) === 0 ? figures.below(job) : undefined,
        mg: 1 + figures.below(2),
      }));
      const pots = n % 3 === 0 ? [pot(2)] : [pot(1), pot(2, figures.below(3))];
      const terms = termsFrom(n % 2 === 0 ? ['weightedDays'] : []);
      const cost = (order: readonly number[]) => costIn(drawn, order, pots, terms);
      const isMade = (order: readonly number[]) =>
        order.every((job, at) => drawn[job]!.of === undefined || order.indexOf(drawn[job]!.of) < at);
      const least = everyOrder(asGiven(drawn))
        .filter(isMade)
        .map(cost)
        .reduce((one, other) => (compare(one, other) <= 0 ? one : other));
      const found = best(drawn, pots, terms) ?? asGiven(drawn);
      expect({ n, cost: cost(found) }).toEqual({ n, cost: least });
      if (compare(least, cost(asGiven(drawn))) < 0) bettered++;
    }
    expect(bettered).toBeGreaterThan(40);
  });
});

const compare = (one: Service, other: Service): number => {
  const at = one.findIndex((term, i) => term !== other[i]);
  return at < 0 ? 0 : one[at]! - other[at]!;
};

it('is what a plan is made by where one vessel keeps all', () => {
  const pours = [
    { code: 'A', days: 3, due: 2, weight: 7 },
    { code: 'B', days: 1, due: 2, weight: 4 },
    { code: 'C', days: 1, due: 2, weight: 4 },
  ];
  const daysLate = (terms?: Term[]) => {
    const shop = openShop(
      {
        items: [counted('LID'), ...pours.map(({ code }) => product(code))],
        formulas: pours.map(({ code, days }) =>
          formula(code, [line(1, 'LID', 'each', 1)], { vesselKind: 'pot', restDays: days - 1, minutesBatch: 1 }),
        ),
        vessels: [{ code: 'POT', kind: 'pot', capacityMg: 1_000_000 }],
        lots: [lot('L', 'LID', 99)],
        lines: pours.map(({ code, due, weight }) => ({ ...ordered(code, code, 1, due), weight })),
      },
      terms && { terms },
    );
    return Object.fromEntries(plan(shop).lines.map(({ item, lateDays }) => [item, lateDays]));
  };
  // one line late, by two days; or two, by three in all, which comes to less by weight
  expect(daysLate()).toEqual({ A: 2, B: 0, C: 0 });
  expect(daysLate(['weightedDays'])).toMatchObject({ A: 0 });
  expect(daysLate(['days'])).toEqual({ A: 2, B: 0, C: 0 });
});
