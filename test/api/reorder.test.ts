import { beforeEach, describe, expect, it } from 'vitest';
import type { ItemOutlook, ReorderList, ReorderRow } from '../../src/reorder/reorder.schema.js';
import type { SaidView } from '../../src/reorder/said-use.schema.js';
import type { PurchaseOrderView } from '../../src/purchasing/purchase-orders.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;

beforeEach(async () => {
  // a Monday, so that the last whole week ended yesterday
  app = await startTestApp({ today: '2026-03-02', filled: SMALL_SHOP });
  return () => app.close();
});

async function done<Body>(method: 'POST' | 'PUT' | 'PATCH' | 'DELETE', url: string, body: unknown): Promise<Body> {
  const answer = await app.request<Body>(method, url, body);
  expect([200, 201], `${url} ${answer.text}`).toContain(answer.status);
  return answer.body;
}
const list = async (): Promise<ReorderList> => (await app.request<ReorderList>('GET', '/api/reorder')).body;
const rowOf = async (item: string): Promise<ReorderRow | undefined> =>
  (await list()).rows.find((row) => row.item === item);

/** Use of an item on the Wednesday of each of the last weeks, oldest first, from a lot made for it. */
async function used(item: string, perWeek: readonly number[]): Promise<void> {
  const total = perWeek.reduce((sum, quantity) => sum + quantity, 0);
  await done('POST', '/api/lots', { item, code: `USED-${item}`, quantity: total, receivedOn: '2023-01-02' });
  await app.database.query(
    `select set_config('lotwright.who', 'test', false);
     insert into movement (lot_id, cause, quantity, done_on)
     select l.id, 'own-use', -u.quantity, date '2026-03-02' - 7 * (${perWeek.length} - u.week::int) - 5
     from lot l, unnest(array[${perWeek.join(',')}]::bigint[]) with ordinality as u (quantity, week)
     where l.code = 'USED-${item}' and u.quantity > 0`,
  );
}

