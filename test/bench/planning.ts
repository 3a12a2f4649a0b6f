import { addDays } from '../../src/kernel/measure/day.js';
import { plan } from '../../src/kernel/plan/plan.js';
import type { Snapshot } from '../../src/kernel/plan/snapshot.js';
import { emptyWorkshop, formula, item, line, seeded } from '../support/workshop.js';

const PRODUCTS = 500;
const BULKS = 120;
const BASES = 12;
const MATERIALS = 200;
const LOTS = 20_000;

/** A large workshop: 500 products on 120 bulks on 12 bases (3 levels over bought materials), 20,000 lots. */
export function largeWorkshop(lineCount: number): Snapshot {
  const pick = seeded(20_270_104);
  const shop = emptyWorkshop();
  shop.workshop.benchMinutes = [100_000, 100_000, 100_000, 100_000, 100_000, 0, 0];
  for (let i = 0; i < 40; i++) shop.vessels.push({ code: `POT-${i}`, kind: 'pot', capacityMg: 500_000_000 });
  for (let i = 0; i < MATERIALS; i++) shop.items.push(item(`MAT-${i}`));
  for (let i = 0; i < BASES; i++) {
    shop.items.push(item(`BASE-${i}`, { kind: 'bulk' }));
    const lines = [line(1, `MAT-${i}`, 'part', 600_000_000), line(2, `MAT-${i + 50}`, 'part', 400_000_000)];
    shop.formulas.push(formula(`BASE-${i}`, lines, { vesselKind: null, batchMin: 1_000_000 }));
  }
  for (let i = 0; i < BULKS; i++) {
    shop.items.push(item(`BULK-${i}`, { kind: 'bulk' }));
    const lines = [line(1, `BASE-${i % BASES}`, 'part', 950_000_000), line(2, `MAT-${20 + i}`, 'part', 50_000_000)];
    shop.formulas.push(
      formula(`BULK-${i}`, lines, { vesselKind: 'pot', batchMin: 1_000_000, restDays: 7, minutesBatch: 40 }),
    );
  }
  for (let i = 0; i < PRODUCTS; i++) {
    shop.items.push(item(`PRD-${i}`, { kind: 'product', measure: 'counted' }));
    const lines = [
      line(1, `BULK-${i % BULKS}`, 'each', 100_000, 'fill'),
      line(2, `MAT-${150 + (i % 40)}`, 'each', 10_000, 'fill'),
    ];
    shop.formulas.push(formula(`PRD-${i}`, lines, { secondsUnit: 20, minutesBatch: 10 }));
  }
  for (let i = 0; i < LOTS; i++) {
    const of = i % 3 === 0 ? `PRD-${i % PRODUCTS}` : `MAT-${i % MATERIALS}`;
    const free = i % 3 === 0 ? 1 + pick(3) : (1 + pick(900)) * 1000;
    const expiresOn = addDays(shop.today, 10 + pick(700));
    shop.lots.push({ code: `LOT-${i}`, item: of, free, onHand: free, valueE4: free, expiresOn });
  }
  for (let i = 0; i < lineCount; i++)
    shop.lines.push({
      key: `O${i}`,
      item: `PRD-${pick(PRODUCTS)}`,
      quantity: 1 + pick(6),
      shipBy: addDays(shop.today, 10 + pick(60)),
      notBefore: null,
    });
  return shop;
}

/** Median of planning a workshop several times, in milliseconds. */
function planMs(shop: Snapshot, times: number): number {
  const taken = Array.from({ length: times }, () => {
    const start = performance.now();
    plan(shop);
    return performance.now() - start;
  }).sort((a, b) => a - b);
  return taken[Math.floor(times / 2)]!;
}

/** Planning time against order lines, and what each tenfold costs beside n log n. */
export function planningRows(): string[] {
  const rows: string[] = [];
  plan(largeWorkshop(1000));
  let before: { lines: number; ms: number } | null = null;
  for (const lines of [1000, 10_000, 100_000]) {
    const ms = planMs(largeWorkshop(lines), 5);
    const growth = before
      ? `${(ms / before.ms).toFixed(1)} times the one above (n log n would be ${((lines * Math.log(lines)) / (before.lines * Math.log(before.lines))).toFixed(1)})`
      : '';
    rows.push(
      `plan ${String(lines).padStart(7)} order lines, ${PRODUCTS} products, 3 levels, ${LOTS} lots: ${ms.toFixed(0).padStart(5)} ms  ${growth}`,
    );
    before = { lines, ms };
  }
  return rows;
}
