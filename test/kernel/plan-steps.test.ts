import { expect, it } from 'vitest';
import { plan } from '../../src/kernel/plan/plan.js';
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
  const shop = pouringLittle(57, { products: 10, lines: 57 });
  const { vessels } = shop;
  // vessels are looked through once each time that all batches are placed
  let placed = 0;
  const map: typeof vessels.map = (each) => {
    placed++;
    return Array.prototype.map.call(vessels, each as never) as never;
  };
  Object.defineProperty(vessels, 'map', { value: map });
  const { batches } = plan(shop);
  expect(batches.length).toBeGreaterThan(1_000);
  expect(placed).toBeGreaterThan(20);
  // 30 for each batch in all, and what the last round had begun: 8,000, and each of its two plans once
  expect(placed).toBeLessThanOrEqual(30 + 8_000 / batches.length + 2);
}, 120_000);
