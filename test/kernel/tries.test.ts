import { describe, expect, it } from 'vitest';
import { attemptAsDue } from '../../src/kernel/plan/attempt.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { net } from '../../src/kernel/plan/netting.js';
import { type Arrival, arrivals } from '../../src/kernel/plan/arrival.js';
import type { Snapshot, SnapshotItem } from '../../src/kernel/plan/snapshot.js';
import { isSettled, lacksNoMore, nameOf } from '../../src/kernel/plan/tries.js';
import { bulk, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

const comes = (key: string, free: number, on: number) => ({ key, item: 'CAP', free, day: day(on), expiresOn: null });

/** A spray takes a cap; placed as it is due, each batch waiting as long as is said, or for what it can expect. */
function attempt(rest: Partial<Snapshot>, waitsDays: number | null = null, about: Partial<SnapshotItem> = {}) {
  const model = buildModel(
    openShop({
      items: [counted('CAP'), product('SPRAY', about)],
      formulas: [formula('SPRAY', [line(1, 'CAP', 'each', 1)])],
      lines: [ordered('o', 'SPRAY', 4, 2)],
      ...rest,
    }),
  );
  const netted = net(model, new Set());
  const arrived = new Map<(typeof netted.jobs)[number], Arrival>();
  for (const [job, arrival] of arrivals(model, netted))
    arrived.set(job, waitsDays === null ? arrival : { ...arrival, earliest: model.start + waitsDays });
  return { model, made: attemptAsDue(model, { netted, last: new Set(), arrived }) };
}

describe('what a plan says', () => {
  const settled = (...of: Parameters<typeof attempt>) => {
    const { model, made } = attempt(...of);
    return isSettled(model, made);
  };

  it('is so where each batch waits for what it is given, and what is short is to be had nowhere', () => {
    expect(settled({ lots: [lot('C', 'CAP', 4)] })).toBe(true);
    expect(settled({ deliveries: [comes('D', 4, 6)] })).toBe(true);
    expect(settled({})).toBe(true);
    expect(settled({ deliveries: [comes('D', 3, 6)] })).toBe(true);
  });

  it('is not so where a batch waits for longer than for what it was given', () => {
    expect(settled({ deliveries: [comes('D', 4, 6)] }, 6)).toBe(true);
    expect(settled({ deliveries: [comes('D', 4, 6)] }, 7)).toBe(false);
    expect(settled({ lots: [lot('C', 'CAP', 4)] }, 3)).toBe(false);
  });

  it('is so where a batch that could be made sooner is in time', () => {
    expect(settled({ lots: [lot('C', 'CAP', 4)], lines: [ordered('o', 'SPRAY', 4, 20)] }, 3)).toBe(true);
  });

  it('is not so where an order lacks what nobody else has taken', () => {
    // made on day 2 it lacks what comes on day 6
    expect(settled({ deliveries: [comes('D', 4, 6)] }, 0)).toBe(false);
    expect(settled({ deliveries: [comes('D', 3, 6)] }, 0)).toBe(true);
    // stock may wait for the next plan
    const stock = { policy: 'to-stock', target: 4 } as const;
    expect(settled({ lines: [], deliveries: [comes('D', 4, 6)] }, 0, stock)).toBe(true);
  });
});

it('is not settled where a filling lacks what is left over for it, though its bulk is made', () => {
  const { model, made } = attempt(
    {
      items: [counted('CAP'), counted('OIL'), bulk('BULK'), product('SPRAY')],
      formulas: [
        formula('BULK', [line(1, 'OIL', 'each', 1)]),
        formula('SPRAY', [line(1, 'BULK', 'each', 1), line(2, 'CAP', 'each', 1)]),
      ],
      lots: [lot('O', 'OIL', 4)],
      deliveries: [comes('D', 4, 6)],
    },
    0,
  );
  expect(isSettled(model, made)).toBe(false);
});

describe('one plan lacks no more than another', () => {
  const capped = (caps: number, lines = [ordered('o', 'SPRAY', 4, 2)]) =>
    attempt({ lines, lots: [lot('C', 'CAP', caps)] }).made;

  it('where it lacks nothing, or as much or less of everything', () => {
    expect(lacksNoMore(capped(4), capped(3))).toBe(true);
    expect(lacksNoMore(capped(3), capped(3))).toBe(true);
    expect(lacksNoMore(capped(3), capped(2))).toBe(true);
    expect(lacksNoMore(capped(4), capped(4))).toBe(true);
  });

  it('but not where it lacks more of anything', () => {
    expect(lacksNoMore(capped(2), capped(3))).toBe(false);
    expect(lacksNoMore(capped(3), capped(4))).toBe(false);
  });

  it('nor where it lacks more of one thing and less of another', () => {
    const two = (caps: number, bottles: number) =>
      attempt({
        items: [counted('CAP'), counted('BOTTLE'), product('SPRAY')],
        formulas: [formula('SPRAY', [line(1, 'CAP', 'each', 1), line(2, 'BOTTLE', 'each', 1)])],
        lots: [lot('C', 'CAP', caps), lot('B', 'BOTTLE', bottles)],
      }).made;
    expect(lacksNoMore(two(2, 3), two(3, 2))).toBe(false);
    expect(lacksNoMore(two(3, 2), two(2, 3))).toBe(false);
  });

  it('in all its batches together', () => {
    const two = [ordered('o', 'SPRAY', 4, 2), ordered('p', 'SPRAY', 4, 20)];
    const one = [ordered('o', 'SPRAY', 7, 2)];
    expect(lacksNoMore(capped(0, two), capped(0, one))).toBe(false);
    expect(lacksNoMore(capped(0, one), capped(0, two))).toBe(true);
  });
});

it('calls plans the same that make the same batches for the same needs', () => {
  const named = (...lines: [quantity: number, due: number][]) =>
    nameOf(attempt({ lines: lines.map(([quantity, due], n) => ordered(`o${n}`, 'SPRAY', quantity, due)) }).made.netted);
  expect(named([4, 20], [3, 40])).toBe(named([4, 20], [3, 40]));
  const others = [named([4, 20], [4, 40]), named([4, 20], [3, 41]), named([4, 20]), named([2, 20], [2, 20], [3, 40])];
  expect(new Set([named([4, 20], [3, 40]), ...others]).size).toBe(5);
  expect(named([1, 20], [3, 20])).not.toBe(named([2, 20], [2, 20]));
});
