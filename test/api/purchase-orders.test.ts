import { parse } from 'csv-parse/sync';
import { beforeAll, describe, expect, it } from 'vitest';
import type {
  PurchaseOrderCancelled,
  PurchaseOrderPage,
  PurchaseOrderView,
} from '../../src/purchasing/purchase-orders.schema.js';
import type { DeliveryReceived, DeliveryView, PackView } from '../../src/purchasing/purchasing.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { shelfOf } from '../support/shelf.js';

const TODAY = '2026-03-02';
const app = useTestApp({ today: TODAY });
const { done, refused, get, item } = shelfOf(app);

beforeAll(async () => {
  await item('JAR');
  await item('LID');
  await item('CEDAR', { measure: 'weighed', shelfLifeDays: 300 });
  await done('/api/suppliers', { code: 'GLASS', name: 'Glass & Co', freightE4: 100_001, freightFreeFromE4: 3_000_000 });
  await done('/api/suppliers', { code: 'OILS', name: 'Oils of nowhere' });
  const glass = { supplier: 'GLASS', leadDays: 7 };
  await done('/api/packs', {
    ...glass,
    item: 'JAR',
    code: 'J-12',
    size: 12,
    priceE4: 120_000,
    breaks: [{ fromPacks: 10, priceE4: 100_000 }],
  });
  await done('/api/packs', { ...glass, item: 'LID', code: 'L-100', size: 100, priceE4: 70_000, leastPacks: 2 });
  await done('/api/packs', {
    supplier: 'OILS',
    item: 'CEDAR',
    code: 'C-1',
    size: '1 kg',
    priceE4: 900_000,
    leadDays: 14,
  });
});

const draft = (lines: unknown, rest: Record<string, unknown> = {}): Promise<PurchaseOrderView> =>
  done<PurchaseOrderView>('/api/purchase-orders', { supplier: 'GLASS', lines, ...rest });
const order = (code: string) => get<PurchaseOrderView>(`/api/purchase-orders/${code}`);
/** Sent and confirmed for one day. */
async function confirmed(lines: unknown, body: Record<string, unknown> = {}): Promise<PurchaseOrderView> {
  const { code } = await draft(lines);
  await done(`/api/purchase-orders/${code}/send`, { sentBy: 'download' });
  return done<PurchaseOrderView>(`/api/purchase-orders/${code}/confirm`, { expectedOn: '2026-03-10', ...body });
}
const two = [
  { pack: 'J-12', packs: 10 },
  { pack: 'L-100', packs: 3 },
];

