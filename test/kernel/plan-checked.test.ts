import { beforeAll, describe, expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Proposal } from '../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { withEverythingSaid } from '../support/everything-said.js';
import { faultsOf, withShortBought } from '../support/plan-checker.js';
import { withRandomPeople } from '../support/people.js';
import { isForMutants, patience, runs } from '../support/scale.js';
import { withRandomSends } from '../support/sends.js';
import { withRandomWashing } from '../support/washing.js';
import { emptyWorkshop, formula, item, line, randomWorkshop } from '../support/workshop.js';

const SHOPS = runs(30, 1_000);
const WASHING_SHOPS = runs(60, 1_000);
const PEOPLED_SHOPS = runs(60, 1_000);
const EVERYTHING_SHOPS = runs(20, 1_000);
const SENDING_SHOPS = runs(30, 140);

/** Beside mutants there are fewer, and not only the first, which are small. */
const seedsTo = (many: number): number[] => Array.from({ length: many }, (_, n) => (n + 1) * (isForMutants ? 5 : 1));

const drawn = (seed: number): Snapshot => randomWorkshop(seed, { products: 3 + (seed % 10), lines: seed % 61 });

/** What is wrong with the plans of these workshops; `look` sees each of them. */
function faultsIn(
  seeds: readonly number[],
  shopOf: (seed: number) => Snapshot,
  look?: (seed: number, shop: Snapshot, answer: Proposal) => void,
): string[] {
  return seeds.flatMap((seed) => {
    const shop = shopOf(seed);
    const answer = plan(shop);
    look?.(seed, shop, answer);
    return faultsOf(shop, answer).map((fault) => `shop ${seed}: ${fault}`);
  });
}

/** What orders lack that can be bought, once exactly what the plan calls short is bought. */
function shortOnceBought(seed: number, shop: Snapshot, answer: Proposal): string[] {
  const again = plan(withShortBought(shop, answer));
  const bought = new Set(shop.items.filter(({ kind }) => kind === 'material').map(({ code }) => code));
  return again.shortfalls
    .filter(({ item: code, hurts }) => bought.has(code) && hurts.lines.length > 0)
    .map(({ item: code, quantity }) => `shop ${seed}: ${quantity} of ${code}`);
}

describe('plans of random workshops', () => {
  const faults: string[] = [];
  const short: string[] = [];
  beforeAll(() => {
    const seeds = Array.from({ length: SHOPS }, (_, n) => n + 1);
    faults.push(...faultsIn(seeds, drawn, (seed, shop, answer) => short.push(...shortOnceBought(seed, shop, answer))));
  }, patience(300_000));

  it('hold in every figure, by other arithmetic', () => {
    expect(faults.slice(0, 40)).toEqual([]);
  });

  it('lack nothing that can be bought once exactly what they call short is bought', () => {
    expect(short.slice(0, 40)).toEqual([]);
  });
});

describe('plans of random workshops that wash between pours', () => {
  it(
    'hold in every figure, by other arithmetic',
    () => {
      let [washed, rewashed] = [0, 0];
      const shopOf = (seed: number): Snapshot => withRandomWashing(drawn(seed), seed);
      const faults = faultsIn(seedsTo(WASHING_SHOPS), shopOf, (_seed, _shop, answer) => {
        washed += answer.batches.filter(({ wash }) => wash).length;
        rewashed += answer.rewashed?.length ?? 0;
      });
      expect(faults.slice(0, 40)).toEqual([]);
      expect(washed).toBeGreaterThan(0);
      // which happens in one of thirty
      if (!isForMutants) expect(rewashed).toBeGreaterThan(0);
    },
    patience(300_000),
  );
});

