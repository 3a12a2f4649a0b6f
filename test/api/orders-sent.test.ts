import { beforeEach, describe, expect, it } from 'vitest';
import type { ChannelView, OrderPage, OrderView } from '../../src/orders/orders.schema.js';
import { CoverageService } from '../../src/planning/coverage.service.js';
import type { RunView } from '../../src/planning/planning.schema.js';
import type { PickList, PickOrder } from '../../src/shipping/pick.schema.js';
import type { ShipmentView } from '../../src/shipping/shipping.schema.js';
import { planText } from '../../src/terminal.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { pageText } from '../support/page-forms.js';
import { type ProblemBody, type ShelfUser, shelfOf } from '../support/shelf.js';
import { SMALL_SHOP } from '../support/small-shop.js';

/*
 * Sprays that mature seven days, and cards that lie on the shelf, on Monday 2 March 2026. Order 1001 wants ten sprays by the
 * 20th; order BOTH wants sprays and cards by Friday the 6th.
 */
let app: TestApp;
let shelf: ShelfUser;

beforeEach(async () => {
  app = await startTestApp({ filled: SMALL_SHOP });
  shelf = shelfOf(app);
  await shelf.item('CARD', { kind: 'product', name: 'Card' });
  await shelf.receive('CARD', 5, { code: 'CARDS' });
  return () => app.close();
});

const SPRAYS = { code: 'CEDAR-100', quantity: 10, shipBy: '2026-03-06' };
const CARDS = { code: 'CARD', quantity: 5, shipBy: '2026-03-06' };
const create = (number: string, lines: object[], rest: object = {}) =>
  shelf.done<OrderView>('/api/orders', { channel: 'shop', number, lines, ...rest });
const change = (number: string, body: object) =>
  app.request<OrderView & ProblemBody>('PATCH', `/api/orders/shop/${number}`, body);
const draft = (weekStart = '2026-03-02') => shelf.done<RunView>('/api/runs', { weekStart });
const commit = (id: number) => app.request<ProblemBody & { changed?: object[] }>('POST', `/api/runs/${id}/commit`);
const covers = async (number: string) =>
  (await app.app.get(CoverageService).order({ channel: 'shop', number })).coverage;
const inTrouble = async () =>
  (await app.app.get(CoverageService).page({ limit: 100, trouble: true })).orders.map(({ number }) => number);
const linesOf = ({ proposal }: RunView, number: string) =>
  new Map(proposal.lines.filter(({ key }) => key.includes(`/${number}/`)).map((row) => [row.item, row]));
const send = (number: string, rows: [code: string, lot: string, quantity: number][]) =>
  app.request<ShipmentView & ProblemBody>('POST', '/api/shipments', {
    channel: 'shop',
    number,
    lines: rows.map(([code, lot, quantity]) => ({ code, lot, quantity })),
  });

