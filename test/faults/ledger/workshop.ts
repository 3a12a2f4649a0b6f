import { addDays } from '../../../src/kernel/measure/day.js';
import type { Wire } from './client.js';

const MATERIALS = 10;
const BULKS = 4;
/** The first four are on the shelf and shipped; the others are only made to order, so that plans have something to do. */
const PRODUCTS = 8;
export const PRODUCTS_IN_STOCK = 4;

export const materialCode = (n: number): string => `MAT-${n}`;
export const productCode = (n: number): string => `PRD-${n}`;

export const GRAM = 1000;
export const MATERIAL_LOT_MG = 4000 * GRAM;
export const PRODUCT_LOT_UNITS = 400;

/** Who makes what is there before the run. */
export const BEFORE = 'before';

export interface Shelf {
  /** Item codes of which there are lots, each with what a lot of it holds when it comes. */
  items: { code: string; lotOf: number }[];
  lots: string[];
}

/** Items, formulas, vessels, a channel and `lotCount` lots, through the API. */
export async function openWorkshop(wire: Wire, today: string, lotCount: number): Promise<Shelf> {
  const post = async (path: string, body: unknown): Promise<void> => {
    const answer = await wire.send('POST', path, { 'Lotwright-Person': BEFORE }, body);
    if (answer.status >= 300) throw new Error(`${path} answers ${answer.status} ${answer.text}`);
  };
  await post('/api/channels', { code: 'shop', name: 'Own shop' });
  for (let n = 0; n < 20; n++) await post('/api/vessels', { code: `JUG-${n}`, kind: 'jug', capacity: '20 kg' });
  const weighed = { kind: 'material', measure: 'weighed' };
  for (let n = 0; n < MATERIALS; n++)
    await post('/api/items', { code: materialCode(n), name: `Material ${n}`, ...weighed });
  await post('/api/items', { code: 'BOTTLE', name: 'Bottle', kind: 'material', measure: 'counted' });
  for (let n = 0; n < BULKS; n++) {
    await post('/api/items', { code: `BLK-${n}`, name: `Bulk ${n}`, kind: 'bulk', measure: 'weighed' });
    await post(`/api/items/BLK-${n}/formulas`, {
      vesselKind: 'jug',
      batchMin: '500 g',
      batchMultiple: '100 g',
      minutesBatch: 10,
      restDays: 1,
      lines: [
        { item: materialCode(n), basis: 'qs', isBase: true },
        { item: materialCode(n + 3), basis: 'load', amount: '5 %' },
        { item: materialCode(n + 6), basis: 'share', amount: '3 %' },
      ],
    });
  }
  for (let n = 0; n < PRODUCTS; n++) {
    await post('/api/items', { code: productCode(n), name: `Product ${n}`, kind: 'product', measure: 'counted' });
    await post(`/api/items/${productCode(n)}/formulas`, {
      batchMin: 1,
      secondsUnit: 5,
      lines: [
        { item: `BLK-${n % BULKS}`, basis: 'each', amount: '90 g' },
        { item: 'BOTTLE', basis: 'each', amount: 1 },
      ],
    });
  }
  const items = shelfItems();
  const lots: string[] = [];
  for (let n = 0; n < lotCount; n++) {
    const { code: item, lotOf } = items[n % items.length]!;
    const code = `LOT-${String(n).padStart(4, '0')}`;
    const expiresOn = addDays(today, 200 + n);
    await post('/api/lots', { item, code, quantity: lotOf, costE4: 1_000_003 + n, expiresOn });
    lots.push(code);
  }
  return { items, lots };
}

function shelfItems(): Shelf['items'] {
  const materials = Array.from({ length: MATERIALS }, (_, n) => ({ code: materialCode(n), lotOf: MATERIAL_LOT_MG }));
  const products = Array.from({ length: PRODUCTS_IN_STOCK }, (_, n) => ({
    code: productCode(n),
    lotOf: PRODUCT_LOT_UNITS,
  }));
  return [...materials, ...products, { code: 'BOTTLE', lotOf: 2000 }, ...products];
}

/** Lines of an order that come from the shelf, and sometimes one that has to be made. */
export function orderLines(pick: (below: number) => number, today: string): Record<string, unknown>[] {
  const shipBy = addDays(today, 6 + pick(20));
  const first = pick(PRODUCTS_IN_STOCK);
  const second = PRODUCTS_IN_STOCK + pick(PRODUCTS - PRODUCTS_IN_STOCK);
  return [
    { code: productCode(first), quantity: 30 + pick(30), shipBy },
    { code: productCode((first + 1) % PRODUCTS_IN_STOCK), quantity: 10 + pick(30), shipBy },
    ...(pick(3) === 0 ? [{ code: productCode(second), quantity: 2 + pick(8), shipBy }] : []),
  ];
}
