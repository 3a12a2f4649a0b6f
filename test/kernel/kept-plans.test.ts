import { createHash } from 'node:crypto';
import { expect, it } from 'vitest';
import { addDays } from '../../src/kernel/measure/day.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { expiryWeek } from '../support/exact/expiries.js';
import { shortage } from '../support/exact/shortages.js';
import { PLENTY, smallWeek } from '../support/exact/weeks.js';
import { randomWorkshop, seeded } from '../support/workshop.js';

/*
 * A plan never changes unnoticed: what each of some weeks and workshops, drawn from seeds, was last planned to is kept in
 * test/data/plans. Nothing says here that it is right; other tests do. Where plans are meant to change,
 * `npx vitest run test/kernel/kept-plans.test.ts -u` writes the files again: read the difference, better and worse.
 */
const seeds = (count: number): number[] => Array.from({ length: count }, (_, n) => n + 1);

const workshop = (seed: number): Snapshot => randomWorkshop(seed, { products: 3 + (seed % 5), lines: 3 * (seed % 8) });

/** A week in which some lines count for more or are urgent. */
function weighed(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed);
  for (const line of shop.lines) {
    if (pick(3) === 0) line.weight = 1 + pick(9);
    if (pick(7) === 0) line.urgent = true;
  }
  return shop;
}

/** A week in which there is less of what lies there and comes, and some of it ends. */
function scarce(shop: Snapshot, seed: number): Snapshot {
  const pick = seeded(seed);
  const some = (item: string): number => (1 + pick(9)) * (['WAX', 'OIL'].includes(item) ? 500_000 : 6);
  for (const row of shop.lots.filter(({ free }) => free === PLENTY && pick(3) === 0)) {
    row.free = row.onHand = row.valueE4 = some(row.item);
    if (pick(2) === 0) row.expiresOn = addDays(shop.today, 1 + pick(20));
  }
  for (const row of shop.deliveries.filter(({ free }) => free === PLENTY && pick(2) === 0)) row.free = some(row.item);
  return shop;
}

const KEPT: Record<string, Snapshot[]> = {
  late: seeds(5).map(smallWeek),
  shortage: seeds(8).map(shortage),
  expiry: seeds(10).map(expiryWeek),
  workshops: seeds(28).map(workshop),
  // each of these shows something that no other does
  others: [...[106, 190, 221].map(workshop), weighed(shortage(98), 98)],
  scarce: [29, 71, 156, 194, 327, 532, 590].map((seed) => weighed(scarce(smallWeek(seed), seed), seed)),
};

/** What a person would ask first, and a digest of all the rest. */
function told(shop: Snapshot, index: number): string {
  // how it was made is for the next plan alone
  const { choices: _choices, ...proposal } = plan(shop);
  const { batches, lines, shortfalls } = proposal;
  const late = lines.filter(({ lateDays }) => lateDays > 0);
  const days = late.reduce((sum, { lateDays }) => sum + lateDays, 0);
  const open = lines.filter(({ readyOn }) => readyOn === null).length;
  const digest = createHash('sha256').update(JSON.stringify(proposal)).digest('hex').slice(0, 16);
  return (
    `${index + 1}: ${lines.length} lines, ${late.length} late by ${days} days, ${open} open; ` +
    `${batches.length} batches; ${shortfalls.length} short; ${digest}`
  );
}

it.each(Object.keys(KEPT))('plans the same as before: %s', async (family) => {
  const text = KEPT[family]!.map(told).join('\n');
  await expect(`${text}\n`).toMatchFileSnapshot(`../data/plans/${family}.txt`);
});
