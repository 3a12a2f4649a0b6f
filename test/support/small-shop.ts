import { expect } from 'vitest';
import type { Filling, TestApp } from './app.js';

/**
 * A small workshop through the API, on Monday 2 March 2026: one spray of two materials in one jug, bottles, and an order
 * for ten due on the 20th. `order` adds more.
 */
export async function openSmallShop(app: TestApp): Promise<void> {
  const post = async (url: string, body: unknown): Promise<void> => {
    const answer = await app.request('POST', url, body);
    expect(answer.status, `${url} ${answer.text}`).toBeLessThan(300);
  };
  await post('/api/items', {
    code: 'ALCOHOL',
    name: 'Alcohol base',
    kind: 'material',
    measure: 'weighed',
    family: 'base',
  });
  await post('/api/items', {
    code: 'CEDAR',
    name: 'Cedar oil',
    kind: 'material',
    measure: 'weighed',
    family: 'fragrance',
  });
  await post('/api/items', {
    code: 'BOTTLE',
    name: 'Bottle 100 ml',
    kind: 'material',
    measure: 'counted',
    family: 'container',
  });
  await post('/api/items', {
    code: 'CEDAR-BULK',
    name: 'Cedar spray',
    kind: 'bulk',
    measure: 'weighed',
    family: 'spray',
  });
  await post('/api/items', {
    code: 'CEDAR-100',
    name: 'Cedar spray 100 ml',
    kind: 'product',
    measure: 'counted',
    family: 'spray',
  });
  await post('/api/vessels', { code: 'JUG', kind: 'jug', capacity: '5 kg' });
  await post('/api/items/CEDAR-BULK/formulas', {
    vesselKind: 'jug',
    batchMin: '500 g',
    batchMultiple: '100 g',
    minutesBatch: 40,
    restDays: 7,
    lines: [
      { item: 'ALCOHOL', basis: 'qs', isBase: true },
      { item: 'CEDAR', basis: 'load', amount: '5 %' },
    ],
  });
  await post('/api/items/CEDAR-100/formulas', {
    batchMin: 1,
    secondsUnit: 30,
    lines: [
      { item: 'CEDAR-BULK', basis: 'each', amount: '90 g' },
      { item: 'BOTTLE', basis: 'each', amount: 1 },
    ],
  });
  await post('/api/suppliers', { code: 'OILS', name: 'Oils of nowhere' });
  await post('/api/packs', {
    supplier: 'OILS',
    item: 'CEDAR',
    code: 'C-118',
    size: '118 g',
    priceE4: 210_000,
    leastPacks: 1,
    leadDays: 10,
  });
  await post('/api/lots', { item: 'ALCOHOL', code: 'ALC-1', quantity: '8 kg' });
  await post('/api/lots', { item: 'CEDAR', code: 'CED-OLD', quantity: '30 g', expiresOn: '2026-03-20' });
  await post('/api/lots', { item: 'CEDAR', code: 'CED-NEW', quantity: '100 g', expiresOn: '2026-12-31' });
  await post('/api/lots', { item: 'BOTTLE', code: 'BOT-1', quantity: 48 });
  await post('/api/channels', { code: 'shop', name: 'Own shop' });
  await order(app, '1001', 10, '2026-03-20');
}

/** The same, copied from where it was opened before. */
export const SMALL_SHOP: Filling = { name: 'small_shop', by: openSmallShop };

export async function order(app: TestApp, number: string, quantity: number, shipBy: string): Promise<void> {
  const lines = [{ code: 'CEDAR-100', quantity, shipBy }];
  const answer = await app.request('POST', '/api/orders', { channel: 'shop', number, customer: 'A. Customer', lines });
  expect(answer.status, answer.text).toBe(201);
}