describe('how an order is sent', () => {
  it('is line by line, unless it or its channel says otherwise', async () => {
    expect(await create('A', [CARDS])).toMatchObject({ sends: null, sentAs: 'lines' });
    expect(await create('B', [CARDS], { sends: 'parts' })).toMatchObject({ sends: 'parts', sentAs: 'parts' });
    const said = await app.request<ChannelView>('PATCH', '/api/channels/shop', { sends: 'complete' });
    expect([said.status, said.body]).toMatchObject([200, { sends: 'complete', weight: 1 }]);
    expect(await shelf.get('/api/channels/shop')).toEqual(said.body);
    const { orders } = await shelf.get<OrderPage>('/api/orders');
    expect(orders.map(({ number, sends, sentAs }) => [number, sends, sentAs])).toEqual([
      ['B', 'parts', 'parts'],
      ['A', null, 'complete'],
      ['1001', null, 'complete'],
    ]);
    expect((await change('A', { sends: 'lines' })).body).toMatchObject({ sends: 'lines', sentAs: 'lines' });
    expect((await change('B', { sends: null })).body).toMatchObject({ sends: null, sentAs: 'complete' });
  });

  it('changes nothing else of it, and says nothing of who made it urgent', async () => {
    await create('A', [CARDS], { weight: 3, urgent: true });
    await app.database.query('update customer_order set precedence_by = null, precedence_at = null');
    expect((await change('A', { sends: 'parts' })).body).toMatchObject({ weight: 3, urgent: true, sends: 'parts' });
    expect((await change('A', { weight: 4 })).body).toMatchObject({ weight: 4, sends: 'parts' });
    expect(await app.database.query('select count(precedence_by)::int as by from customer_order')).toEqual([{ by: 1 }]);
  });

  it('is none that nobody knows, and nothing of an order that is over', async () => {
    await create('A', [CARDS]);
    const unknown = await change('A', { sends: 'slowly' });
    expect([unknown.status, unknown.body.errors?.[0]?.pointer]).toEqual([422, '/sends']);
    expect((await change('A', {})).status).toBe(422);
    expect((await app.request('PATCH', '/api/channels/shop', {})).status).toBe(422);
    expect((await app.request('GET', '/api/channels/nowhere')).status).toBe(404);
    await app.request('POST', '/api/orders/shop/A/cancel');
    expect((await change('A', { sends: 'parts' })).body.code).toBe('wrong-state');
  });

  it('makes a draft stale that was made before it was said', async () => {
    await create('BOTH', [SPRAYS, CARDS]);
    const { id } = await draft();
    await change('BOTH', { sends: 'complete' });
    const answer = await commit(id);
    expect([answer.status, answer.body.code]).toEqual([409, 'stale']);
    expect(answer.body.changed).toMatchObject([
      { what: 'lines', key: 'shop/BOTH/CARD#1', was: { sends: 'lines' }, now: { sends: 'complete' } },
      { what: 'lines', key: 'shop/BOTH/CEDAR-100#1' },
    ]);
    await change('BOTH', { sends: 'lines' });
    expect((await commit(id)).status).toBe(200);
  });
});