describe('a draft', () => {
  it('takes the price for so many packs and the freight of the terms, and can be changed', async () => {
    const made = await draft(two, { note: 'By the gate' });
    expect(made).toMatchObject({
      status: 'draft',
      supplierName: 'Glass & Co',
      note: 'By the gate',
      freightE4: 100_001,
    });
    expect(made.code).toMatch(/^PO26-\d{4}$/);
    expect(made.lines).toMatchObject([
      { line: 1, item: 'JAR', packs: 10, priceE4: 100_000, priceNowE4: 100_000, confirmedPacks: null, received: 0 },
      { line: 2, item: 'LID', packs: 3, priceE4: 70_000, landedE4: null },
    ]);
    expect(made.goodsE4).toBe(1_210_000);
    const changed = await app.request<PurchaseOrderView>('PATCH', `/api/purchase-orders/${made.code}`, {
      lines: [{ pack: 'J-12', packs: 9, priceE4: 110_000 }],
      freightE4: 0,
    });
    expect(changed.body).toMatchObject({ goodsE4: 990_000, freightE4: 0, note: 'By the gate' });
    // what is known for nine now differs from what is asked for
    expect(changed.body.lines).toMatchObject([{ packs: 9, priceE4: 110_000, priceNowE4: 120_000 }]);
    expect((await draft([{ pack: 'J-12', packs: 40 }])).freightE4).toBe(0);
    expect((await draft(two)).code > made.code).toBe(true);
  });

  it('refuses what the supplier does not sell, or not so few of', async () => {
    const create = (lines: unknown) => refused('/api/purchase-orders', { supplier: 'GLASS', lines });
    expect(await create([{ pack: 'C-1', packs: 1 }])).toBe('422 unknown-pack');
    expect(await create([{ pack: 'L-100', packs: 1 }])).toBe('422 too-few');
    expect(await create([two[0], two[0]])).toMatch(/^422/);
    expect(await create([])).toMatch(/^422/);
    expect(await refused('/api/purchase-orders', { supplier: 'NOBODY', lines: two })).toBe('422 unknown-supplier');
    expect(await faultsOnBadInput(app, 'POST', '/api/purchase-orders', { supplier: 'GLASS', lines: two })).toEqual([]);
  });

  it('is changed by nobody once it is sent, and is a draft again when it is taken back', async () => {
    const { code } = await draft(two);
    expect(await refused(`/api/purchase-orders/${code}/send`, { sentBy: 'email', sentOn: '2026-03-03' })).toMatch(
      /^422/,
    );
    const sent = await done<PurchaseOrderView>(`/api/purchase-orders/${code}/send`, { sentBy: 'telephone' });
    expect(sent).toMatchObject({ status: 'sent', sentOn: TODAY, sentBy: 'telephone' });
    expect((await app.request('PATCH', `/api/purchase-orders/${code}`, { lines: two })).status).toBe(409);
    await expect(app.database.query(`update purchase_line set packs = 1`)).rejects.toMatchObject({ code: 'LW008' });
    expect(await refused(`/api/purchase-orders/${code}/send`, { sentBy: 'email' })).toBe('409 wrong-status');
    expect(await done(`/api/purchase-orders/${code}/take-back`, {})).toMatchObject({ status: 'draft', sentOn: null });
    const { state } = await one<{ state: string }>(
      `select string_agg(to_status, ' ' order by s.id) as state from state_change s join purchase_order o
       on o.id = s.subject_id and s.subject = 'purchase_order' where o.code = '${code}'`,
    );
    expect(state).toBe('sent draft');
  });

  it('is printed as a PDF and given out as a table that a spreadsheet opens safely', async () => {
    const named = { supplier: 'GLASS', item: 'LID', code: '=1+1', size: 1, priceE4: 0, leadDays: 1 };
    await done('/api/packs', named);
    const { code } = await draft([...two, { pack: '=1+1', packs: 1 }]);
    const pdf = await app.request('GET', `/api/purchase-orders/${code}/order.pdf`);
    expect(pdf.status).toBe(200);
    expect(pdf.text.startsWith('%PDF-1.')).toBe(true);
    const csv = await app.request('GET', `/api/purchase-orders/${code}/order.csv`);
    const rows = parse<Record<string, string>>(csv.text, { bom: true, columns: true });
    expect(rows).toMatchObject([
      { order: code, line: '1', pack: 'J-12', packs: '10', 'price of a pack': '10.00', price: '100.00' },
      { line: '2', pack: 'L-100', packs: '3', price: '21.00', currency: 'USD' },
      { line: '3', pack: "'=1+1" },
    ]);
    expect((await app.request('GET', '/api/purchase-orders/PO26-9999/order.pdf')).status).toBe(404);
  });
});

async function one<Row>(sql: string): Promise<Row> {
  const [row] = await app.database.query<Row>(sql);
  return row!;
}

