import { expect, it } from 'vitest';
import type { RunView } from '../../src/planning/planning.schema.js';
import { useTestApp } from '../support/app.js';
import { SMALL_SHOP } from '../support/small-shop.js';

const shop = useTestApp({ filled: SMALL_SHOP });
const WEEK = '2026-03-16';

const page = async (address: string): Promise<string> => (await shop.request('GET', address)).text;
const post = async <Body>(url: string, body: unknown): Promise<Body> => {
  const answer = await shop.request<Body>('POST', url, body);
  expect(answer.status, `${url} ${answer.text}`).toBeLessThan(300);
  return answer.body;
};

it('says what is decanted for whom, and what is less than it should be, before and after the lots are set aside', async () => {
  await post('/api/items', { code: 'ESSENCE', name: 'Essence', kind: 'bulk', measure: 'weighed', family: 'spray' });
  const inJug = { vesselKind: 'jug', batchMultiple: '100 g', minutesBatch: 40 };
  const of = (item: string) => [{ item, basis: 'qs', isBase: true }];
  await post('/api/items/ESSENCE/formulas', { ...inJug, batchMin: '500 g', restDays: 1, lines: of('ALCOHOL') });
  await post('/api/items/CEDAR-BULK/formulas', { ...inJug, batchMin: '6 kg', restDays: 2, lines: of('ESSENCE') });
  const { id, proposal } = await post<RunView>('/api/runs', { weekStart: WEEK });
  const batch = (item: string) => proposal.batches.find((one) => one.item === item)!;
  const [essence, bulk] = [batch('ESSENCE'), batch('CEDAR-BULK')];
  expect(essence).toMatchObject({ vessel: 'JUG', decant: { on: essence.emptiedOn, for: bulk.key }, belowLeast: null });
  expect(bulk).toMatchObject({ vessel: 'JUG', output: 5_000_000, decant: null, belowLeast: 'vessel' });
  const decant = /Decant into another container on (Mon|Tue) 1[67] Mar: JUG is needed for /;
  const week = await page(`/week/${WEEK}`);
  expect(week).toMatch(decant);
  expect(week).toContain('less than the 6 kg a batch should be');
  expect(await page(`/why/batch/${id}/${encodeURIComponent(essence.key)}`)).toMatch(decant);
  expect(await page(`/why/batch/${id}/${encodeURIComponent(bulk.key)}`)).toContain(
    'but only 5 kg is to come out: no vessel of its kind holds more.',
  );
  const { batches } = await post<{ batches: { key: string; code: string }[] }>(`/api/runs/${id}/commit`, {});
  const codeOf = (key: string) => batches.find((one) => one.key === key)!.code;
  const committed = await page(`/week/${WEEK}`);
  expect(committed).toContain(`JUG is needed for ${codeOf(bulk.key)}.`);
  expect(committed).toContain('less than the 6 kg a batch should be');
  expect(await page(`/why/batch/${id}/${codeOf(essence.key)}`)).toMatch(decant);
});

it('reads the day before which a customer takes nothing', async () => {
  await post('/api/lots', { item: 'CEDAR-100', code: 'READY', quantity: 3 });
  const lines = [{ code: 'CEDAR-100', quantity: 3, shipBy: '2026-03-12', notBefore: '2026-03-11' }];
  await post('/api/orders', { channel: 'shop', number: 'W-1', customer: 'A. Customer', lines });
  const { proposal } = await post<RunView>('/api/runs', { weekStart: WEEK });
  expect(proposal.lines.find(({ key }) => key === 'shop/W-1/CEDAR-100#1')).toMatchObject({
    taken: [{ from: 'lot', key: 'READY', quantity: 3 }],
    notBefore: '2026-03-11',
    readyOn: '2026-03-11',
  });
});
