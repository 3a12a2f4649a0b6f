import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/demo/random.js';
import { OutboxService } from '../../src/messages/outbox.service.js';
import { Database } from '../../src/platform/database.js';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import type { CustomerList } from '../../src/trace/contacts.schema.js';
import type { RecallView } from '../../src/trace/recall.schema.js';
import { startTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { allRows, changedRows, closeOrdersOf, eraseCustomer } from '../support/erasing.js';
import { patience, runs } from '../support/scale.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';

/** Words of a text, codes, keys and values of JSON, and pieces of JSON and of patterns. */
const NAMES = [
  'Rose',
  'Rosemary Hill',
  'null',
  'status',
  'customer',
  'a',
  '12',
  'soot',
  "O'Neil",
  '%',
  '(',
  'İ',
  'CANDLE',
  'CAN-1',
  'FO-ROSE/12',
  'shop/R-3',
  'C29-001',
  '{"customer":"Rose"}',
  '["Rose", null]',
  '","text":"',
  '\\1 .*',
];
const WORDS = ['Hedge', 'Rose-hip', 'mist', 'Rosemary', 'lot', 'made', 'a', 'soot', '20', '%', 'on', 'the', 'shelf.'];
const STEPS = runs(70, 400);
const ERASED = runs(5, NAMES.length);
/** What a look or the request of the erasure itself writes. */
const BESIDE = /^(change|sweep) /;

interface Story {
  app: TestApp;
  draw: (below: number) => number;
  orders: { number: string; customer: string; sent: string | undefined }[];
  complaints: string[];
  recall: string;
}

const oneOf = <T>({ draw }: Story, of: readonly T[]): T => of[draw(of.length)]!;
/** Up to ten words, with whole names among them, whoever's they are. */
const said = (story: Story): string =>
  Array.from({ length: 2 + story.draw(9) }, () => oneOf(story, story.draw(3) === 0 ? NAMES : WORDS)).join(' ');

const ACTS: ((story: Story) => Promise<void>)[] = [
  order,
  order,
  importOrders,
  ship,
  ship,
  takeBack,
  complain,
  note,
  answer,
  write,
  reach,
];

async function order(story: Story): Promise<void> {
  const [number, customer] = [`R-${story.orders.length + 1}`, oneOf(story, NAMES)];
  const lines = [{ code: 'CANDLE', quantity: 1 + story.draw(5), shipBy: '2029-07-01' }];
  await shelfOf(story.app).done('/api/orders', { channel: 'shop', number, customer, lines });
  story.orders.push({ number, customer, sent: undefined });
}

async function importOrders(story: Story): Promise<void> {
  const rows = Array.from({ length: 3 }, () => {
    const [number, customer] = [`R-${story.orders.length + 1}`, oneOf(story, NAMES)];
    story.orders.push({ number, customer, sent: undefined });
    return `${number},CANDLE,2,2029-07-01,"${customer.replaceAll('"', '""')}"`;
  });
  const csv = ['order,sku,qty,date,customer', ...rows].join('\n');
  const done = await story.app.request('POST', '/api/orders/import?channel=shop', csv, { 'content-type': 'text/csv' });
  expect(done.status, done.text).toBe(200);
  await story.app.database.query(`insert into order_file (name, lines, report) values ('orders.csv', 4, $1)`, [
    done.text,
  ]);
}

async function ship(story: Story): Promise<void> {
  const open = story.orders.find(({ sent }) => sent === undefined);
  if (!open) return order(story);
  open.sent = oneOf(story, ['CAN-1', 'FO-ROSE/12']);
  const lines = [{ code: 'CANDLE', occurrence: 1, lot: open.sent, quantity: 1 }];
  await shelfOf(story.app).done('/api/shipments', { channel: 'shop', number: open.number, lines });
}

async function takeBack(story: Story): Promise<void> {
  const sent = story.orders.findLast((one) => one.sent !== undefined);
  if (!sent) return order(story);
  const orderLine = { channel: 'shop', number: sent.number, code: 'CANDLE', occurrence: 1 };
  // what came back already is refused, which is as good a history
  await shelfOf(story.app).post('/api/returns', { orderLine, lot: sent.sent, quantity: 1, reason: said(story) });
}

async function complain(story: Story): Promise<void> {
  const about = story.orders.length > 0 && story.draw(5) > 0 ? oneOf(story, story.orders) : undefined;
  const { code } = await shelfOf(story.app).done<ComplaintView>('/api/complaints', {
    ...(about && { order: { channel: 'shop', number: about.number } }),
    description: said(story),
    harm: 'none',
    reporter: about && story.draw(3) > 0 ? about.customer : oneOf(story, NAMES),
    contact: said(story),
  });
  story.complaints.push(code);
}

async function note(story: Story): Promise<void> {
  if (story.complaints.length === 0) return complain(story);
  const at = `/api/complaints/${oneOf(story, story.complaints)}/entries`;
  const number = story.orders.length > 0 && story.draw(4) === 0 ? oneOf(story, story.orders).number : undefined;
  await shelfOf(story.app).done(
    at,
    number === undefined
      ? { kind: 'note', text: said(story) }
      : { kind: 'order', text: said(story), order: { channel: 'shop', number } },
  );
}

async function answer(story: Story): Promise<void> {
  const sent = story.orders.filter((one) => one.sent !== undefined);
  if (sent.length === 0) return ship(story);
  const { number, sent: lot } = oneOf(story, sent);
  const body = { order: { channel: 'shop', number }, lot, received: 1, used: 1, note: said(story) };
  await shelfOf(story.app).done(`/api/recalls/${story.recall}/answers`, body);
  await shelfOf(story.app).done(`/api/recalls/${story.recall}/entries`, { kind: 'note', text: said(story) });
}

async function write(story: Story): Promise<void> {
  const customers = await customersOf(story.app);
  if (customers.length === 0) return order(story);
  const { id } = oneOf(story, customers);
  const files = [{ name: 'a.txt', type: 'text/plain', content: Buffer.from(said(story)) }];
  const letter = { to: [`${id}@example.org`], subject: said(story), text: said(story), customer: id, files };
  const outbox = story.app.app.get(OutboxService);
  await story.app.app.get(Database).act({ who: 'workshop' }, async (tx) => {
    const uuid = await outbox.write(tx, letter);
    await tx.query('update message set last_error = $2 where uuid = $1', [uuid, said(story)]);
  });
}

async function reach(story: Story): Promise<void> {
  const customers = await customersOf(story.app);
  if (customers.length === 0) return order(story);
  const { id } = oneOf(story, customers);
  const put = await story.app.request('PUT', `/api/customers/${id}/contact`, {
    contact: `${id}@example.org\n${said(story)}`,
  });
  expect(put.status).toBe(200);
}

const customersOf = async (app: TestApp) =>
  (await shelfOf(app).get<CustomerList>('/api/customers?limit=1000')).customers.filter(({ isErased }) => !isErased);

async function tell(app: TestApp, seed: number): Promise<Story> {
  const shop = new TracedShop(app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 10_000_000);
  await shop.make('CANDLE', 'CAN-1', [['WAX-1', 100_000]], 5_000);
  await shop.make('CANDLE', 'FO-ROSE/12', [['WAX-1', 100_000]], 5_000);
  const shelf = shelfOf(app);
  const settings = await shelf.get<Record<string, unknown>>('/api/trace/settings');
  await app.request('PUT', '/api/trace/settings', { ...settings, contactDays: 0 });
  const recall = (await shelf.done<RecallView>('/api/recalls', { lot: 'WAX-1', why: 'Rose (a) soots' })).code;
  const story: Story = { app, draw: seededRandom(seed), orders: [], complaints: [], recall };
  for (let step = 0; step < STEPS; step++) await oneOf(story, ACTS)(story);
  // all is brought to an end, so that whoever wants may be forgotten
  for (const { id } of await customersOf(app)) await closeOrdersOf(app, id);
  for (const code of story.complaints)
    await shelf.done(`/api/complaints/${code}/entries`, { kind: 'closed', text: said(story) });
  await shelf.done(`/api/recalls/${recall}/close`, { why: said(story) });
  return story;
}

/** Rows that are a customer's own, by their own ids and those of their orders and complaints, as a person would say it. */
async function ownRows(app: TestApp, id: number): Promise<Set<string>> {
  const rows = await app.database.query<{ at: string }>(OWN, [id]);
  const numbers = new Set(await column(app, 'select number as it from customer_order where customer_id = $1', id));
  const codes = new Set(await column(app, `select k.code as it from complaint k where ${THEIR_COMPLAINT}`, id));
  const kept = await app.database.query<{ at: string; body: string }>(
    `select 'idempotency ' || jsonb_build_array(who, route, key)::text as at, body from idempotency where body is not null
     union all select 'order_file ' || jsonb_build_array(id)::text, report::text from order_file where report is not null`,
  );
  const tells = (value: unknown): boolean => {
    if (typeof value !== 'object' || value === null) return false;
    const one = value as Record<string, unknown>;
    return (
      numbers.has(String(one['number'])) ||
      ('reporter' in one && codes.has(String(one['code']))) ||
      ('isErased' in one && one['id'] === id) ||
      Object.values(one).some(tells)
    );
  };
  return new Set([
    ...rows.map(({ at }) => at),
    ...kept.filter(({ body }) => tells(JSON.parse(body))).map(({ at }) => at),
  ]);
}

const column = async (app: TestApp, sql: string, id: number) =>
  (await app.database.query<{ it: string }>(sql, [id])).map(({ it: value }) => value);

const THEIR_ORDERS = '(select id from customer_order where customer_id = $1)';
/* the order it turned out to be, else the one it was written down with */
const THEIR_COMPLAINT = `(case when exists (select from complaint_entry e where e.complaint_id = k.id and e.kind = 'order')
  then (select e.order_id in ${THEIR_ORDERS} from complaint_entry e where e.id = (select max(x.id) from complaint_entry x
    where x.complaint_id = k.id and x.kind = 'order'))
  else k.order_id in ${THEIR_ORDERS} end)`;
const THEIR_RETURN = `select r.lot_id from movement r join order_line l on l.id = r.order_line_id
  where r.cause = 'return' and l.order_id in ${THEIR_ORDERS}`;
const OWN = `
  select 'customer ' || jsonb_build_array(id)::text as at from customer where id = $1
  union all select 'complaint ' || jsonb_build_array(k.id)::text from complaint k where ${THEIR_COMPLAINT}
  union all select 'complaint_entry ' || jsonb_build_array(n.id)::text from complaint_entry n join complaint k on k.id = n.complaint_id
    where ${THEIR_COMPLAINT}
  union all select 'recall_answer ' || jsonb_build_array(id)::text from recall_answer where order_id in ${THEIR_ORDERS}
  union all select 'movement ' || jsonb_build_array(m.id)::text from movement m left join order_line ol on ol.id = m.order_line_id
    where ol.order_id in ${THEIR_ORDERS} or m.lot_id in (${THEIR_RETURN})
  union all select 'state_change ' || jsonb_build_array(id)::text from state_change
    where (subject = 'customer_order' and subject_id in ${THEIR_ORDERS}) or (subject = 'lot' and subject_id in (${THEIR_RETURN}))
  union all select 'message ' || jsonb_build_array(id)::text from message where customer_id = $1
  union all select 'message_file ' || jsonb_build_array(message_id, position)::text from message_file
    where message_id in (select id from message where customer_id = $1)`;

/** Everything in their own rows that a person wrote or reads as words. */
const ownTexts = (app: TestApp, id: number) =>
  column(
    app,
    `select name as it from customer where id = $1 union all select contact from customer where id = $1
     union all select unnest(array[k.reporter, k.contact, k.description]) from complaint k where ${THEIR_COMPLAINT}
     union all select n.text from complaint_entry n join complaint k on k.id = n.complaint_id where ${THEIR_COMPLAINT}
     union all select note from recall_answer where order_id in ${THEIR_ORDERS}
     union all select m.reason from movement m left join order_line ol on ol.id = m.order_line_id
       where ol.order_id in ${THEIR_ORDERS} or m.lot_id in (${THEIR_RETURN})
     union all select why from state_change
       where (subject = 'customer_order' and subject_id in ${THEIR_ORDERS}) or (subject = 'lot' and subject_id in (${THEIR_RETURN}))
     union all select unnest(array[letter ->> 'subject', letter ->> 'text', letter ->> 'to', last_error]) from message
       where customer_id = $1`,
    id,
  );

/** Every text that is kept as JSON, by its row. */
async function keptJson(app: TestApp): Promise<Map<string, string>> {
  const rows = await app.database.query<{ at: string; body: string }>(
    `select 'idempotency ' || jsonb_build_array(who, route, key)::text as at, body from idempotency where body is not null
     union all select 'order_file ' || jsonb_build_array(id)::text, report::text from order_file where report is not null
     union all select 'message ' || jsonb_build_array(id)::text, letter::text from message where letter is not null`,
  );
  return new Map(rows.map(({ at, body }) => [at, body]));
}

/** A JSON value with the kind of each value in its place. */
function shapeOf(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(shapeOf);
  if (typeof value !== 'object' || value === null) return value === null ? 'null' : typeof value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shapeOf(part)]));
}