describe('GET /api/reorder', () => {
  it('forecasts from the use of whole weeks, keeps for what strays, and shows how sure it is', async () => {
    const weeks = Array.from({ length: 30 }, (_, week) => (week % 2 ? 45_000 : 35_000));
    await used('CEDAR', weeks);
    // a fill rate asks for next to nothing where orders are large and use is this steady
    await done('PUT', '/api/reorder/items/CEDAR/rule', { serviceKind: 'cycle', service: '95 %' });
    const { row, history, errors, weekly } = (await app.request<ItemOutlook>('GET', '/api/reorder/items/CEDAR')).body;
    expect(history).toEqual(weeks);
    expect(errors.length).toBeGreaterThan(3);
    expect(errors.map(({ rmse }) => rmse)).toEqual(errors.map(({ rmse }) => rmse).sort((a, b) => a - b));
    expect(weekly).toHaveLength(13);
    expect(row).toMatchObject({ supplier: 'OILS', leadDays: 10, receivingDays: 1, deliveries: 0 });
    expect(row!.forecast).toMatchObject({ pattern: 'smooth', weeksOfHistory: 30, seasonalNaiveRmse: null });
    expect(row!.forecast!.rmse!).toBeLessThan(row!.forecast!.naiveRmse!);
    expect(row!.forecast!.weekly).toBeGreaterThan(37_000);
    expect(row!.forecast!.weekly).toBeLessThan(43_000);
    expect(row!.safety).toBeGreaterThan(0);
    expect(row!.keep).toBe(row!.safety);
    const last = row!.freeByDay.length - 1;
    expect(row!.lowByDay[last]).toBeLessThan(row!.freeByDay[last]!);
    expect(row!.highByDay[last]! - row!.freeByDay[last]!).toBe(row!.freeByDay[last]! - row!.lowByDay[last]!);
    // 30 of the 130 g expire on the 20th, though some of them are used until then
    expect(row!.lost).toBe(0);
  });

  it('counts what is put right as never used, and no week that is not over', async () => {
    await used('CEDAR', [5_000, 6_000, 7_000, 8_000, 9_000, 10_000, 11_000]);
    await app.database.query(
      `select set_config('lotwright.who', 'test', false);
       insert into movement (lot_id, cause, quantity, done_on, reverses_id)
       select lot_id, 'correction', -quantity, '2026-03-02', id from movement where cause = 'own-use' and quantity = -9000`,
    );
    await done('POST', '/api/lots/CED-NEW/own-use', { quantity: '3 g', reason: 'today' });
    const { history } = (await app.request<ItemOutlook>('GET', '/api/reorder/items/CEDAR')).body;
    expect(history).toEqual([5_000, 6_000, 7_000, 8_000, 0, 10_000, 11_000]);
  });

  it('names the orders and batches that would miss it, and when', async () => {
    await order(app, '1002', 60, '2026-03-20');
    const row = (await rowOf('CEDAR'))!;
    expect(row.ifNot.needOn).toBe('2026-03-12');
    // there is enough for the ten of 1001, and not for sixty
    expect(row.ifNot.orders).toEqual([{ key: 'shop/1002/CEDAR-100#1', shipBy: '2026-03-20' }]);
    expect(row.ifNot.batches.map(({ key }) => key)).toContain('CEDAR-BULK/2');
    expect(row).toMatchObject({ shortOn: '2026-03-12', overdue: true, forecast: null, keep: 0 });
  });

  it('counts what is set aside once, whether it is planned, reserved or usual', async () => {
    await used(
      'CEDAR',
      Array.from({ length: 20 }, () => 45_000),
    );
    const before = (await rowOf('CEDAR'))!;
    const run = await done<{ id: number }>('POST', '/api/runs', { weekStart: '2026-03-09' });
    await done('POST', `/api/runs/${run.id}/commit`, {});
    const after = (await rowOf('CEDAR'))!;
    expect(after.free).toBeLessThan(before.free);
    // the same stock lasts as long as before, since what was planned is now set aside
    expect(after.freeByDay.at(-1)).toBe(before.freeByDay.at(-1));
    expect(after.packs).toEqual(before.packs);
  });

  it('learns lead times from deliveries, and goes by the days on which a supplier takes orders', async () => {
    await used(
      'CEDAR',
      Array.from({ length: 20 }, () => 45_000),
    );
    const stated = (await rowOf('CEDAR'))!;
    for (const [index, day] of ['2026-02-10', '2026-02-17', '2026-02-24'].entries()) {
      const body = { code: `D-${index}`, supplier: 'OILS', expectedOn: '2026-02-26', orderedOn: '2026-01-27' };
      await done('POST', '/api/deliveries', { ...body, lines: [{ item: 'CEDAR', quantity: '1 g' }] });
      const lots = [{ quantity: '1 g' }];
      await done('POST', `/api/deliveries/D-${index}/receive`, { receivedOn: day, lines: [{ line: 1, lots }] });
    }
    // three times ten days stated, and 14, 21 and 28: 15.5 days
    const learned = (await rowOf('CEDAR'))!;
    expect(learned).toMatchObject({ leadDays: 16, deliveries: 3 });
    expect(learned.safety).toBeGreaterThan(stated.safety);
    expect(learned.orderBy! < stated.orderBy!).toBe(true);
    await done('PATCH', '/api/suppliers/OILS', { orderDays: [2] });
    const onWednesdays = (await rowOf('CEDAR'))!;
    expect(new Date(onWednesdays.orderBy!).getUTCDay()).toBe(3);
    expect(onWednesdays.orderBy! <= learned.orderBy!).toBe(true);
  });

  it('takes the service that is wanted, of all or of one item, and the days of a trial', async () => {
    const weeks = Array.from({ length: 30 }, (_, week) => 20_000 + 15_000 * (week % 3));
    await used('CEDAR', weeks);
    const usual = (await rowOf('CEDAR'))!;
    const settings = { reviewDays: 7, orderCostE4: 20_000, coverMostDays: 56 };
    await done('PUT', '/api/reorder/settings', { serviceKind: 'cycle', service: '80 %', ...settings });
    const modest = (await rowOf('CEDAR'))!;
    await done('PUT', '/api/reorder/items/CEDAR/rule', { serviceKind: 'cycle', service: '99.9 %', trialDays: 5 });
    const sure = (await rowOf('CEDAR'))!;
    await done('PUT', '/api/reorder/items/CEDAR/rule', { serviceKind: 'none' });
    const none = (await rowOf('CEDAR'))!;
    expect([modest.safety < sure.safety, none.safety, none.keep]).toEqual([true, 0, 0]);
    expect(sure.trialDays).toBe(5);
    expect(sure.orderBy! < modest.orderBy!).toBe(true);
    expect(usual.safety).toBeGreaterThan(0);
    const rule = await app.request('GET', '/api/reorder/items/CEDAR/rule');
    expect(rule.body).toEqual({ item: 'CEDAR', serviceKind: 'none', servicePpb: null, trialDays: 0 });
    expect((await app.request('GET', '/api/reorder/settings')).body).toMatchObject({ servicePpb: 800_000_000 });
  });

  it('takes the price of more packs, and orders together what shares a parcel', async () => {
    await used(
      'CEDAR',
      Array.from({ length: 20 }, () => 45_000),
    );
    await used(
      'BOTTLE',
      Array.from({ length: 20 }, () => 12),
    );
    const pack = { supplier: 'OILS', item: 'BOTTLE', code: 'B-24', size: 24, priceE4: 100_000, leadDays: 2 };
    await done('POST', '/api/packs', pack);
    const apart = await list();
    expect(apart.orders.map(({ lines }) => lines.map(({ item }) => item))).toEqual([['CEDAR'], ['BOTTLE']]);
    await done('PATCH', '/api/suppliers/OILS', { freightE4: 150_000, minimumOrderE4: 5_000_000 });
    await done('PATCH', '/api/suppliers/OILS/packs/C-118', { breaks: [{ fromPacks: 2, priceE4: 105_000 }] });
    const together = await list();
    expect(together.orders).toMatchObject([
      { supplier: 'OILS', lines: [{ item: 'CEDAR' }, { item: 'BOTTLE', early: true }], freightE4: 150_000 },
    ]);
    const { goodsE4, belowMinimumE4 } = together.orders[0]!;
    expect(goodsE4 + belowMinimumE4).toBe(5_000_000);
    expect(goodsE4).toBe(together.rows.reduce((sum, row) => sum + row.costE4, 0));
    expect(together.rows.find(({ item }) => item === 'CEDAR')!.packs[0]).toMatchObject({ priceE4: 105_000 });
    // fragrances first, whatever is due sooner
    expect(together.rows.map(({ item }) => item)).toEqual(['CEDAR', 'BOTTLE']);
  });

  it('drafts a purchase order of what is due, adds to an open one, and counts what was sent as coming', async () => {
    await used(
      'CEDAR',
      Array.from({ length: 20 }, () => 60_000),
    );
    const row = (await rowOf('CEDAR'))!;
    const draft = await done<PurchaseOrderView>('POST', '/api/reorder/drafts', { supplier: 'OILS' });
    expect(draft).toMatchObject({ supplier: 'OILS', status: 'draft' });
    expect(draft.lines).toMatchObject([{ item: 'CEDAR', pack: 'C-118', packs: row.packs[0]!.count }]);
    const again = await done<PurchaseOrderView>('POST', '/api/reorder/drafts', { supplier: 'OILS', items: ['CEDAR'] });
    expect([again.code, again.lines]).toEqual([draft.code, draft.lines]);
    expect((await list()).orders[0]).toMatchObject({ draft: draft.code, lines: [{ item: 'CEDAR', drafted: true }] });
    await done('POST', `/api/purchase-orders/${draft.code}/send`, { sentBy: 'email' });
    const sent = await rowOf('CEDAR');
    expect(sent === undefined || sent.onTheWay === row.packsTotal).toBe(true);
    await done('POST', `/api/purchase-orders/${draft.code}/confirm`, { expectedOn: '2026-03-12' });
    const confirmed = await rowOf('CEDAR');
    expect(confirmed?.packsTotal ?? 0).toBe(sent?.packsTotal ?? 0);
    await done('POST', '/api/suppliers', { code: 'IDLE', name: 'Idle Hands Labels' });
    const nothing = await app.request<{ code: string }>('POST', '/api/reorder/drafts', { supplier: 'IDLE' });
    expect([nothing.status, nothing.body.code]).toEqual([409, 'nothing-to-order']);
    const nobody = await app.request<{ code: string }>('POST', '/api/reorder/drafts', { supplier: 'NOBODY' });
    expect([nobody.status, nobody.body.code]).toEqual([422, 'unknown-supplier']);
  });

  it('answers bad input and unknown items as problems', async () => {
    expect((await app.request('GET', '/api/reorder/items/NOTHING/said')).status).toBe(404);
    expect((await app.request('GET', '/api/reorder/items/CEDAR-BULK/said')).status).toBe(404);
    expect((await app.request('GET', '/api/reorder/items/NOTHING')).status).toBe(404);
    expect((await app.request('GET', '/api/reorder/items/NOTHING/rule')).status).toBe(404);
    const rule = { serviceKind: 'cycle', service: '95 %', trialDays: 2 };
    expect((await app.request('PUT', '/api/reorder/items/NOTHING/rule', rule)).status).toBe(404);
    expect(await faultsOnBadInput(app, 'PUT', '/api/reorder/items/CEDAR/rule', rule)).toEqual([]);
    const settings = { serviceKind: 'cycle', service: 900_000_000, reviewDays: 7, orderCostE4: 0, coverMostDays: 9 };
    expect(await faultsOnBadInput(app, 'PUT', '/api/reorder/settings', settings)).toEqual([]);
    expect((await app.request('PUT', '/api/reorder/settings', { ...settings, service: '40 %' })).status).toBe(422);
  });
});