describe('an order that is sent complete', () => {
  beforeEach(() => create('BOTH', [SPRAYS, CARDS], { sends: 'complete' }));

  it('is late as a whole, and every page says for what it waits', async () => {
    const run = await draft();
    const found = linesOf(run, 'BOTH');
    const { readyOn, lateDays } = found.get('CEDAR-100')!;
    expect(lateDays).toBeGreaterThan(0);
    expect(found.get('CARD')).toMatchObject({
      readyOn,
      lateDays,
      because: 'order',
      waitsFor: { line: 'shop/BOTH/CEDAR-100#1', item: 'CEDAR-100', readyOn },
    });
    const waits = /waits for Cedar spray 100 ml, ready [A-Z][a-z]{2} \d+ Mar/;
    expect((await covers('BOTH')).map(({ lateDays: late, readyOn: on }) => [late, on])).toEqual([
      [lateDays, readyOn],
      [lateDays, readyOn],
    ]);
    for (const address of ['/orders/shop/BOTH', '/orders', '/week/2026-03-02'])
      expect(await pageText(app, address), address).toMatch(waits);
    expect(await planText(app.app, run)).toMatch(waits);
    expect(await inTrouble()).toEqual(['BOTH']);
    const day = /waits for 10 Cedar spray 100 ml \(ready [A-Z][a-z]{2} \d+ Mar\)/;
    for (const address of ['/pick', '/pick/shop/BOTH']) expect(await pageText(app, address), address).toMatch(day);
  });

  it('says of what waits in it and cannot be had that it is not covered, not that it is short', async () => {
    await shelf.item('WREATH', { kind: 'product', name: 'Wreath' });
    await create('FULL', [CARDS, { code: 'WREATH', quantity: 1, shipBy: '2026-03-05' }], { sends: 'complete' });
    await app.request('POST', '/api/orders/shop/BOTH/cancel');
    await draft();
    expect(await pageText(app, '/orders/shop/FULL')).toContain('(waits for Wreath, not covered yet)');
    expect(await pageText(app, `/why/late/${encodeURIComponent('shop/FULL/CARD#1')}`)).toContain(
      'it is not covered: waits for the rest of its order, which goes all at once.',
    );
  });

  it('names each line it waits for once, with what comes last of it', async () => {
    await create(
      'LATER',
      [
        { ...SPRAYS, notBefore: '2026-03-05' },
        { ...CARDS, notBefore: '2026-03-05' },
      ],
      {
        sends: 'complete',
      },
    );
    const page = await app.request('GET', '/pick/shop/LATER');
    expect(page.text).toContain('waits for 10 Cedar spray 100 ml (not covered yet), Card (not before Thu 5 Mar).');
  });

  it('waits for what is set aside for it already', async () => {
    const { id } = await draft();
    expect((await commit(id)).status).toBe(200);
    const aside = async () => (await covers('BOTH')).map(({ sources }) => sources.some((one) => one.isSetAside));
    // the cards are set aside; the sprays are filled in a later week
    expect(await aside()).toEqual([false, true]);
    const next = await draft('2026-03-09');
    const { readyOn } = linesOf(next, 'BOTH').get('CEDAR-100')!;
    expect((await commit(next.id)).status).toBe(200);
    expect(await aside()).toEqual([true, true]);
    const [sprays, cards] = await covers('BOTH');
    expect(sprays).toMatchObject({ readyOn, missing: 0, unplanned: 0 });
    expect(cards).toMatchObject({ readyOn, waitsFor: { name: 'Cedar spray 100 ml', readyOn } });
    expect(await inTrouble()).toEqual(['BOTH']);
    // one more card of the order goes no sooner than the sprays that are set aside
    await app.database.query(`update order_line set quantity = 6 where quantity = 5`);
    await shelf.receive('CARD', 1);
    const then = await draft('2026-03-16');
    expect(linesOf(then, 'BOTH').get('CARD')).toMatchObject({ quantity: 1, missing: 0, readyOn, because: 'order' });
  });

  it('is not set aside as long as something of it is not covered, and leaves it to others', async () => {
    await shelf.item('WREATH', { kind: 'product', name: 'Wreath' });
    await create('FULL', [CARDS, { code: 'WREATH', quantity: 1, shipBy: '2026-03-05' }], { sends: 'complete' });
    await app.request('POST', '/api/orders/shop/BOTH/cancel');
    await create('LATER', [{ ...CARDS, shipBy: '2026-03-07' }]);
    const run = await draft();
    expect(linesOf(run, 'LATER').get('CARD')).toMatchObject({ missing: 0, lateDays: 0 });
    expect(linesOf(run, 'FULL').get('CARD')).toMatchObject({ missing: 5, taken: [], readyOn: null });
    expect((await commit(run.id)).status).toBe(200);
    expect((await covers('FULL')).map(({ sources }) => sources)).toEqual([[], []]);
    expect((await covers('LATER'))[0]!.sources).toMatchObject([{ code: 'CARDS', quantity: 5, isSetAside: true }]);
  });

  it('is not packed before all of it is there, and its free lots go to the next', async () => {
    await create('NEXT', [{ ...CARDS, shipBy: '2026-03-20' }]);
    const { orders } = await shelf.get<PickList>('/api/pick-list');
    expect(orders.map(({ number, sentAs, isWhole }) => [number, sentAs, isWhole])).toEqual([
      ['BOTH', 'complete', false],
      ['1001', 'lines', false],
      ['NEXT', 'lines', true],
    ]);
    expect(await shelf.get<PickOrder>('/api/pick-list/shop/BOTH')).toEqual(orders[0]);
    expect(await pageText(app, '/pick')).toContain('waits for 10 Cedar spray 100 ml (not covered yet)');
    const page = await app.request('GET', '/pick/shop/BOTH');
    expect(page.text).toContain('This order goes all at once, and waits for 10 Cedar spray 100 ml (not covered yet).');
    expect(page.text).not.toContain('It is packed and sent');
  });

  it('is refused in part, with how it could go; and goes as a whole', async () => {
    const refused = await send('BOTH', [['CARD', 'CARDS', 5]]);
    expect([refused.status, refused.body.code, refused.body.detail]).toEqual([
      409,
      'sent-complete',
      'Order BOTH goes all at once, and this would leave 10 Cedar spray 100 ml. To send a part of it, say on its page that it goes in parts or line by line.',
    ]);
    expect((await shelf.lot('CARDS')).onHand).toBe(5);
    const sprays = await shelf.receive('CEDAR-100', 10);
    const sent = await send('BOTH', [
      ['CARD', 'CARDS', 5],
      ['CEDAR-100', sprays, 10],
    ]);
    expect([sent.status, sent.body.orderStatus]).toEqual([201, 'fulfilled']);
  });

  it('goes in part once that is said', async () => {
    await change('BOTH', { sends: 'parts' });
    expect(await pageText(app, '/pick')).toContain('Pack what is there of BOTH');
    expect((await send('BOTH', [['CARD', 'CARDS', 3]])).body).toMatchObject({ orderStatus: 'confirmed' });
  });
});