describe('plans of random workshops where only some may do some things', () => {
  it(
    'hold in every figure, by other arithmetic',
    () => {
      const reasons = new Set<string | null>();
      const shopOf = (seed: number): Snapshot => {
        const peopled = withRandomPeople(drawn(seed), seed);
        return seed % 2 === 0 ? peopled : withRandomWashing(peopled, seed);
      };
      const faults = faultsIn(seedsTo(PEOPLED_SHOPS), shopOf, (_seed, _shop, answer) => {
        for (const { heldUpBy } of answer.batches) reasons.add(heldUpBy);
      });
      expect(faults.slice(0, 40)).toEqual([]);
      expect(reasons).toContain('skill-full');
      expect(reasons).toContain('nobody-may');
    },
    patience(300_000),
  );
});

describe('plans of random workshops that say all they can', () => {
  it(
    'hold in every figure, by other arithmetic',
    () => {
      const faults = faultsIn(seedsTo(EVERYTHING_SHOPS), (seed) => withEverythingSaid(drawn(seed), seed));
      expect(faults.slice(0, 40)).toEqual([]);
    },
    patience(300_000),
  );
});

describe('plans of random workshops that send orders complete or in parts', () => {
  const faults: string[] = [];
  const short: string[] = [];
  const seen = { together: 0, keptBack: 0, waiting: 0, split: 0 };
  beforeAll(() => {
    const shopOf = (seed: number): Snapshot => withRandomSends(drawn(seed), seed);
    const look = (seed: number, shop: Snapshot, answer: Proposal): void => {
      short.push(...shortOnceBought(seed, shop, answer));
      const ofOrder = answer.lines.filter(({ waitsFor }) => waitsFor);
      seen.keptBack += ofOrder.filter(({ readyOn }) => readyOn === null).length;
      seen.waiting += ofOrder.filter(({ readyOn }) => readyOn !== null).length;
      seen.together += shop.lines.filter(({ sends }) => sends === 'complete').length;
      seen.split += answer.lines.filter(({ parts }) => parts && parts.length > 1).length;
    };
    faults.push(...faultsIn(seedsTo(SENDING_SHOPS), shopOf, look));
  }, patience(300_000));

  it('hold in every figure, by other arithmetic', () => {
    expect(faults.slice(0, 40)).toEqual([]);
    if (!isForMutants) for (const times of Object.values(seen)) expect(times).toBeGreaterThan(0);
  });

  it('lack nothing that can be bought once exactly what they call short is bought', () => {
    expect(short.slice(0, 40)).toEqual([]);
  });
});

describe('what keeps for some days only', () => {
  it('is poured again for what cannot be filled before it is over', () => {
    const shop = sprays({}, 30_000_000);
    shop.items.find(({ code }) => code === 'BULK')!.shelfLifeDays = 3;
    shop.items.push(item('CAP', { measure: 'counted' }), item('MIST', { kind: 'product', measure: 'counted' }));
    shop.formulas.push(formula('MIST', [line(1, 'BULK', 'each', 100_000, 'fill'), line(2, 'CAP', 'each', 1, 'fill')]));
    // due on one day, and the caps of one come two weeks later
    shop.lines.push({ key: 'B', item: 'MIST', quantity: 10, shipBy: '2027-01-15', notBefore: null });
    shop.deliveries.push({ key: 'CAPS', item: 'CAP', free: 10, day: '2027-01-29', expiresOn: null });
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([
      { key: 'A', missing: 0, lateDays: 0 },
      { key: 'B', missing: 0, readyOn: '2027-01-29', because: 'delivery' },
    ]);
    expect(answer.batches.filter(({ item: of }) => of === 'BULK')).toHaveLength(2);
  });

  it.each(['lots', 'making'] as const)('is made anew where %s are over when the bottles come', (where) => {
    const shop = sprays({}, 30_000_000);
    const free = 6_000_000;
    const expiresOn = '2027-01-16';
    shop.formulas[1]!.lines.push(line(2, 'CAP', 'each', 1, 'fill'));
    shop.items.push(item('CAP', { measure: 'counted' }));
    shop.deliveries.push({ key: 'CAPS', item: 'CAP', free: 60, day: '2027-01-29', expiresOn: null });
    if (where === 'lots') shop.lots.push({ code: 'OLD', item: 'BULK', free, onHand: free, valueE4: 0, expiresOn });
    else {
      const [day, readyOn, emptiedOn] = ['2027-01-04', '2027-01-05', '2027-01-05'];
      shop.making.push({
        code: 'OLD',
        item: 'BULK',
        free,
        day,
        readyOn,
        emptiedOn,
        vessel: null,
        minutes: 0,
        expiresOn,
      });
    }
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([{ missing: 0, readyOn: '2027-01-29' }]);
    const filled = answer.batches.find(({ item: of }) => of === 'SPRAY')!;
    expect(filled.inputs[0]!.taken).toMatchObject([{ from: 'batch', key: 'BULK/1' }]);
  });

  it('is not made for a customer who is owed more life than its rest leaves, and the plan says so', () => {
    const shop = sprays({}, 30_000_000);
    Object.assign(
      shop.items.find(({ code }) => code === 'SPRAY')!,
      { shelfLifeDays: 40, owedLifeDays: 30 },
    );
    shop.formulas[1]!.restDays = 11;
    const { lines, batches } = plan(shop);
    expect(lines).toMatchObject([{ missing: 60, because: 'never-fresh' }]);
    expect(batches).toEqual([]);
    // one day less of rest leaves it no day but one
    shop.formulas[1]!.restDays = 10;
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([{ missing: 0, lateDays: 0 }]);
    expect(answer.batches.find(({ item: of }) => of === 'SPRAY')).toMatchObject({ day: '2027-01-05' });
  });
});