describe('what is said of an item', () => {
  const SAID = '/api/reorder/items/CEDAR/said';
  const say = (body: unknown) => done<SaidView>('PUT', SAID, body);
  const expected = async () => (await app.request<ItemOutlook>('GET', '/api/reorder/items/CEDAR')).body.forecast;

  it('speaks until its own use says enough, from a day on or beside all of it', async () => {
    expect(await expected()).toBeNull();
    expect(await rowOf('CEDAR')).toBeUndefined();
    expect(await say({ by: 'estimate', quantity: '70 g', per: 'week' })).toEqual({
      item: 'CEDAR',
      by: 'estimate',
      like: null,
      likePpb: null,
      quantity: 70_000,
      per: 'week',
      from: null,
      saidBy: 'workshop',
    });
    expect(await expected()).toMatchObject({
      weekly: 70_000,
      weeksOfHistory: 0,
      said: { by: 'estimate', like: null, weekly: 70_000, ownShare: 0 },
    });
    const row = (await rowOf('CEDAR'))!;
    expect(row).toMatchObject({ supplier: 'OILS', forecast: { said: { by: 'estimate' } } });
    expect(row.safety).toBeGreaterThan(0);
    // two weeks of its own: two of ten
    await used('CEDAR', [20_000, 40_000]);
    const both = (await expected())!;
    expect(both.said).toMatchObject({ weekly: 70_000, ownShare: 0.2 });
    expect(both.weekly).toBeCloseTo(0.2 * 30_000 + 0.8 * 70_000, 6);
    // from Monday a week ago only the last one counts; from the day after no whole week does
    await say({ by: 'estimate', quantity: '70 g', per: 'week', from: '2026-02-23' });
    expect((await expected())!.said!.ownShare).toBeCloseTo(1 / 9, 12);
    await say({ by: 'estimate', quantity: '70 g', per: 'week', from: '2026-02-24' });
    expect((await expected())!.said!.ownShare).toBe(0);
    // from before its first use on, the weeks without any count as well
    await say({ by: 'estimate', quantity: '70 g', per: 'week', from: '2026-02-02' });
    expect(await expected()).toMatchObject({
      weeksOfHistory: 4,
      weekly: expect.closeTo((2 / 3) * 70_000 + (1 / 3) * 15_000, 6) as number,
    });
    // in ten days: nothing this week, and four sevenths of the next
    await say({ by: 'estimate', quantity: '365 g', per: 'month', from: '2026-03-12' });
    const { weekly } = (await app.request<ItemOutlook>('GET', '/api/reorder/items/CEDAR')).body;
    expect(weekly[0]).toBe(0);
    expect(weekly[1]).toBeCloseTo((4 / 7) * 84_000, 6);
    expect(weekly[2]).toBeCloseTo(84_000, 6);
    expect(await done('DELETE', SAID, undefined)).toMatchObject({ by: 'nothing', quantity: null, saidBy: null });
    // its two weeks and one that is planned are three
    expect((await expected())!.said).toMatchObject({ by: 'planned', ownShare: 0.5 });
  });

  it('is that it goes like another one, by its use', async () => {
    const other = { code: 'FIG', name: 'Fig', kind: 'material', family: 'fragrance', measure: 'weighed' };
    await done('POST', '/api/items', other);
    expect(await say({ by: 'like', like: 'FIG', percent: '80 %' })).toMatchObject({
      like: 'FIG',
      likePpb: 800_000_000,
    });
    // it is not used itself yet
    expect(await expected()).toBeNull();
    await used(
      'FIG',
      Array.from({ length: 20 }, () => 50_000),
    );
    expect(await expected()).toMatchObject({ said: { by: 'like', like: 'FIG', weekly: 40_000, ownShare: 0 } });
    expect((await app.request(`GET`, '/api/reorder')).status).toBe(200);
    const measure = await app.request<{ code: string }>('PATCH', '/api/items/CEDAR', { measure: 'counted' });
    expect(measure.status).toBe(409);
  });

  it('is planned orders, where there are some and nothing else is known', async () => {
    await order(app, '1002', 30, '2026-03-13');
    await order(app, '1003', 30, '2026-03-20');
    await order(app, '1004', 30, '2026-03-27');
    const found = (await expected())!;
    expect(found.said).toMatchObject({ by: 'planned', like: null, ownShare: 0 });
    expect(found.weekly).toBeGreaterThan(0);
  });

  it('is refused where it is of itself, of something made, of another measure, or nothing', async () => {
    const pointers = async (body: unknown) => {
      const answer = await app.request<{ errors: { pointer: string }[] }>('PUT', SAID, body);
      return [answer.status, ...answer.body.errors.map(({ pointer }) => pointer)];
    };
    const like = (code: string) => ({ by: 'like', like: code, percent: '80 %' });
    for (const code of ['CEDAR', 'CEDAR-BULK', 'BOTTLE', 'NOTHING'])
      expect(await pointers(like(code))).toEqual([422, '/like']);
    expect(await pointers({ ...like('CEDAR'), percent: '0.05 %' })).toEqual([422, '/percent']);
    const estimate = { by: 'estimate', quantity: '0 g', per: 'week' };
    expect(await pointers(estimate)).toEqual([422, '/quantity']);
    expect(await faultsOnBadInput(app, 'PUT', SAID, { ...estimate, quantity: '1 g' })).toEqual([]);
    expect((await app.request('DELETE', '/api/reorder/items/CEDAR-BULK/said')).status).toBe(404);
    expect(
      (await app.request('PUT', '/api/reorder/items/CEDAR-BULK/said', { ...estimate, quantity: '1 g' })).status,
    ).toBe(404);
  });
});
