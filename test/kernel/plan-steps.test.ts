import { expect, it, vi } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
import { Scheduler } from '../../src/kernel/plan/schedule.js';
import { randomWorkshop } from '../support/workshop.js';

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

it('places its batches no more often than its steps allow, however much there is to better', () => {
  const placings = vi.spyOn(Scheduler.prototype, 'place');
  const { batches } = plan(pouringLittle(57, { products: 10, lines: 57 }));
  const placed = placings.mock.calls.length;
  placings.mockRestore();
  expect(batches.length).toBeGreaterThan(1_000);
  expect(placed).toBeGreaterThan(20);
  // 40 for each batch in all, or 120,000 where that is more; and what the last round had begun: of each of its two plans 8,000
  // and what is placed before the first look at what is left
  expect(placed).toBeLessThanOrEqual(Math.max(40, 120_000 / batches.length) + 2 * (8_000 / batches.length + 4));
}, 120_000);
