import { describe, expect, it } from 'vitest';
import { addDays } from '../../src/kernel/measure/day.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot, SnapshotLine, SnapshotPour, SnapshotShown } from '../../src/kernel/plan/snapshot.js';
import { bulk, counted, day, lot, openShop, ordered, product } from '../support/open-shop.js';
import { faultsOf } from '../support/plan-checker.js';
import { patience, runs } from '../support/scale.js';
import { formula, line, randomWorkshop, seeded } from '../support/workshop.js';

/** What a plan shows, to be given to the next one. */
const shownBy = ({ batches, choices }: Proposal): SnapshotShown => ({
  pours: batches.flatMap(({ key, item, day: on, vessel, output }): SnapshotPour[] =>
    on === null ? [] : [{ key, item, day: on, vessel, output }],
  ),
  choices,
});

/** How many of the pours that were shown a plan has elsewhere, by other arithmetic than the plan's: one is struck off for one. */
function movedIn({ batches }: Proposal, { pours }: SnapshotShown): number {
  const at = ({ item, day: on, vessel }: { item: string; day: string | null; vessel: string | null }) =>
    `${item} on ${on} in ${vessel}`;
  const left = batches.map(at);
  return pours.filter((pour) => {
    const found = left.indexOf(at(pour));
    if (found !== -1) left.splice(found, 1);
    return found === -1;
  }).length;
}

/** Days from the workshop's today. */
const dayNumber = (on: string): number => [...Array(40).keys()].find((n) => day(n) === on)!;

describe('what was shown', () => {
  /** Two jugs, each of which holds what one order takes; what is made is ready the next day. */
  const shop = (lines: readonly SnapshotLine[], shown?: SnapshotShown, rest: Partial<Snapshot> = {}): Snapshot =>
    openShop({
      items: [counted('ALCOHOL'), bulk('MIX'), product('SPRAY')],
      formulas: [
        formula('MIX', [line(1, 'ALCOHOL', 'part', 1e9)], { vesselKind: 'jug', restDays: 1 }),
        formula('SPRAY', [line(1, 'MIX', 'each', 1000)]),
      ],
      vessels: ['J1', 'J2'].map((code) => ({ code, kind: 'jug', capacityMg: 10_000 })),
      lots: [lot('A', 'ALCOHOL', 1_000_000)],
      lines: [...lines],
      ...(shown && { shown }),
      ...rest,
    });
  const pours = (of: Snapshot): string[] =>
    plan(of).batches.map(({ item, day: on, vessel }) => `${item} ${on === null ? null : dayNumber(on)} ${vessel}`);
  const mixOn = (n: number, vessel: string): SnapshotPour => ({
    key: 'MIX/1',
    item: 'MIX',
    day: day(n),
    vessel,
    output: 10_000,
  });

  it('stays where it was, though it would be made elsewhere if it were new', () => {
    const lines = [ordered('a', 'SPRAY', 10, 9)];
    const anew = pours(shop(lines));
    expect(anew.filter((pour) => pour.startsWith('MIX'))).not.toContain('MIX 2 J2');
    const kept = pours(shop(lines, { pours: [mixOn(2, 'J2')] }));
    expect(kept.filter((pour) => pour.startsWith('MIX'))).toEqual(['MIX 2 J2']);
  });

  it('goes elsewhere where it can no longer be', () => {
    const lines = [ordered('a', 'SPRAY', 10, 9)];
    const shut = shop(lines, { pours: [mixOn(2, 'J2')] });
    shut.workshop.closedDays = [day(2)];
    expect(pours(shut)).toEqual(pours({ ...shut, shown: undefined }));
    // a vessel that is gone, and a day that is over
    expect(pours(shop(lines, { pours: [mixOn(2, 'GONE')] }))).toEqual(pours(shop(lines)));
    expect(pours(shop(lines, { pours: [mixOn(-3, 'J1')] }))).toEqual(pours(shop(lines)));
  });

  it('moves to save days, but of today and the next open day only to save a line', () => {
    // one jug, in which everything stands for three days; X can wait, and Y was not known when X was shown
    const oneJug = (xOn: number, yDue: number): string[] =>
      plan(
        openShop({
          items: [
            counted('ALCOHOL'),
            ...['X', 'Y'].map((code) => bulk(code)),
            ...['XS', 'YS'].map((code) => product(code)),
          ],
          formulas: ['X', 'Y'].flatMap((code) => [
            formula(code, [line(1, 'ALCOHOL', 'part', 1e9)], { vesselKind: 'jug', restDays: 3 }),
            formula(`${code}S`, [line(1, code, 'each', 1000)]),
          ]),
          vessels: [{ code: 'J', kind: 'jug', capacityMg: 10_000 }],
          lots: [lot('A', 'ALCOHOL', 1_000_000)],
          lines: [ordered('x', 'XS', 10, 30), ordered('y', 'YS', 10, yDue)],
          shown: { pours: [{ key: 'X/1', item: 'X', day: day(xOn), vessel: 'J', output: 10_000 }] },
        }),
      )
        .batches.filter(({ vessel }) => vessel === 'J')
        .map(({ item, day: on }) => `${item} ${dayNumber(on!)}`)
        .sort();
    expect(oneJug(0, 3)).toContain('Y 0');
    expect(oneJug(1, 3)).toContain('Y 0');
    // a day late at the best
    expect(oneJug(0, 2)).toContain('X 0');
    expect(oneJug(1, 2)).toContain('X 1');
    expect(oneJug(2, 2)).toContain('Y 0');
    expect(oneJug(20, 2)).toEqual(['X 20', 'Y 0']);
  });
});

describe('a plan after one retail order more', () => {
  const SHOPS = runs(20, 500);

  it(
    'moves at most two pours in 95 of 100, and serves no fewer',
    () => {
      let few = 0;
      const faults: string[] = [];
      const lacking = ({ lines }: Proposal) => lines.filter(({ lateDays, missing }) => lateDays > 0 || missing > 0);
      for (let seed = 1; seed <= SHOPS; seed++) {
        const below = seeded(seed);
        const before = randomWorkshop(seed, { products: 3 + (seed % 10), lines: 5 + (seed % 56) });
        const sold = before.items.filter(({ code }) => before.lines.some((each) => each.item === code));
        const shown = shownBy(plan(before));
        expect(movedIn(plan({ ...before, shown }), shown), `shop ${seed}, unchanged`).toBe(0);
        const retail: SnapshotLine = {
          key: 'retail/1',
          shipBy: addDays(before.today, 2 + below(8)),
          item: sold[below(sold.length)]!.code,
          quantity: 1 + below(3),
          notBefore: null,
        };
        const after: Snapshot = { ...before, lines: [...before.lines, retail] };
        const near = { ...after, shown };
        const answer = plan(near);
        for (const fault of faultsOf(near, answer)) faults.push(`shop ${seed}: ${fault}`);
        expect(lacking(answer).length, `shop ${seed}`).toBeLessThanOrEqual(lacking(plan(after)).length);
        if (movedIn(answer, shown) <= 2) few++;
      }
      expect(faults).toEqual([]);
      expect(few / SHOPS).toBeGreaterThanOrEqual(0.95);
    },
    patience(600_000),
  );
});
