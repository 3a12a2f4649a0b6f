import { beforeEach, describe, expect, it } from 'vitest';
import type { RunView } from '../../src/planning/planning.schema.js';
import type { WorkshopView } from '../../src/catalog/workshop.schema.js';
import { planText } from '../../src/terminal.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { pageText } from '../support/page-forms.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

/*
 * 48 bottles, of which order 1001 wants ten; 130 g of cedar oil go into 30 sprays. So of two more orders of twenty only one
 * can be made.
 */
let app: TestApp;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  await order(app, 'FIRST', 20, '2026-03-20');
  await order(app, 'LATER', 20, '2026-03-27');
  return () => app.close();
});

const draft = async (weekStart = '2026-03-09'): Promise<RunView> => {
  const answer = await app.request<RunView>('POST', '/api/runs', { weekStart });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const said = async (number: string, body: unknown): Promise<void> => {
  const answer = await app.request('PATCH', `/api/orders/shop/${number}`, body);
  expect(answer.status, answer.text).toBe(200);
};
/** Numbers of the orders all of which is covered. */
const covered = ({ proposal }: RunView): string[] =>
  proposal.lines
    .filter(({ missing }) => missing === 0)
    .map(({ key }) => key.split('/')[1]!)
    .sort();

describe('where not all orders can be made', () => {
  it('the urgent one is, whose day comes later', async () => {
    expect(covered(await draft())).toEqual(['1001', 'FIRST']);
    await said('LATER', { urgent: true });
    expect(covered(await draft())).toEqual(['1001', 'LATER']);
    // as many are served either way, so what was shown last stays
    await said('LATER', { urgent: false });
    expect(covered(await draft())).toEqual(['1001', 'LATER']);
    await said('FIRST', { weight: 2 });
    expect(covered(await draft())).toEqual(['1001', 'FIRST']);
  });

  it('the plan at the terminal marks what is urgent, and nothing else', async () => {
    const marked = async () =>
      (await planText(app.app, await draft()))
        .split('\n')
        .filter((row) => row.includes('URGENT'))
        .map((row) => row.trim().split(/ {2,}/)[0]);
    expect(await marked()).toEqual([]);
    await said('FIRST', { urgent: true });
    // it is filled after the week; what of it is poured in the week says so
    expect(await marked()).toEqual(['CEDAR-BULK/1']);
    // of two one goes without
    await said('LATER', { urgent: true });
    expect(await marked()).toEqual(['CEDAR-BULK/1', 'shop/LATER/CEDAR-100#1']);
  });

  it('the one that counts for more is, and an urgent one before it', async () => {
    await said('LATER', { weight: 2 });
    expect(covered(await draft())).toEqual(['1001', 'LATER']);
    await said('FIRST', { urgent: true });
    expect(covered(await draft())).toEqual(['1001', 'FIRST']);
  });

  it('one that counts for more than two others is, and they wait', async () => {
    await app.request('POST', '/api/orders/shop/FIRST/cancel');
    await order(app, 'LARGE', 30, '2026-03-27');
    expect(covered(await draft())).toEqual(['1001', 'LATER']);
    await said('LARGE', { weight: 3 });
    expect(covered(await draft())).toEqual(['LARGE']);
  });

  it('two orders go before an urgent one, once the workshop says so', async () => {
    await app.request('POST', '/api/orders/shop/FIRST/cancel');
    await order(app, 'LARGE', 30, '2026-03-27');
    await said('LARGE', { urgent: true });
    const usual = await draft();
    expect(covered(usual)).toEqual(['LARGE']);
    const { body: settings } = await app.request<WorkshopView>('GET', '/api/workshop');
    const { isDemo: _, ...set } = settings;
    await app.request('PUT', '/api/workshop', { ...set, planTerms: ['late', 'urgent'] });
    expect((await app.request('POST', `/api/runs/${usual.id}/commit`)).status).toBe(409);
    expect(covered(await draft())).toEqual(['1001', 'LATER']);
    expect(await pageText(app, '/week/2026-03-09/compare')).toContain(
      'The workshop: what counts first as usual, now few lines are late, then urgent orders are in time',
    );
  });

  it('the one whose channel counts for more is', async () => {
    await app.request('POST', '/api/channels', { code: 'cafes', name: 'Cafés', weight: 5 });
    await app.request('POST', '/api/orders/shop/LATER/cancel');
    const lines = [{ code: 'CEDAR-100', quantity: 20, shipBy: '2026-03-27' }];
    await app.request('POST', '/api/orders', { channel: 'cafes', number: 'CAFE', lines });
    expect(covered(await draft())).toEqual(['1001', 'CAFE']);
    await said('FIRST', { weight: 6 });
    expect(covered(await draft())).toEqual(['1001', 'FIRST']);
    await app.request('PATCH', '/api/channels/cafes', { weight: 7 });
    expect(covered(await draft())).toEqual(['1001', 'CAFE']);
  });

  it('of what stands on the shelf, the urgent one has it', async () => {
    // what is made from now on matures for a week
    await app.request('POST', '/api/lots', { item: 'CEDAR-100', code: 'READY', quantity: 20 });
    for (const number of ['A', 'B']) await order(app, number, 20, number === 'A' ? '2026-03-05' : '2026-03-06');
    const served = async () =>
      (await draft()).proposal.lines
        .filter(({ taken }) => taken.some(({ key }) => key === 'READY'))
        .map(({ key }) => key.split('/')[1]);
    expect(await served()).toEqual(['A']);
    await said('B', { urgent: true });
    expect(await served()).toEqual(['B']);
    await said('B', { urgent: false, weight: 2 });
    expect(await served()).toEqual(['B']);
  });

  it('in time, the urgent one has the jug first', async () => {
    // the jug holds 5 kg for a week, and each order wants 4.5 kg of it by the 11th
    for (const number of ['1001', 'FIRST', 'LATER']) await app.request('POST', `/api/orders/shop/${number}/cancel`);
    await app.request('POST', '/api/lots', { item: 'ALCOHOL', quantity: '8 kg' });
    await app.request('POST', '/api/lots', { item: 'CEDAR', quantity: '1 kg' });
    await app.request('POST', '/api/lots', { item: 'BOTTLE', quantity: 200 });
    for (const number of ['A', 'B']) await order(app, number, 50, '2026-03-11');
    const late = async () =>
      (await draft('2026-03-02')).proposal.lines
        .filter(({ lateDays }) => lateDays > 0)
        .map(({ key }) => key.split('/')[1]!);
    const [one, ...others] = await late();
    expect(others).toEqual([]);
    await said(one!, { urgent: true });
    expect(await late()).toEqual([one === 'A' ? 'B' : 'A']);
  });
});

describe('a plan that was made before an order became urgent', () => {
  it('is stale, and says what of which line changed', async () => {
    const { id } = await draft();
    await said('LATER', { urgent: true, weight: 3 });
    const answer = await app.request<{ code: string; changed: unknown[] }>('POST', `/api/runs/${id}/commit`);
    expect([answer.status, answer.body.code]).toEqual([409, 'stale']);
    const key = 'shop/LATER/CEDAR-100#1';
    expect(answer.body.changed).toEqual([
      { what: 'lines', key, change: 'changed', was: { weight: 1, urgent: false }, now: { weight: 3, urgent: true } },
    ]);
    await draft();
    expect(await pageText(app, '/week/2026-03-09/compare')).toContain(
      `Order line ${key}: counts as 1, now 3; urgent no, now yes`,
    );
    await said('LATER', { urgent: false, weight: null });
    await draft();
    expect(await pageText(app, '/week/2026-03-09/compare')).toContain(
      `Order line ${key}: counts as 3, now 1; urgent yes, now no`,
    );
  });

  it('of a channel, too', async () => {
    const { id } = await draft();
    await app.request('PATCH', '/api/channels/shop', { weight: 2 });
    const answer = await app.request<{ changed: { key: string; now: unknown }[] }>('POST', `/api/runs/${id}/commit`);
    expect(answer.status).toBe(409);
    expect(answer.body.changed.map(({ now }) => now)).toEqual([{ weight: 2 }, { weight: 2 }, { weight: 2 }]);
  });

  it('is as it was where nothing is said but what holds already', async () => {
    const { id } = await draft();
    await said('LATER', { urgent: false, weight: 1 });
    expect((await draft()).id).toBe(id);
  });
});

describe('pages', () => {
  const marks = (text: string) => [...text.matchAll(/class="mark care">(urgent)</g)].map(([, words]) => words);

  it('mark an urgent order with the word, as long as it is under way', async () => {
    await said('FIRST', { urgent: true });
    await draft('2026-03-16');
    expect(marks(await pageText(app, '/orders'))).toEqual(['urgent']);
    expect(marks(await pageText(app, '/orders/shop/FIRST'))).toEqual(['urgent']);
    expect(marks(await pageText(app, '/orders/shop/LATER'))).toEqual([]);
    // of the week is the bulk that is filled for it a week later, and its line, which is late
    const [late, pours] = (await pageText(app, '/week/2026-03-16')).split('Late or not covered')[1]!.split('data-day');
    expect([marks(pours!), marks(late!)]).toEqual([['urgent'], ['urgent']]);
    await app.request('POST', '/api/orders/shop/FIRST/cancel');
    for (const path of ['/orders', '/orders/shop/FIRST', '/week/2026-03-16'])
      expect(marks(await pageText(app, path)), path).toEqual([]);
  });

  it('mark what is set aside and made for an urgent order, as soon as it is urgent', async () => {
    // the bulk in one week, and in the next what is filled of it
    for (const week of ['2026-03-09', '2026-03-16']) {
      const { id } = await draft(week);
      expect((await app.request('POST', `/api/runs/${id}/commit`)).status).toBe(200);
    }
    expect(marks(await pageText(app, '/week/2026-03-16'))).toEqual([]);
    await said('1001', { urgent: true });
    expect(marks(await pageText(app, '/week/2026-03-16'))).toEqual(['urgent']);
  });

  it('name an urgent order on the week that goes without', async () => {
    await order(app, 'HUGE', 40, '2026-03-19');
    await said('HUGE', { urgent: true });
    await draft();
    const late = (await pageText(app, '/week/2026-03-09')).split('Late or not covered')[1]!;
    expect(late.split('<tr>').find((row) => row.includes('shop/HUGE'))).toContain('class="mark care">urgent<');
    expect(late.split('<tr>').find((row) => row.includes('shop/FIRST')) ?? '').not.toContain('urgent');
  });
});