describe('a confirmed order', () => {
  it('is expected on its day under its own code, the freight shared over its lines to the last part of a cent', async () => {
    const made = await confirmed(two, { reference: 'A-77', freightE4: 100_001 });
    expect(made).toMatchObject({ status: 'confirmed', reference: 'A-77' });
    // 100,001 over 1,000,000 and 210,000
    expect(made.lines.map(({ landedE4 }) => landedE4)).toEqual([1_000_000 + 82_645, 210_000 + 17_356]);
    const delivery = await get<DeliveryView>(`/api/deliveries/${made.code}`);
    expect(delivery).toMatchObject({
      supplier: 'GLASS',
      status: 'expected',
      orderedOn: TODAY,
      expectedOn: '2026-03-10',
    });
    expect(delivery.lines).toMatchObject([
      { item: 'JAR', pack: 'J-12', packs: 10, quantity: 120, costE4: 1_082_645 },
      { item: 'LID', pack: 'L-100', packs: 3, quantity: 300, costE4: 227_356 },
    ]);
    const dearer = await app.request<PurchaseOrderView>('PUT', `/api/purchase-orders/${made.code}/freight`, {
      freightE4: 7,
    });
    expect(dearer.body.lines.map(({ landedE4 }) => landedE4)).toEqual([1_000_006, 210_001]);
  });

  it('comes in parts on several days, less than asked for, or not at all', async () => {
    const made = await confirmed(two, {
      freightE4: 1_000,
      lines: [
        {
          line: 1,
          parts: [
            { packs: 4, expectedOn: '2026-03-09' },
            { packs: 5, expectedOn: '2026-04-01' },
          ],
        },
        { line: 2, parts: [] },
      ],
    });
    expect(made.lines).toMatchObject([
      { packs: 10, confirmedPacks: 9, toCome: 108 },
      { packs: 3, confirmedPacks: 0, toCome: 0 },
    ]);
    expect(made.deliveries).toMatchObject([
      { code: made.code, expectedOn: '2026-03-09', lines: [{ line: 1, of: 1, packs: 4, quantity: 48 }] },
      { code: `${made.code}.2`, expectedOn: '2026-04-01', lines: [{ of: 1, packs: 5, quantity: 60 }] },
    ]);
    const { code } = await draft(two);
    await done(`/api/purchase-orders/${code}/send`, { sentBy: 'web' });
    const nothing = two.map((_, index) => ({ line: index + 1, parts: [] }));
    const confirm = (body: Record<string, unknown>) =>
      refused(`/api/purchase-orders/${code}/confirm`, { expectedOn: '2026-03-10', ...body });
    expect(await confirm({ lines: nothing })).toBe('422 nothing-confirmed');
    expect(await confirm({ lines: [{ line: 3 }] })).toBe('422 unknown-line');
    expect(await confirm({ lines: [{ line: 1 }, { line: 1 }] })).toBe('422 twice');
    const body = { expectedOn: '2026-03-10', lines: [{ line: 1, priceE4: 5, parts: [] }] };
    expect(await faultsOnBadInput(app, 'POST', `/api/purchase-orders/${code}/confirm`, body)).toEqual([]);
  });

  it('notices prices that changed, and keeps them for the next order when told to', async () => {
    const dearer = [{ line: 1, priceE4: 104_000 }];
    const made = await confirmed(two, { lines: dearer });
    expect(made.lines).toMatchObject([{ priceE4: 100_000, confirmedPriceE4: 104_000, priceNowE4: 100_000 }, {}]);
    const pack = async () => (await get<{ packs: PackView[] }>('/api/packs?item=JAR')).packs[0]!;
    expect((await pack()).breaks).toEqual([{ fromPacks: 10, priceE4: 100_000 }]);
    const kept = await confirmed(two, { lines: [...dearer, { line: 2, priceE4: 80_000 }], takePrices: true });
    expect(kept.lines).toMatchObject([{ priceNowE4: 104_000 }, { priceNowE4: 80_000 }]);
    expect(await pack()).toMatchObject({ priceE4: 120_000, breaks: [{ fromPacks: 10, priceE4: 104_000 }] });
    await app.request('PATCH', '/api/suppliers/GLASS/packs/L-100', { priceE4: 70_000 });
  });

  it('is received in part and over through its deliveries; what is still to come stays a back-order', async () => {
    const made = await confirmed(two, { freightE4: 0, lines: [{ line: 1, priceE4: 100_000 }] });
    const receive = (body: Record<string, unknown>) =>
      done<DeliveryReceived>(`/api/deliveries/${made.code}/receive`, body);
    const first = await receive({ lines: [{ line: 1, lots: [{ quantity: 50 }] }], restStillComes: true });
    expect((await get<LotView>(`/api/lots/${first.lots[0]!.lot}`)).valueE4).toBe(Math.floor((1_000_000 * 50) / 120));
    const open = await order(made.code);
    expect(open.status).toBe('partly-received');
    expect(open.lines).toMatchObject([
      { received: 50, toCome: 70 },
      { received: 0, toCome: 300 },
    ]);
    expect((await app.request('PUT', `/api/purchase-orders/${made.code}/freight`, { freightE4: 5 })).status).toBe(409);
    const rest = await receive({
      lines: [
        { line: 1, lots: [{ quantity: 71 }] },
        { line: 2, lots: [{ quantity: 300 }] },
      ],
    });
    // one jar more than ordered came, and costs nothing
    const values = await Promise.all(
      rest.lots.map(async ({ lot }) => (await get<LotView>(`/api/lots/${lot}`)).valueE4),
    );
    expect(values).toEqual([1_000_000 - Math.floor((1_000_000 * 50) / 120), 210_000]);
    expect(await order(made.code)).toMatchObject({ status: 'received', lines: [{ received: 121, toCome: 0 }, {}] });
    expect(await refused(`/api/purchase-orders/${made.code}/cancel`, { why: 'late' })).toBe('409 wrong-status');
  });

  it('is given up: what nothing came of is cancelled, of the rest the order ends with what came', async () => {
    const whole = await confirmed(two);
    const { order: cancelled, broken } = await done<PurchaseOrderCancelled>(
      `/api/purchase-orders/${whole.code}/cancel`,
      { why: 'too late' },
    );
    expect(cancelled).toMatchObject({ status: 'cancelled', deliveries: [{ status: 'cancelled' }] });
    expect(broken).toEqual([]);
    const part = await confirmed(two);
    await done(`/api/deliveries/${part.code}/receive`, {
      lines: [{ line: 2, lots: [{ quantity: 100 }] }],
      restStillComes: true,
    });
    const ended = await done<PurchaseOrderCancelled>(`/api/purchase-orders/${part.code}/cancel`, { why: 'no more' });
    expect(ended.order).toMatchObject({ status: 'received', deliveries: [{ status: 'received' }] });
    expect(ended.order.lines.map(({ toCome }) => toCome)).toEqual([0, 0]);
    expect(await refused('/api/purchase-orders/PO26-9999/cancel', { why: 'x' })).toBe('404 not-found');
    const late = await confirmed(two);
    expect(await done(`/api/deliveries/${late.code}/end`, { why: 'lost' })).toMatchObject({
      delivery: { status: 'cancelled' },
    });
  });

  it('is listed newest first, by what became of it and by supplier', async () => {
    await done(`/api/purchase-orders/${(await draft(two)).code}/send`, { sentBy: 'other' });
    const all = await get<PurchaseOrderPage>('/api/purchase-orders?limit=1000');
    expect(all.orders.map(({ code }) => code)).toEqual(
      all.orders
        .map(({ code }) => code)
        .sort()
        .reverse(),
    );
    const page = await get<PurchaseOrderPage>('/api/purchase-orders?limit=2');
    const next = await get<PurchaseOrderPage>(`/api/purchase-orders?limit=2&after=${page.next}`);
    expect([...page.orders, ...next.orders].map(({ code }) => code)).toEqual(
      all.orders.slice(0, 4).map(({ code }) => code),
    );
    for (const status of ['draft', 'sent', 'confirmed', 'received', 'cancelled']) {
      const { orders } = await get<PurchaseOrderPage>(`/api/purchase-orders?status=${status}&supplier=GLASS`);
      expect(orders.length, status).toBeGreaterThan(0);
      expect(new Set(orders.map((row) => row.status))).toEqual(new Set([status]));
    }
    expect((await get<PurchaseOrderPage>('/api/purchase-orders?supplier=OILS')).orders).toEqual([]);
  });
});
