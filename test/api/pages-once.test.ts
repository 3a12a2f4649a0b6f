import { beforeAll, describe, expect, it } from 'vitest';
import type { LotPage } from '../../src/stock/stock.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';

const TODAY = '2026-11-25';
const FORM = { 'content-type': 'application/x-www-form-urlencoded', accept: 'text/html' };
let app: TestApp;
let lot: string;
let place: string;
beforeAll(async () => {
  app = await startTestApp({ today: TODAY, filled: DEMONSTRATION });
  const { lots } = (await app.request<LotPage>('GET', '/api/lots?item=FO-CEDAR')).body;
  lot = lots[0]!.code;
  place = lots[0]!.place;
  return () => app.close();
});

/** The forms of a page that are sent by POST: where to, and with which hidden fields. */
async function formsOf(page: string): Promise<{ action: string; hidden: [string, string][] }[]> {
  const { text, status } = await app.request('GET', page, undefined, { accept: 'text/html' });
  expect(status, page).toBe(200);
  return [...text.matchAll(/<form[^>]*method="post"[^>]*>.*?<\/form>/gs)].map(([form]) => ({
    action: /action="([^"]*)"/.exec(form)![1]!,
    hidden: [...form.matchAll(/<input type="hidden" name="([^"]*)" value="([^"]*)"/g)].map(([, name, value]) => [
      name!,
      value!,
    ]),
  }));
}

/** Opens a page and fills in the form whose action ends so. */
async function filledIn(page: string, ending: string, fields: Record<string, string>) {
  const form = (await formsOf(page)).find(({ action }) => action.endsWith(ending));
  expect(form, `${page} has a form to ${ending}`).toBeDefined();
  return { action: form!.action, body: new URLSearchParams([...form!.hidden, ...Object.entries(fields)]).toString() };
}

const send = ({ action, body }: { action: string; body: string }) => app.request('POST', action, body, FORM);
const rows = async (sql: string): Promise<unknown> => (await app.database.query<{ n: number }>(sql))[0]?.n;
const BOUGHT = '/purchase-orders/PO26-0001';
const IN_STATE = (state: string) => `select count(*)::int as n from purchase_order where status = '${state}'`;
const MOVED = `select count(*)::int as n from movement`;