describe('a line that is not to go before a day', () => {
  it('is ready on that day at the soonest, and of nothing that is over by then', () => {
    const shop = emptyWorkshop({
      items: [item('CARD', { measure: 'counted', owedLifeDays: 5 })],
      lots: ['2027-01-19', '2027-01-20'].map((expiresOn, n) => ({
        code: `L${n}`,
        item: 'CARD',
        free: 10,
        onHand: 10,
        valueE4: 0,
        expiresOn,
      })),
      lines: [{ key: 'A', item: 'CARD', quantity: 12, shipBy: '2027-01-15', notBefore: '2027-01-15' }],
    });
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([{ taken: [{ key: 'L1', quantity: 10 }], missing: 2, readyOn: null }]);
    shop.lines[0]!.quantity = 10;
    expect(plan(shop).lines).toMatchObject([{ missing: 0, readyOn: '2027-01-15', lateDays: 0, because: null }]);
  });
});

describe('a batch below the least of its formula', () => {
  it.each([
    ['vessel', { batchMin: 40_000_000 }, {}],
    ['formula', { batchMin: 7_000_000, batchMax: 7_500_000, batchMultiple: 4_000_000 }, {}],
    ['bench', {}, { batchMin: 3_000, secondsUnit: 300, minutesBatch: 30 }],
    ['source', {}, { batchMin: 400 }],
  ] as const)('says that the %s allows no more', (limit, pour, filling) => {
    const shop = sprays(pour, 30_000_000);
    Object.assign(shop.formulas[1]!, filling);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    const below = answer.batches.filter(({ belowLeast }) => belowLeast !== null);
    expect(below.map(({ belowLeast }) => belowLeast)).toContain(limit);
    expect(answer.lines).toMatchObject([{ missing: 0 }]);
  });
});

/** Bottles of 100 g out of a bulk that is made in a jug. */
const sprays = (pour: Parameters<typeof formula>[2], ...jugs: number[]) =>
  emptyWorkshop({
    items: [
      item('BASE', { stocked: false }),
      item('BULK', { kind: 'bulk' }),
      item('SPRAY', { kind: 'product', measure: 'counted' }),
    ],
    formulas: [
      formula('BULK', [line(1, 'BASE', 'part', 1_000_000_000)], { vesselKind: 'jug', ...pour }),
      formula('SPRAY', [line(1, 'BULK', 'each', 100_000, 'fill')]),
    ],
    vessels: jugs.map((capacityMg, n) => ({ code: `JUG-${n + 1}`, kind: 'jug', capacityMg })),
    lines: [{ key: 'A', item: 'SPRAY', quantity: 60, shipBy: '2027-01-15', notBefore: null }],
  });

