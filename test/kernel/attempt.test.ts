import { describe, expect, it } from 'vitest';
import { arrivals } from '../../src/kernel/plan/arrival.js';
import { attemptAsDue, attemptBy, isBetter, isNoWorse, jobsOfLate } from '../../src/kernel/plan/attempt.js';
import type { Job } from '../../src/kernel/plan/job.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { bulk, counted, lot, netOf, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** Two fillings of a bulk that stands in its jug, and a tin. Each filling takes half a day, a tin all of it. */
const shop = (rest: Partial<Snapshot>): Snapshot =>
  openShop({
    items: [counted('CAP'), bulk('BULK'), ...['FILL', 'SPRAY', 'TIN'].map((code) => product(code))],
    formulas: [
      formula('BULK', [line(1, 'CAP', 'each', 1)], { vesselKind: 'jug' }),
      ...['FILL', 'SPRAY'].map((of) => formula(of, [line(1, 'BULK', 'each', 1)], { minutesBatch: 240 })),
      formula('TIN', [line(1, 'CAP', 'each', 1)], { minutesBatch: 480 }),
    ],
    vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 99_000 }],
    lots: [lot('CAPS', 'CAP', 99)],
    ...rest,
  });

function asDue(rest: Partial<Snapshot>, lastOnes: string[] = []) {
  const { model, netted } = netOf(shop(rest));
  const last = new Set(netted.jobs.filter(({ item }) => lastOnes.includes(item.code)));
  const attempt = attemptAsDue(model, { netted, last, arrived: arrivals(model, netted) });
  return { model, netted, attempt };
}

const codes = (jobs: readonly Job[]): string[] => jobs.map(({ item }) => item.code).sort();

describe('what a bulk stands in its jug for', () => {
  const links = (lastOnes: string[]) => {
    const lines = [ordered('f', 'FILL', 1, 4), ordered('s', 'SPRAY', 1, 5)];
    const { netted, attempt } = asDue({ lines }, lastOnes);
    const row = (code: string) => {
      const at = netted.jobs.findIndex(({ item }) => item.code === code);
      return attempt.scheduler.jobs[at]!;
    };
    const named = (of: readonly { job: number; held: boolean; after: number }[]) =>
      of.map(({ job, held, after }) => [netted.jobs[job]!.item.code, held, after]);
    return {
      sources: ['FILL', 'SPRAY'].map((code) => named(row(code).sources)),
      consumers: named(row('BULK').consumers).sort(),
      tiers: ['FILL', 'SPRAY', 'BULK'].map((code) => row(code).tier),
    };
  };

  it('is all that is filled from it', () => {
    expect(links([])).toEqual({
      sources: [[['BULK', true, 0]], [['BULK', true, 0]]],
      consumers: [
        ['FILL', true, 0],
        ['SPRAY', true, 0],
      ],
      tiers: [0, 0, 0],
    });
  });

  it('is not what lacks its bottle, which goes after all others', () => {
    expect(links(['SPRAY'])).toEqual({
      sources: [[['BULK', true, 0]], [['BULK', false, 0]]],
      consumers: [
        ['FILL', true, 0],
        ['SPRAY', false, 0],
      ],
      tiers: [0, 2, 0],
    });
  });
});

describe('batches of late lines', () => {
  const late = (...lines: Snapshot['lines']) => {
    const { attempt } = asDue({ lines });
    return codes(jobsOfLate(attempt));
  };

  it('are none where all are in time', () => {
    expect(late(ordered('f', 'FILL', 1, 0), ordered('s', 'SPRAY', 1, 0))).toEqual([]);
    expect(late()).toEqual([]);
  });

  it('are those that are ready after the day of one of their lines, and what these are made of, once', () => {
    expect(late(ordered('f', 'FILL', 1, -1))).toEqual(['BULK', 'FILL']);
    expect(late(ordered('f', 'FILL', 1, -1), ordered('s', 'SPRAY', 1, -1))).toEqual(['BULK', 'FILL', 'SPRAY']);
    expect(late(ordered('f', 'FILL', 1, -1), ordered('s', 'SPRAY', 1, 0))).toEqual(['BULK', 'FILL']);
    expect(late(ordered('t', 'TIN', 1, 0), ordered('f', 'FILL', 1, 3))).toEqual([]);
    expect(late(ordered('t', 'TIN', 1, 0), ordered('f', 'FILL', 1, 0))).toEqual(['TIN']);
    // one line of the batch is late, the other is not
    expect(late(ordered('t', 'TIN', 1, -1), ordered('u', 'TIN', 1, 2))).toEqual(['TIN']);
  });

  it('are those that have no day', () => {
    const formulas = [formula('TIN', [line(1, 'CAP', 'each', 1)], { minutesBatch: 481 })];
    const { attempt } = asDue({ formulas, lines: [ordered('t', 'TIN', 1, 3)] });
    expect(codes(jobsOfLate(attempt))).toEqual(['TIN']);
  });
});

describe('the day from which a batch keeps', () => {
  it('is by the line that goes last', () => {
    const items = [counted('CAP'), product('TIN', { shelfLifeDays: 10 })];
    const formulas = [formula('TIN', [line(1, 'CAP', 'each', 1)])];
    const lines = [ordered('a', 'TIN', 1, 8), ordered('b', 'TIN', 1, 12)];
    const { model, netted, attempt } = asDue({ items, formulas, lines });
    const fresh = attempt.scheduler.jobs.map(({ freshFrom }) => freshFrom - model.start);
    expect(netted.jobs.map(({ pegs }) => pegs.length)).toEqual([2]);
    expect(fresh).toEqual([2]);
  });
});

describe('of two plans', () => {
  it('one is better that serves better, and no worse that serves as well', () => {
    const { model, attempt } = asDue({ lines: [ordered('a', 'TIN', 1, 0), ordered('b', 'FILL', 1, 0)] });
    const again = attemptBy(model, attempt, attempt.scheduler, attempt.guide);
    const worse = { ...attempt, service: attempt.service.map((cost) => cost + 1) };
    expect([isBetter(attempt, worse), isBetter(worse, attempt), isBetter(attempt, again)]).toEqual([
      true,
      false,
      false,
    ]);
    expect([isNoWorse(attempt, worse), isNoWorse(worse, attempt), isNoWorse(attempt, again)]).toEqual([
      true,
      false,
      true,
    ]);
  });
});
