import { beforeEach, expect, it, vi } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import { randomWorkshop } from '../support/workshop.js';

const placed = vi.hoisted(() => ({ steps: 0 }));

vi.mock(import('../../src/kernel/plan/schedule.js'), async (original) => {
  const { schedule, ...rest } = await original();
  return {
    ...rest,
    schedule: (jobs, setting) => {
      placed.steps += jobs.length;
      return schedule(jobs, setting);
    },
  };
});

beforeEach(() => {
  placed.steps = 0;
});

/** A random workshop that pours 200 g at a time, so that it makes a thousand batches, most of them short or without room. */
function pouringLittle(seed: number, size: { products: number; lines: number }) {
  const shop = randomWorkshop(seed, size);
  for (const formula of shop.formulas.filter(({ vesselKind }) => vesselKind !== null)) {
    formula.batchMax = 200_000;
    formula.batchMin = Math.min(formula.batchMin, 200_000);
    if (formula.batchMultiple > 200_000) formula.batchMultiple = 1_000;
  }
  return shop;
}

it('places no more batches than its steps allow, however much there is to better', () => {
  const { batches } = plan(pouringLittle(57, { products: 10, lines: 57 }));
  expect(batches.length).toBeGreaterThan(1_000);
  // 30 for each batch in all, and what the last round had begun: 8,000, and each of its two plans once
  expect(placed.steps).toBeGreaterThan(20 * batches.length);
  expect(placed.steps).toBeLessThanOrEqual(30 * batches.length + 8_000 + 2 * batches.length);
}, 120_000);