describe('a plan', () => {
  it('fills no bottle from two pours that need one jug', () => {
    const shop = sprays({ batchMultiple: 500_000, restDays: 3 }, 3_200_000);
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines[0]).toMatchObject({ missing: 0 });
    for (const batch of answer.batches.filter(({ item: code }) => code === 'SPRAY'))
      expect(batch.inputs[0]!.taken.map(({ from }) => from)).toEqual(['batch']);
  });

  it.each([
    ['a kind of vessel that nobody has', { vesselKind: 'kettle' }],
    ['a residue as large as the vessel', { residueMg: 3_200_000 }],
  ])('leaves one batch without a day for %s, and says that no vessel holds it', (_, pour) => {
    const shop = sprays(pour, 3_200_000);
    const { batches, lines } = plan(shop);
    expect(batches.filter(({ item: code }) => code === 'BULK')).toMatchObject([{ day: null, heldUpBy: 'too-large' }]);
    expect(lines).toMatchObject([{ missing: 60, readyOn: null }]);
  });

  it('makes in several batches what takes longer than a day', () => {
    const shop = sprays({}, 30_000_000);
    shop.formulas[1]!.minutesBatch = 10;
    shop.formulas[1]!.secondsUnit = 10_000;
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    // 470 minutes are 28,200 seconds: two bottles a day
    expect(answer.batches.filter(({ item: code }) => code === 'SPRAY')).toHaveLength(30);
  });

  it('gives no day to what takes longer than any day even at its smallest, and says so', () => {
    const shop = sprays({ minutesBatch: 10_010 }, 30_000_000);
    const { batches, lines } = plan(shop);
    expect(batches.filter(({ item: code }) => code === 'BULK')).toMatchObject([{ day: null, heldUpBy: 'too-long' }]);
    expect(lines).toMatchObject([{ missing: 60, readyOn: null }]);
  });

  it('calls late, not short, what a delivery brings the day after it should ship', () => {
    const shop = emptyWorkshop({
      items: [item('CARD', { measure: 'counted' })],
      deliveries: [{ key: 'PO-1', item: 'CARD', free: 10, day: '2027-01-13', expiresOn: null }],
      lots: [{ code: 'L', item: 'CARD', free: 2, onHand: 2, valueE4: 0, expiresOn: null }],
      lines: [{ key: 'A', item: 'CARD', quantity: 12, shipBy: '2027-01-12', notBefore: null }],
    });
    const { lines, shortfalls } = plan(shop);
    expect(lines).toMatchObject([{ missing: 0, readyOn: '2027-01-13', lateDays: 1, because: 'delivery' }]);
    expect(shortfalls).toEqual([]);
  });

  it('decants a base whose only kettle the bulk made with it needs', () => {
    const shop = sprays({ restDays: 2 }, 9_000_000);
    shop.items.push(item('ESSENCE', { kind: 'bulk' }));
    shop.formulas.push(
      formula('ESSENCE', [line(1, 'BASE', 'part', 1_000_000_000)], { vesselKind: 'jug', restDays: 1 }),
    );
    shop.formulas[0]!.lines = [line(1, 'ESSENCE', 'part', 1_000_000_000)];
    const answer = plan(shop);
    expect(faultsOf(shop, answer)).toEqual([]);
    expect(answer.lines).toMatchObject([{ missing: 0, lateDays: 0 }]);
    const [essence, bulk] = ['ESSENCE', 'BULK'].map((code) => answer.batches.find(({ item: of }) => of === code)!);
    expect([essence!.vessel, bulk!.vessel]).toEqual(['JUG-1', 'JUG-1']);
    expect(essence!.decant).toEqual({ on: essence!.emptiedOn, for: 'BULK/1' });
    expect(bulk!.decant).toBeNull();
  });
});
