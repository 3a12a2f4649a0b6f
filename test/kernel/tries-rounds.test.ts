import { describe, expect, it, vi } from 'vitest';
import type { Attempt } from '../../src/kernel/plan/attempt.js';
import { buildModel } from '../../src/kernel/plan/model.js';
import { NOTHING_LEARNED, UNCUT } from '../../src/kernel/plan/netting.js';
import { Scheduler } from '../../src/kernel/plan/schedule.js';
import type { Snapshot, SnapshotItem } from '../../src/kernel/plan/snapshot.js';
import { attemptFor, beginRounds, quickAttemptFor } from '../../src/kernel/plan/tries.js';
import { bulk, comes, counted, lot, openShop, ordered, product } from '../support/open-shop.js';
import { formula, line } from '../support/workshop.js';

/** A spray takes a cap, a mist a bottle, and a kit both. Each batch takes all day at the bench. */
const shop = (rest: Partial<Snapshot>, about: Record<string, Partial<SnapshotItem>> = {}): Snapshot => {
  const all = { minutesBatch: 480 };
  return openShop({
    items: [...['CAP', 'BOTTLE'].map(counted), ...['SPRAY', 'MIST', 'KIT'].map((code) => product(code, about[code]))],
    formulas: [
      formula('SPRAY', [line(1, 'CAP', 'each', 1)], all),
      formula('MIST', [line(1, 'BOTTLE', 'each', 1)], all),
      formula('KIT', [line(1, 'BOTTLE', 'each', 1), line(2, 'CAP', 'each', 1)], all),
    ],
    lines: [ordered('spray', 'SPRAY', 4, 2)],
    ...rest,
  });
};
const caps = (free: number) => lot('C', 'CAP', free);
const bottles = (free: number) => lot('B', 'BOTTLE', free);

function begun(of: Snapshot) {
  const model = buildModel(of);
  const work = { cut: UNCUT, stepsLeft: Number.POSITIVE_INFINITY };
  const rounds = beginRounds(model, NOTHING_LEARNED, work);
  const first = rounds.first!;
  const daysOf = ({ netted, placed }: Attempt) =>
    Object.fromEntries(netted.jobs.map((job) => [job.key, (placed.get(job)!.day ?? Infinity) - model.start]));
  return { model, work, rounds, first, days: daysOf(first), placed: 120_000 - work.stepsLeft, daysOf };
}

describe('a plan as it is made at first', () => {
  it('is placed once where nothing is short and nothing waits', () => {
    expect(begun(shop({ lots: [caps(4)] }))).toMatchObject({ days: { 'SPRAY/1': 2 }, placed: 1 });
  });

  it('is placed anew where something is short or waits, as long as that changes anything', () => {
    // as it is due, after all others, and by what each was given
    expect(begun(shop({}))).toMatchObject({ days: { 'SPRAY/1': 2 }, placed: 3 });
    expect(begun(shop({ deliveries: [comes('D', 'CAP', 4, 6)] }))).toMatchObject({ days: { 'SPRAY/1': 6 }, placed: 3 });
  });

  it('lets what lacks something give its day to others', () => {
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    expect(begun(shop({ lots: [caps(4)], lines })).days).toEqual({ 'MIST/1': 1, 'SPRAY/1': 0 });
  });

  it('has nothing wait for what was given to it after all', () => {
    // the kit is due first and lacks its bottles, so that its caps are there for the spray
    const lines = [ordered('kit', 'KIT', 4, 1), ordered('spray', 'SPRAY', 4, 2)];
    const deliveries = [comes('D', 'CAP', 4, 6)];
    expect(begun(shop({ lots: [caps(4)], deliveries, lines })).days).toMatchObject({ 'SPRAY/1': 2 });
  });

  it('tries by what was given as long as that betters anything, and else once more by what that gave', () => {
    // one cap too few for all: the kits lack it, and the spray keeps its day
    const lines = [
      { ...ordered('a', 'KIT', 2, 2), weight: 4 },
      ordered('b', 'KIT', 2, 3),
      { ...ordered('c', 'SPRAY', 4, 2), weight: 3 },
      ordered('d', 'MIST', 1, 4),
    ];
    const short = begun(shop({ lots: [caps(7), bottles(6)], deliveries: [comes('D', 'BOTTLE', 5, 1)], lines }));
    expect(short).toMatchObject({ days: { 'KIT/1': 1, 'SPRAY/1': 2, 'MIST/1': 4 }, placed: 3 * 4 });
    // the kits wait for bottles that are too few as well
    const kits = [ordered('a', 'KIT', 2, 0), ordered('b', 'SPRAY', 2, 2), { ...ordered('c', 'KIT', 3, 1), weight: 2 }];
    const deliveries = [comes('C-2', 'CAP', 8, 4), comes('B-2', 'BOTTLE', 4, 6)];
    const waiting = begun(shop({ lots: [caps(3)], deliveries, lines: kits }));
    expect(waiting).toMatchObject({ days: { 'KIT/1': 4, 'SPRAY/1': 2 }, placed: 2 * 4 });
  });

  it('tries again where only one of two waits', () => {
    const lines = [ordered('mist', 'MIST', 4, 2), ordered('spray', 'SPRAY', 4, 2)];
    const one = shop({ lots: [caps(4)], deliveries: [comes('D', 'BOTTLE', 4, 6)], lines });
    expect(begun(one)).toMatchObject({ days: { 'MIST/1': 6, 'SPRAY/1': 2 }, placed: 2 * 3 });
  });

  it('may cost so many steps for each batch where it has thousands', () => {
    const of = shop({ lots: [caps(9_999)], lines: [ordered('spray', 'SPRAY', 3_001, 2)] });
    Object.assign(of.formulas[0]!, { batchMax: 1, minutesBatch: 0 });
    const { rounds, work } = begun(of);
    expect(rounds.stepsLeft).toBe(6 * 3_001);
    expect(work.stepsLeft).toBe(40 * 3_001 - 3_001);
    const few = begun(shop({ lots: [caps(4)] })).rounds;
    expect(few).toMatchObject({ stepsLeft: 8_000, isSearched: false });
  });
});

