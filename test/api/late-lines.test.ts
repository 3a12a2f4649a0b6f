import { beforeAll, expect, it } from 'vitest';
import type { RunView } from '../../src/planning/planning.schema.js';
import { useTestApp } from '../support/app.js';
import { SMALL_SHOP } from '../support/small-shop.js';

const shop = useTestApp({ filled: SMALL_SHOP });
const WEEK = '2026-03-02';

const post = async <Body>(url: string, body: unknown): Promise<Body> => {
  const answer = await shop.request<Body>('POST', url, body);
  expect(answer.status, `${url} ${answer.text}`).toBeLessThan(300);
  return answer.body;
};
const order = (number: string, quantity: number, shipBy: string) =>
  post('/api/orders', {
    channel: 'shop',
    number,
    customer: 'A. Customer',
    lines: [{ code: 'CEDAR-100', quantity, shipBy }],
  });
const keyOf = (number: string) => `shop/${number}/CEDAR-100#1`;
const ask = (key: string) => shop.request('GET', `/api/late-lines/${encodeURIComponent(key)}`);
const page = async (address: string) => {
  const answer = await shop.request('GET', address, undefined, { accept: 'text/html' });
  return { ...answer, text: answer.text.replaceAll('&#34;', '"') };
};
const whyPage = (number: string) => page(`/why/late/${encodeURIComponent(keyOf(number))}`);

beforeAll(async () => {
  // a spray that rests seven days: nothing of it can be ready this week
  await order('W-REST', 5, '2026-03-06');
});

it('says what stands in the way as everything is now, and what helps', async () => {
  const { status, body } = await ask(keyOf('W-REST'));
  expect(status).toBe(200);
  expect(body).toMatchObject({
    line: keyOf('W-REST'),
    item: 'CEDAR-100',
    quantity: 5,
    today: WEEK,
    weekStart: WEEK,
    way: {
      now: { readyOn: '2026-03-09', lateDays: 3, missing: 0, because: 'rest' },
      first: { lateDays: 3 },
      worse: [],
      alone: { lateDays: 3, because: 'rest' },
      help: [],
    },
  });
  const { text } = await whyPage('W-REST');
  expect(text).toContain('Why is 5 × Cedar spray 100 ml late?');
  expect(text).toContain('it is 3 days late, ready Mon 9 Mar: cannot rest long enough.');
  expect(text).toContain('To put it before all other orders would change nothing for it.');
  expect(text).toContain('no order can make room for it');
  expect(text).toContain('Nothing that was tried, without serving another order worse: up to 8 hours more');
});

it('is led to from the order and the week, and follows what happened since the plan', async () => {
  const { proposal } = await post<RunView>('/api/runs', { weekStart: WEEK });
  expect(proposal.lines.find(({ key }) => key === keyOf('W-REST'))).toMatchObject({ lateDays: 3 });
  const address = `/why/late/${encodeURIComponent(keyOf('W-REST'))}`;
  expect((await page('/orders/shop/W-REST')).text).toContain(address);
  expect((await page(`/week/${WEEK}`)).text).toContain(address);
  expect((await page('/orders/shop/1001')).text).not.toContain('/why/late/');
  // five come from elsewhere: the plan is old, what is asked now is not
  await post('/api/lots', { item: 'CEDAR-100', code: 'FOUND', quantity: 5 });
  expect((await ask(keyOf('W-REST'))).body).toMatchObject({ way: null });
  const { text } = await whyPage('W-REST');
  expect(text).toContain('5 × Cedar spray 100 ml: in time');
  expect(text).toContain('its plan is older');
});

it('names what is lacking, with its amount', async () => {
  await order('W-MANY', 100, '2026-03-31');
  const { body } = await ask(keyOf('W-MANY'));
  const way = body['way'] as { now: { missing: number }; help: { materials?: object[] }[] };
  expect(way.now.missing).toBeGreaterThan(0);
  expect(way.help).toMatchObject([{ materials: [{ item: 'ALCOHOL' }, { item: 'CEDAR' }, { item: 'BOTTLE' }] }]);
  const { text } = await whyPage('W-MANY');
  expect(text).toContain('Why is 100 × Cedar spray 100 ml not covered?');
  expect(text).toMatch(/more of Alcohol base.*here today/);
});

it('refuses a line that nobody knows, and one that is sent or cancelled', async () => {
  for (const key of ['shop/W-NONE/CEDAR-100#1', 'nonsense', '%'])
    expect(await ask(key)).toMatchObject({ status: 404, body: { code: 'not-found' } });
  expect((await page('/why/late/nonsense')).text).toContain('There is no order line to be planned called nonsense.');
  expect((await ask('x'.repeat(300))).status).toBe(414);
});
