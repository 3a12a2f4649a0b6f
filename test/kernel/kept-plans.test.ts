import { createHash } from 'node:crypto';
import { expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { expiryWeek } from '../support/exact/expiries.js';
import { shortage } from '../support/exact/shortages.js';
import { smallWeek } from '../support/exact/weeks.js';
import { randomWorkshop } from '../support/workshop.js';

/*
 * A plan never changes unnoticed: what each of some weeks and workshops, drawn from seeds, was last planned to is kept in
 * test/data/plans. Nothing says here that it is right; other tests do. Where plans are meant to change,
 * `npx vitest run test/kernel/kept-plans.test.ts -u` writes the files again: read the difference, better and worse.
 */
const seeds = (count: number): number[] => Array.from({ length: count }, (_, n) => n + 1);

const KEPT: Record<string, Snapshot[]> = {
  late: seeds(5).map(smallWeek),
  shortage: seeds(8).map(shortage),
  expiry: seeds(10).map(expiryWeek),
  workshops: seeds(28).map((seed) => randomWorkshop(seed, { products: 3 + (seed % 5), lines: 3 * (seed % 8) })),
};

/** What a person would ask first, and a digest of all the rest. */
function told(shop: Snapshot, index: number): string {
  const proposal = plan(shop);
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