describe('the best plan by what was learned', () => {
  function found(of: Snapshot, about: { isSearched?: boolean; stepsLeft?: number } = {}) {
    const { model, rounds, work, first, daysOf } = begun(of);
    if (about.stepsLeft !== undefined) work.stepsLeft = about.stepsLeft;
    const before = work.stepsLeft;
    const attempt = attemptFor(model, NOTHING_LEARNED, { ...rounds, isSearched: about.isSearched === true });
    return { days: daysOf(attempt), steps: before - work.stepsLeft, isFirst: attempt === first };
  }
  const asIs = { steps: 0, isFirst: true };

  it('is the first where no refill takes what an order lacks', () => {
    expect(found(shop({ lots: [caps(4)] }))).toMatchObject(asIs);
    expect(found(shop({}))).toMatchObject(asIs);
    const stock = { SPRAY: { policy: 'to-stock', target: 6 } } as const;
    expect(found(shop({ lots: [caps(10)] }, stock))).toMatchObject(asIs);
    // stock alone lacks something
    expect(found(shop({ lots: [caps(4)] }, { MIST: { policy: 'to-stock', target: 6 } }))).toMatchObject(asIs);
  });

  it('keeps a refill that is made apart from what lacks something', () => {
    const of = shop({ lots: [caps(3)] }, { SPRAY: { policy: 'to-stock', target: 2 } });
    of.formulas[0]!.batchMax = 4;
    expect(found(of)).toMatchObject({ days: { 'SPRAY/1': 2, 'SPRAY/2': 0 }, ...asIs });
  });

  it('is placed as long as there are steps, and first of all without those that are made apart', () => {
    const placed = (of: Snapshot, stepsLeft: number, apart: string[] = []) => {
      const { model, rounds, work, daysOf } = begun(of);
      const before = work.stepsLeft;
      const attempt = attemptFor(
        model,
        { ...NOTHING_LEARNED, apart: new Set(apart) },
        { ...rounds, first: null, stepsLeft },
      );
      return { days: daysOf(attempt), steps: before - work.stepsLeft };
    };
    expect([0, 1, 2, 3, 9].map((stepsLeft) => placed(shop({}), stepsLeft).steps)).toEqual([1, 1, 2, 3, 3]);
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    const enough = shop({ lots: [caps(4), bottles(4)], lines });
    expect(placed(enough, 99).days).toEqual({ 'MIST/1': 0, 'SPRAY/1': 1 });
    expect(placed(enough, 99, ['mist']).days).toEqual({ 'MIST/1': 1, 'SPRAY/1': 0 });
  });

  it('does without a refill that is made at once with what is ordered, and takes what that lacks then', () => {
    const stock = { SPRAY: { policy: 'to-stock', target: 6 } } as const;
    expect(found(shop({ lots: [caps(4)] }, stock))).toEqual({ days: { 'SPRAY/1': 2 }, steps: 1, isFirst: false });
  });

  it('does without a refill for which the bulk of an order is not enough', () => {
    const of = openShop({
      items: [counted('OIL'), bulk('BULK'), product('SPRAY'), product('MIST', { policy: 'to-stock', target: 6 })],
      formulas: [
        formula('BULK', [line(1, 'OIL', 'each', 1)], { vesselKind: 'jug' }),
        ...['SPRAY', 'MIST'].map((code) => formula(code, [line(1, 'BULK', 'each', 1)])),
      ],
      vessels: [{ code: 'JUG', kind: 'jug', capacityMg: 1_000 }],
      lots: [lot('O', 'OIL', 10)],
      lines: [ordered('spray', 'SPRAY', 6, 2)],
    });
    expect(Object.keys(begun(of).days)).toEqual(['MIST/1', 'SPRAY/1', 'BULK/1']);
    expect(Object.keys(found(of).days)).toEqual(['SPRAY/1', 'BULK/1']);
  });

  it('takes of the steps that are left what it looks for, and two times all batches', () => {
    // nothing could go sooner, which a look at it as it is due shows
    const searched = { isSearched: true };
    expect(found(shop({ lots: [caps(4)] }), searched)).toMatchObject({ days: { 'SPRAY/1': 2 }, steps: 3 });
    expect(found(shop({ lots: [caps(4)] }), { ...searched, stepsLeft: 10 })).toMatchObject({ steps: 3 });
    expect(found(shop({ lots: [caps(4)] }), { ...searched, stepsLeft: 9 })).toMatchObject(asIs);
    // one of two is late whatever is tried, which takes all steps but ten for each batch
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    const late = shop({ lots: [caps(4), bottles(4)], lines });
    expect(found(late, { ...searched, stepsLeft: 26 })).toMatchObject({ steps: 6 + 4 });
  });

  it('is not bettered where that is not worth the work', () => {
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    const late = shop({ lots: [caps(4), bottles(4)], lines });
    const steps = (of: Snapshot, isHopeful: boolean) => {
      const { model, rounds, work } = begun(of);
      const before = work.stepsLeft;
      attemptFor(model, NOTHING_LEARNED, { ...rounds, first: null, isSearched: true, isHopeful: () => isHopeful });
      return before - work.stepsLeft;
    };
    // placed once, and never again: neither to look for a better order, nor for what is short
    expect(steps(late, true)).toBeGreaterThan(2);
    expect(steps(late, false)).toBe(2);
    expect(steps(shop({}), false)).toBe(1);
  });
});

