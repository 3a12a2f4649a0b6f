import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dayOf } from '../../src/kernel/measure/day.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Proposal, Taken } from '../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { randomWorkshop, seeded } from '../support/workshop.js';
import { runs } from '../support/scale.js';

const sizes = fc.record({
  seed: fc.integer({ min: 0, max: 1_000_000 }),
  products: fc.integer({ min: 3, max: 12 }),
  lines: fc.integer({ min: 0, max: 60 }),
});

/** The same workshops are asked about many things, and planned once. */
const planned = new Map<string, { shop: Snapshot; proposal: Proposal }>();
const KEPT = 300;

function plannedShop(seed: number, size: { products: number; lines: number }): { shop: Snapshot; proposal: Proposal } {
  const key = JSON.stringify([seed, size]);
  const known = planned.get(key);
  if (known) return known;
  const shop = randomWorkshop(seed, size);
  const found = { shop, proposal: plan(shop) };
  if (planned.size < KEPT) planned.set(key, found);
  return found;
}

const forAll = (check: (shop: Snapshot, proposal: Proposal, seed: number) => void, count = runs(50, 5_000)): void =>
  fc.assert(
    fc.property(sizes, ({ seed, ...size }) => {
      const { shop, proposal } = plannedShop(seed, size);
      check(shop, proposal, seed);
    }),
    { numRuns: count },
  );

const shuffled = <T>(rows: readonly T[], seed: number): T[] => {
  const pick = seeded(seed);
  const copy = [...rows];
  for (let i = copy.length - 1; i > 0; i--) {
    const j = pick(i + 1);
    [copy[i], copy[j]] = [copy[j]!, copy[i]!];
  }
  return copy;
};

const allTakes = (proposal: Proposal): (Taken & { day: string; item: string; until: string })[] => [
  ...proposal.batches.flatMap((batch) =>
    batch.inputs.flatMap((input) =>
      input.taken.map((taken) => ({ ...taken, day: input.needOn!, item: input.item, until: input.needOn! })),
    ),
  ),
  ...proposal.lines.flatMap((row) =>
    row.taken.map((taken) => ({ ...taken, day: row.readyOn ?? '9999-12-31', item: row.item, until: row.shipBy })),
  ),
];