describe('a form that is sent twice', () => {
  it.each<[string, () => [page: string, ending: string, fields: Record<string, string>, counts: string]]>([
    ['plan', () => ['/week/2026-11-30', '/plan', {}, `select count(*)::int as n from run`]],
    ['set aside', () => ['/week/2026-11-30', '/set-aside', {}, `select count(*)::int as n from batch`]],
    [
      'take back',
      () => ['/week/2026-11-30', '/take-back', {}, `select count(*)::int as n from run where status = 'undone'`],
    ],
    [
      'order',
      () => [
        '/orders/new',
        '/orders/new',
        { channel: 'webshop', number: 'TWICE-1', 'lines/0/code': 'SP-FIG-100', 'lines/0/quantity': '2', waits: 'yes' },
        `select count(*)::int as n from customer_order`,
      ],
    ],
    [
      'confirm',
      () => [
        '/orders/webshop/TWICE-1',
        '/confirm',
        {},
        `select count(*)::int as n from customer_order where status = 'confirmed'`,
      ],
    ],
    [
      'cancel',
      () => [
        '/orders/webshop/TWICE-1',
        '/cancel',
        {},
        `select count(*)::int as n from customer_order where status = 'cancelled'`,
      ],
    ],
    [
      'channel',
      () => [
        '/start',
        '/orders/channels',
        { name: 'Fair', code: 'fair', promiseDays: '3' },
        `select count(*)::int as n from channel`,
      ],
    ],
    [
      'vessel',
      () => [
        '/start',
        '/start/vessel',
        { code: 'JUG-99', kind: 'jug', capacity: '2 kg' },
        `select count(*)::int as n from vessel`,
      ],
    ],
    [
      'washing',
      () => [
        '/start/washing',
        '/start/washing',
        { after: '', before: '', where: '', minutes: '20' },
        `select count(*)::int as n from washing`,
      ],
    ],
    [
      'person',
      () => [
        '/start/people',
        '/start/people',
        { name: 'Ada', skills: 'lye, hot wax', 'minutes/0': '240', isActive: 'yes' },
        `select count(*)::int as n from person`,
      ],
    ],
    ['items', () => ['/start', '/start/items', { text: 'NEW-1\tNew one' }, `select count(*)::int as n from item`]],
    ['first lot', () => ['/start', '/start/lot', { item: 'FO-CEDAR', quantity: '20 g' }, MOVED]],
    ['receipt', () => ['/shelf/items/FO-CEDAR', '/receive', { quantity: '100', reason: 'found' }, MOVED]],
    ['scrap', () => [`/shelf/lots/${lot}`, '/take-out', { as: 'scrap', quantity: '1', reason: 'spilt' }, MOVED]],
    ['count', () => [`/shelf/lots/${lot}`, '/count', { counted: '5', reason: 'count' }, MOVED]],
    [
      'hold',
      () => [
        `/shelf/lots/${lot}`,
        '/decide',
        { to: 'held', why: 'smells odd' },
        `select count(*)::int as n from lot where status = 'held'`,
      ],
    ],
    ['split', () => [`/shelf/lots/${lot}`, '/split', { quantity: '1', place: 'fair', reason: 'fair' }, MOVED]],
    [
      'count of a shelf, of a lot that is then gone from there',
      () => [
        `/shelf/count?place=${encodeURIComponent(place)}`,
        '/shelf/count',
        { [`counted.${lot}`]: '0', countedOn: TODAY, reason: 'month' },
        `select count(*)::int as n from shelf_count`,
      ],
    ],
    [
      'formula',
      () => [
        '/formulas/BLK-SP-CEDAR/new',
        '/new',
        { do: 'keep', rows: '1', 'item.1': 'RM-ALCOHOL', 'basis.1': 'qs', batchMin: '1 kg', batch: '1 kg' },
        `select count(*)::int as n from formula`,
      ],
    ],
    ['purchase order', () => ['/reorder', '/reorder/drafts', {}, `select count(*)::int as n from purchase_order`]],
    ['purchase order sent', () => [BOUGHT, '/send', { sentBy: 'web', sentOn: TODAY }, IN_STATE('sent')]],
    ['purchase order confirmed', () => [BOUGHT, '/confirm', { expectedOn: '2026-12-01' }, IN_STATE('confirmed')]],
    ['part of it received', () => [BOUGHT, '/receive', { 'lines/0/quantity': '100', rest: 'yes' }, MOVED]],
  ])('does it once: %s', async (_, makes) => {
    const [page, ending, fields, counts] = makes();
    const form = await filledIn(page, ending, fields);
    const before = await rows(counts);
    const first = await send(form);
    expect(first.status, first.text.match(/(?:role="alert"|class="fault")[^<]*/g)?.join()).toBe(303);
    const once = await rows(counts);
    expect(once).not.toBe(before);
    const second = await send(form);
    expect([second.status, second.headers['location']]).toEqual([303, first.headers['location']]);
    expect(await rows(counts)).toBe(once);
  });

  it('does it once when both taps are under way at the same time', async () => {
    const form = await filledIn('/shelf/items/FO-CEDAR', '/receive', { quantity: '7', reason: 'found' });
    const before = Number(await rows(MOVED));
    const answers = await Promise.all([send(form), send(form), send(form)]);
    expect(new Set(answers.map(({ status, headers }) => `${status} ${headers['location']}`)).size).toBe(1);
    expect(answers[0].status).toBe(303);
    expect(Number(await rows(MOVED))).toBe(before + 1);
  });

  it('does both when it was gone back to and filled in otherwise, or opened anew', async () => {
    const form = await filledIn('/shelf/items/FO-CEDAR', '/receive', { quantity: '8', reason: 'found' });
    const before = Number(await rows(MOVED));
    expect((await send(form)).status).toBe(303);
    expect((await send({ ...form, body: form.body.replace('quantity=8', 'quantity=9') })).status).toBe(303);
    expect(
      (await send(await filledIn('/shelf/items/FO-CEDAR', '/receive', { quantity: '8', reason: 'found' }))).status,
    ).toBe(303);
    expect(Number(await rows(MOVED))).toBe(before + 3);
  });

  it('may be put right and sent again after a fault', async () => {
    const form = await filledIn('/shelf/items/FO-CEDAR', '/receive', { quantity: 'much', reason: 'found' });
    expect((await send(form)).status).toBe(422);
    expect((await send({ ...form, body: form.body.replace('much', '3') })).status).toBe(303);
  });
});

describe('a form that changes something', () => {
  it.each([
    '/week/2026-11-30',
    '/orders/new',
    '/orders/webshop/TWICE-1',
    '/shelf/items/FO-CEDAR',
    '/start',
    '/formulas/BLK-SP-CEDAR/new',
    '/reorder',
    BOUGHT,
  ])('has a key of its own each time it is shown: %s', async (page) => {
    const keys = (await formsOf(page))
      .filter(({ action }) => !action.endsWith('/move-preview'))
      .map(({ action, hidden }) => [action, hidden.find(([name]) => name === 'once')?.[1]] as const);
    for (const [action, key] of keys) expect(key, action).toMatch(/^[0-9a-f-]{36}$/);
    expect(new Set(keys.map(([, key]) => key)).size).toBe(keys.length);
    const again = (await formsOf(page)).flatMap(({ hidden }) => hidden.filter(([name]) => name === 'once'));
    for (const [, key] of again) expect(keys.map(([, first]) => first)).not.toContain(key);
  });
});
