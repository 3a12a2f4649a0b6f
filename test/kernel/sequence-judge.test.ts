import { describe, expect, it } from 'vitest';
import type { LineState } from '../../src/kernel/plan/job.js';
import { Figures } from '../../src/kernel/plan/random.js';
import type { Lag, Pour, Waiting, WaitingLine } from '../../src/kernel/plan/sequence-chains.js';
import { Judge } from '../../src/kernel/plan/sequence-judge.js';
import { inOrder, type Service, type Term, termsFrom } from '../../src/kernel/plan/terms.js';

const START = 100;
const OTHERS = { urgent: 0, uncovered: 3, late: 4, days: 2, weightedDays: 2 };

interface Case {
  waiting: Pick<Waiting, 'vessels' | 'start' | 'others' | 'terms'>;
  pours: Pour[];
  lines: WaitingLine[];
}

const TERMS: readonly (readonly Term[])[] = [
  termsFrom(),
  termsFrom(['weightedDays']),
  ['days', 'late'],
  ['urgent', 'weightedDays', 'uncovered'],
];

/** Pours some of which are made of others, in pots some of which are busy; lines that wait for none, one or two of them. */
function drawn(figures: Figures): Case {
  const below = (most: number): number => figures.below(most);
  const count = 2 + below(5);
  const pots = 1 + below(3);
  const lagTo = (pour: number): Lag => ({ pour, days: 1 + below(3) });
  const pours = Array.from({ length: count }, (_, job): Pour => {
    const fitting = Array.from({ length: pots }, (_pot, place) => place).filter(() => below(3) > 0);
    return {
      job,
      earliest: START + below(4),
      days: 1 + below(4),
      // what fits nowhere never begins
      vessels: fitting.length > 0 || below(6) === 0 ? fitting : [0],
      after: job > 0 && below(2) === 0 ? [lagTo(below(job))] : [],
    };
  });
  const lines = Array.from({ length: 1 + below(6) }, (): WaitingLine => ({
    line: {
      row: { weight: 1 + below(3), urgent: below(4) === 0 },
      shipBy: START + below(12),
    } as LineState,
    // a part of a line counts as so much of it
    share: below(3) === 0 ? 1 + below(9) : 1,
    ready: START + below(6),
    after: Array.from({ length: below(3) }, () => lagTo(below(count))),
  }));
  const vessels = Array.from({ length: pots }, (_, place) => ({
    code: `P${place}`,
    kind: 'pot',
    capacityMg: 1,
    busy: below(3) === 0 ? [{ from: START, to: START + below(4) }] : [],
  }));
  return { waiting: { vessels, start: START, others: OTHERS, terms: TERMS[below(TERMS.length)]! }, pours, lines };
}

/** By arithmetic of its own: the day each pour begins; null where one comes before what it is made of. */
function begunIn({ waiting: { vessels }, pours }: Case, order: readonly number[]): Map<number, number> | null {
  const free = vessels.map(({ busy }) => Math.max(START, ...busy.map(({ to }) => to + 1)));
  const begun = new Map<number, number>();
  for (const place of order) {
    const { earliest, days, vessels: fitting, after } = pours[place]!;
    if (after.some(({ pour }) => !begun.has(pour))) return null;
    const [into] = [...fitting].sort((a, b) => free[a]! - free[b]! || a - b);
    const day = Math.max(
      earliest,
      into === undefined ? Infinity : free[into]!,
      ...after.map((lag) => begun.get(lag.pour)! + lag.days),
    );
    begun.set(place, day);
    if (into !== undefined) free[into] = day + days;
  }
  return begun;
}

/** What lines cost, of all or only of those that wait for one pour. */
function costIn(
  of: Case,
  begun: ReadonlyMap<number, number>,
  isCounted: (line: WaitingLine) => boolean = () => true,
): Service {
  const sum = { ...OTHERS };
  for (const each of of.lines.filter(isCounted)) {
    const { line, share, ready, after } = each;
    const goes = Math.max(ready, ...after.map(({ pour, days }) => begun.get(pour)! + days));
    if (goes <= line.shipBy) continue;
    const weight = line.row.weight! * share!;
    if (line.row.urgent) sum.urgent += share!;
    sum.late += weight;
    if (goes === Infinity) sum.uncovered += weight;
    else {
      sum.days += share! * (goes - line.shipBy);
      sum.weightedDays += weight * (goes - line.shipBy);
    }
  }
  return inOrder(sum, of.waiting.terms);
}

function shuffled(order: readonly number[], from: number, figures: Figures): number[] {
  const changed = [...order];
  for (let at = changed.length - 1; at > from; at--) {
    const other = from + figures.below(at - from + 1);
    [changed[at], changed[other]] = [changed[other]!, changed[at]!];
  }
  return changed;
}

describe('what an order of pours costs', () => {
  it('is what other arithmetic says, also of orders that begin as the one kept', () => {
    const figures = new Figures(11);
    const seen = { valid: 0, before: 0, dearer: 0, chained: 0 };
    for (let n = 0; n < 400; n++) {
      const of = drawn(figures);
      const judge = new Judge(of.waiting as Waiting, of.pours, of.lines);
      const order = of.pours.map((_, place) => place);
      const cost = costIn(of, begunIn(of, order)!);
      expect({ n, cost: judge.costOfAny(order) }).toEqual({ n, cost });
      judge.keep(order, cost);
      const leading = Math.max(
        0,
        cost.findIndex((term) => term > 0),
      );
      for (let tried = 0; tried < 8; tried++) {
        const from = figures.below(order.length);
        const other = shuffled(order, from, figures);
        const begun = begunIn(of, other);
        const found = judge.costOf(other, from);
        if (begun === null) {
          expect({ n, other, found }).toEqual({ n, other, found: null });
          seen.before++;
          continue;
        }
        // what lines that wait for one pour cost is known first: where that is more, nothing else is looked at
        const ofOne = costIn(of, begun, ({ after }) => after.length === 1);
        const isDearer = ofOne[leading]! > cost[leading]!;
        expect({ n, other, found }).toEqual({ n, other, found: isDearer ? null : costIn(of, begun) });
        seen[isDearer ? 'dearer' : 'valid']++;
        if (of.lines.some(({ after }) => after.length > 1)) seen.chained++;
      }
      expect({ n, cost: judge.costOf(order, order.length - 1) }).toEqual({ n, cost });
    }
    for (const times of Object.values(seen)) expect(times).toBeGreaterThan(20);
  });
});