describe('a plan that is made only to show whether it is better', () => {
  it('is not bettered where it begins with more late than the best began with', () => {
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    const { model, rounds, first } = begun(shop({ lots: [caps(4), bottles(4)], lines }));
    const searching = { ...rounds, isSearched: true };
    const place = model.terms.indexOf('late');
    const late = first.service[place]!;
    const quickBeside = (began: number) => {
      const unsearched = first.service.map((term, i) => (i === place ? began : term));
      const learned = { ...NOTHING_LEARNED, later: new Set(['spray']) };
      return quickAttemptFor(model, learned, searching, new Set(), { ...first, unsearched })!;
    };
    expect(late).toBe(1);
    const placeSpy = vi.spyOn(Scheduler.prototype, 'place');
    const placings = (began: number): number => {
      placeSpy.mockClear();
      quickBeside(began);
      return placeSpy.mock.calls.length;
    };
    expect(placings(late - 1)).toBe(1);
    expect(placings(late)).toBeGreaterThan(1);
    placeSpy.mockRestore();
  });

  it('remembers how it began, however it was bettered', () => {
    const lines = [ordered('mist', 'MIST', 4, 0), ordered('spray', 'SPRAY', 4, 0)];
    const { model, rounds, first } = begun(shop({ lots: [caps(4), bottles(4)], lines }));
    expect(first.unsearched).toBe(first.service);
    const attempt = attemptFor(model, NOTHING_LEARNED, { ...rounds, isSearched: true });
    expect(attempt.unsearched).toEqual(first.service);
  });
});