describe('plan, on random workshops', () => {
  it('gives the same bytes whatever the order of the rows', () => {
    forAll((shop, proposal, seed) => {
      const mixed: Snapshot = {
        ...shop,
        items: shuffled(shop.items, seed),
        formulas: shuffled(shop.formulas, seed + 1),
        vessels: shuffled(shop.vessels, seed + 2),
        lots: shuffled(shop.lots, seed + 3),
        deliveries: shuffled(shop.deliveries, seed + 4),
        lines: shuffled(shop.lines, seed + 5),
        packs: shuffled(shop.packs, seed + 6),
        use: shuffled(shop.use, seed + 7),
      };
      expect(JSON.stringify(plan(mixed))).toBe(JSON.stringify(proposal));
    });
  });

  it('never takes more of a lot or delivery than is free', () => {
    forAll((shop, proposal) => {
      const left = new Map<string, number>();
      for (const lot of shop.lots) left.set(`lot ${lot.code}`, lot.free);
      for (const delivery of shop.deliveries) left.set(`delivery ${delivery.key}`, delivery.free);
      for (const row of shop.making) left.set(`making ${row.code}`, row.free);
      for (const batch of proposal.batches) left.set(`batch ${batch.key}`, batch.output);
      for (const taken of allTakes(proposal)) {
        const key = `${taken.from} ${taken.key}`;
        left.set(key, (left.get(key) ?? 0) - taken.quantity);
        expect(taken.quantity).toBeGreaterThan(0);
        expect(left.get(key)).toBeGreaterThanOrEqual(0);
      }
    });
  });

  it('uses nothing before it arrives nor after its date, and ships with the life that is owed', () => {
    forAll((shop, proposal) => {
      const lots = new Map(shop.lots.map((lot) => [lot.code, lot]));
      const deliveries = new Map(shop.deliveries.map((delivery) => [delivery.key, delivery]));
      for (const taken of allTakes(proposal)) {
        const expires =
          taken.from === 'lot'
            ? lots.get(taken.key)!.expiresOn
            : taken.from === 'delivery'
              ? deliveries.get(taken.key)!.expiresOn
              : null;
        expect((expires ?? '9999-12-31') >= taken.until, `${taken.key} until ${taken.until}`).toBe(true);
        expect((expires ?? '9999-12-31') >= shop.today).toBe(true);
        if (taken.from === 'delivery') {
          const there = dayOf(deliveries.get(taken.key)!.day) + shop.workshop.receivingDays;
          expect(there, taken.key).toBeLessThanOrEqual(dayOf(taken.day));
        }
      }
      const owed = new Map(shop.items.map((row) => [row.code, row.owedLifeDays]));
      for (const row of proposal.lines)
        for (const taken of row.taken)
          if (taken.from === 'lot' && lots.get(taken.key)!.expiresOn)
            expect(dayOf(lots.get(taken.key)!.expiresOn!)).toBeGreaterThanOrEqual(
              dayOf(row.shipBy) + owed.get(row.item)!,
            );
    });
  });

  it('weighs out sheets that sum to the batch and covers every input or says what is missing', () => {
    forAll((shop, proposal) => {
      const measure = new Map(shop.items.map((row) => [row.code, row.measure]));
      for (const batch of proposal.batches) {
        const weighed = batch.inputs.filter((input) => measure.get(input.item) === 'weighed');
        expect(weighed.reduce((sum, input) => sum + input.quantity, 0)).toBe(batch.putInMg);
        for (const input of batch.inputs) {
          const taken = input.taken.reduce((sum, t) => sum + t.quantity, 0);
          if (batch.short || !input.stocked) expect(taken).toBe(0);
          else expect(taken + input.missing, `${batch.key} ${input.item}`).toBe(input.quantity);
          if (!batch.short) expect(input.missing).toBe(0);
        }
      }
      for (const row of proposal.lines)
        expect(row.taken.reduce((sum, t) => sum + t.quantity, 0) + row.missing).toBe(row.quantity);
    });
  });

  it('makes what comes out enough for what it is made for, and says for whom all of it is', () => {
    forAll((_shop, proposal) => {
      for (const batch of proposal.batches) {
        expect(
          batch.madeFor.reduce((sum, peg) => sum + peg.quantity, 0),
          batch.key,
        ).toBe(batch.output);
        expect(batch.forOrders).toBeLessThanOrEqual(batch.output);
      }
      const given = new Map<string, number>();
      for (const batch of proposal.batches)
        for (const peg of batch.madeFor)
          if (peg.for === 'batch')
            given.set(`${batch.key}>${peg.key}`, (given.get(`${batch.key}>${peg.key}`) ?? 0) + peg.quantity);
      for (const batch of proposal.batches)
        for (const input of batch.inputs)
          for (const taken of input.taken)
            if (taken.from === 'batch')
              expect(given.get(`${taken.key}>${batch.key}`)).toBeGreaterThanOrEqual(taken.quantity);
    });
  });

  it('keeps within bench minutes, opens no vessel twice, and uses a bulk only when it is ready', () => {
    forAll((shop, proposal) => {
      const minutes = new Map<string, number[]>();
      for (const batch of proposal.batches)
        if (batch.day) minutes.set(batch.day, [...(minutes.get(batch.day) ?? []), batch.minutes]);
      for (const [day, list] of minutes) {
        const open = shop.workshop.benchMinutes[(dayOf(day) + 3) % 7]!;
        expect(open, day).toBeGreaterThan(0);
        expect(
          list.reduce((a, b) => a + b, 0) <= open || list.filter((m) => m > 0).length === 1,
          `${day} ${list}`,
        ).toBe(true);
        expect(day >= proposal.today && day >= proposal.weekStart).toBe(true);
      }
      const stays = proposal.batches.filter((batch) => batch.vessel);
      for (const a of stays)
        for (const b of stays)
          if (a !== b && a.vessel === b.vessel)
            expect(a.emptiedOn! < b.day! || b.emptiedOn! < a.day!, `${a.key} ${b.key}`).toBe(true);
      const byKey = new Map(proposal.batches.map((batch) => [batch.key, batch]));
      for (const batch of proposal.batches)
        for (const taken of batch.inputs.flatMap((input) => input.taken))
          if (taken.from === 'batch') expect(byKey.get(taken.key)!.readyOn! <= batch.day!).toBe(true);
    });
  });

  it('never serves stock while a customer with the same need goes without', () => {
    forAll((shop, proposal) => {
      // every shortfall that hurts an order: no refill of stock may hold a lot of that item that would have served it
      for (const shortfall of proposal.shortfalls.filter((s) => s.hurts.lines.length > 0)) {
        // a batch made from one that is short gave its inputs back: it could not be made with them either
        const waits = new Set(
          proposal.batches
            .filter((batch) => batch.short)
            .flatMap((batch) => batch.madeFor)
            .filter((peg) => peg.for === 'batch')
            .map((peg) => peg.key),
        );
        const hurt = proposal.batches.filter((batch) => batch.short && batch.forOrders > 0 && !waits.has(batch.key));
        if (hurt.length === 0) continue;
        const onlyThisIsMissing = hurt.filter(
          (batch) =>
            batch.inputs.every((input) => input.missing === 0 || input.item === shortfall.item) &&
            batch.inputs.some((input) => input.item === shortfall.item && input.missing > 0),
        );
        for (const batch of onlyThisIsMissing) {
          const missing = batch.inputs.find((input) => input.item === shortfall.item && input.missing > 0)!;
          const heldByStock = proposal.batches
            .filter((other) => other.forOrders === 0 && !other.short)
            .flatMap((other) => other.inputs)
            .filter((input) => input.item === shortfall.item)
            .flatMap((input) => input.taken)
            .filter(
              (taken) =>
                taken.from === 'lot' &&
                (shop.lots.find((lot) => lot.code === taken.key)!.expiresOn ?? '9999') >= missing.needOn!,
            )
            .reduce((sum, taken) => sum + taken.quantity, 0);
          expect(heldByStock, `${batch.key} misses ${shortfall.item}`).toBeLessThan(missing.quantity);
        }
      }
    });
  });
});