/** Names at the places where an order, or a line of one, names its customer; elsewhere that word is the name of a column. */
function customersIn(value: unknown): unknown[] {
  if (typeof value !== 'object' || value === null) return [];
  const own = 'customer' in value && ('line' in value || 'lines' in value) ? [value.customer] : [];
  return [...own, ...Object.values(value).flatMap(customersIn)];
}

describe('a random history of customers called like words, codes and JSON', () => {
  it(
    'loses one customer after the other, each from their own rows and from no other',
    async () => {
      const app = await startTestApp({ today: '2029-06-01' });
      try {
        const story = await tell(app, runs(20_261_127, Date.now() % 2 ** 31));
        const customers = await customersOf(app);
        expect(customers.length).toBeGreaterThan(10);
        for (let n = 0; n < ERASED && customers.length > 0; n++) {
          const { id, name } = customers.splice(story.draw(customers.length), 1)[0]!;
          const own = await ownRows(app, id);
          const [before, jsonBefore] = [await allRows(app), await keptJson(app)];
          await eraseCustomer(app, id);
          const [after, jsonAfter] = [await allRows(app), await keptJson(app)];

          const changed = changedRows(before, after).filter((at) => before.has(at) && !BESIDE.test(at));
          expect(
            changed.filter((at) => !own.has(at)),
            name,
          ).toEqual([]);
          expect(changed.length, name).toBeGreaterThan(1);
          const texts = (await ownTexts(app, id)).map((text) => ` ${text.replaceAll(/\s+/g, ' ').toLowerCase()} `);
          expect(
            texts.filter((text) => text.includes(` ${name.toLowerCase()} `)),
            name,
          ).toEqual([]);
          for (const [at, body] of jsonBefore)
            expect(shapeOf(JSON.parse(jsonAfter.get(at) ?? 'gone')), at).toEqual(shapeOf(JSON.parse(body)));
          for (const [at, body] of jsonAfter)
            if (own.has(at)) expect(customersIn(JSON.parse(body)), at).not.toContain(name);
        }
        expect(await app.database.violations()).toEqual([]);
      } finally {
        await app.close();
      }
    },
    patience(120_000),
  );
});