describe('an order that is sent in parts', () => {
  it('says how many go when, and each part has its own lots set aside', async () => {
    await shelf.receive('CEDAR-100', 4, { code: 'SHELF' });
    // two fillings of three, each from a pour of its own
    await shelf.done('/api/items/CEDAR-100/formulas', {
      batchMin: 1,
      batchMax: 3,
      secondsUnit: 30,
      lines: [
        { item: 'CEDAR-BULK', basis: 'each', amount: '90 g' },
        { item: 'BOTTLE', basis: 'each', amount: 1 },
      ],
    });
    await create('SOME', [SPRAYS], { sends: 'parts' });
    const { id, proposal } = await draft('2026-03-02');
    const line = proposal.lines.find(({ key }) => key === 'shop/SOME/CEDAR-100#1')!;
    expect(line.parts![0]).toEqual({ on: '2026-03-02', quantity: 4 });
    expect(line.parts!.reduce((sum, { quantity }) => sum + quantity, 0)).toBe(10);
    expect(line.taken.filter(({ from }) => from === 'batch').map(({ quantity }) => quantity)).toEqual([3, 3]);
    const text = /4 of 10 by Fri 6 Mar, (6|3) on [A-Z][a-z]{2} \d+ Mar/;
    for (const address of ['/orders/shop/SOME', '/week/2026-03-02'])
      expect(await pageText(app, address), address).toMatch(text);
    expect((await commit(id)).status).toBe(200);
    const next = await draft('2026-03-09');
    expect((await commit(next.id)).status).toBe(200);
    const [covered] = await covers('SOME');
    expect(covered!.sources.map(({ from, quantity, isSetAside }) => [from, quantity, isSetAside])).toEqual([
      ['lot', 4, true],
      ['batch', 3, true],
      ['batch', 3, true],
    ]);
    expect(covered!.parts![0]).toEqual({ on: '2026-03-02', quantity: 4 });
    // what is there goes; the rest stays set aside
    expect((await send('SOME', [['CEDAR-100', 'SHELF', 4]])).body).toMatchObject({ orderStatus: 'confirmed' });
    const [left] = await covers('SOME');
    expect(left!.sources.map(({ from, quantity }) => [from, quantity])).toEqual([
      ['batch', 3],
      ['batch', 3],
    ]);
    expect(left).toMatchObject({ shipped: 4, open: 6, missing: 0, unplanned: 0 });
  });

  it('says on which days it goes where all of it is in time, and what is still to follow', async () => {
    await shelf.receive('CEDAR-100', 4, { code: 'SHELF' });
    await app.request('POST', '/api/orders/shop/1001/cancel');
    await create('SOME', [{ ...SPRAYS, shipBy: '2026-03-27' }], { sends: 'parts' });
    await draft();
    expect(await pageText(app, '/orders/shop/SOME')).toMatch(/4 on Mon 2 Mar, 6 on [A-Z][a-z]{2} \d+ Mar/);
    expect(await pageText(app, '/pick/shop/SOME')).toContain('10 to send, 6 to follow');
  });

  it('counts no longer on what has left since it was planned', async () => {
    await shelf.receive('CEDAR-100', 4, { code: 'SHELF' });
    await create('SOME', [SPRAYS], { sends: 'parts' });
    await draft();
    expect((await send('SOME', [['CEDAR-100', 'SHELF', 4]])).status).toBe(201);
    const [left] = await covers('SOME');
    expect(left).toMatchObject({ open: 6, missing: 0, unplanned: 0 });
    expect(left!.sources.map(({ from, quantity }) => [from, quantity])).toEqual([['batch', 6]]);
  });
});
