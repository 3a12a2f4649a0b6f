import { expect, it } from 'vitest';
import { printPlan } from '../../src/planning/print-plan.js';
import type { RunView } from '../../src/planning/planning.schema.js';
import { useTestApp } from '../support/app.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

const shop = useTestApp({ filled: SMALL_SHOP });
const WEEK = '2026-03-09';

const page = async (address: string): Promise<string> => (await shop.request('GET', address)).text;

it('plans an order of 1,000,000,000 bottles as far as a plan goes, says what it leaves out, and lives', async () => {
  const soap = { code: 'SOAP', name: 'Plain soap', kind: 'product', measure: 'counted', family: 'soap' };
  await shop.request('POST', '/api/items', { ...soap, policy: 'to-stock', target: 25 });
  const formula = { batchMin: 1, batchMax: 1, lines: [{ item: 'BOTTLE', basis: 'each', amount: 1 }] };
  expect((await shop.request('POST', '/api/items/SOAP/formulas', formula)).status).toBe(201);
  await order(shop, '1002', 1_000_000_000, '2026-03-10');
  const answer = await shop.request<RunView>('POST', '/api/runs', { weekStart: WEEK });
  expect(answer.status, answer.text.slice(0, 500)).toBe(201);
  const { id, proposal } = answer.body;
  // 4,000, and 20 for each of the bulk, the spray and the soap
  expect(proposal.full).toEqual({ batchesMost: 4_060, refills: [{ item: 'SOAP', quantity: 25 }] });
  expect(proposal.batches.length).toBeLessThanOrEqual(4_060);
  const [huge, small] = ['shop/1002/CEDAR-100#1', 'shop/1001/CEDAR-100#1'].map((key) =>
    proposal.lines.find((line) => line.key === key),
  );
  expect(huge).toMatchObject({ because: 'plan-full', readyOn: null });
  expect(small!.because).not.toBe('plan-full');
  expect((await shop.request('GET', '/health/live')).status).toBe(200);

  const full = 'The plan is full: it holds 4,060 batches, and leaves out 1 order line and stock beyond them.';
  const week = await page(`/week/${WEEK}`);
  expect(week).toContain(full);
  expect(week).toContain('Plain soap: 25 less than should be in stock');
  expect(week).toContain('the plan holds no more batches: plan again once some of them are made');
  expect(await page('/orders')).toContain('the plan holds no more batches');
  expect(await page(`/why/need/${id}/ALCOHOL`)).toContain('The plan is full at 4,060 batches');
  const printed = printPlan(proposal, { items: new Map(), currency: 'EUR', urgent: new Set() });
  expect(printed).toContain(full);
  expect(printed).toMatch(/No room for stock\n +SOAP +SOAP +25 less than should be in stock/);
});
