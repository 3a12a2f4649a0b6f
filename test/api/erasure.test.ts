import { beforeAll, describe, expect, it } from 'vitest';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import type { CustomerList } from '../../src/trace/contacts.schema.js';
import type { ImportReport } from '../../src/orders/import.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { ErasureByReference1764000000027 } from '../../migrations/0027-erasure-by-reference.js';
import { useTestApp } from '../support/app.js';
import { allRows, changedRows, closeOrdersOf, eraseCustomer, previewOf } from '../support/erasing.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';
import { pageText, sendForm } from '../support/page-forms.js';

/** Long after the last parcel. */
const app = useTestApp({ today: '2029-06-01' });
const shelf = shelfOf(app);
const shop = () => new TracedShop(app.database);
let numbers = 0;

beforeAll(async () => {
  await shop().open();
  await shop().buy('WAX', 'WAX-1', 10_000_000);
  await shop().make('CANDLE', 'FO-ROSE/12', [['WAX-1', 100_000]], 5_000);
});

const idOf = async (name: string) => {
  const { customers } = await shelf.get<CustomerList>(`/api/customers?search=${encodeURIComponent(name)}`);
  return customers.find((one) => one.name === name)!.id;
};

/** Somebody who got candles and wants no more, with a complaint of theirs that is closed. */
async function served(name: string, text: string): Promise<{ id: number; code: string; number: string }> {
  const number = `E-${++numbers}`;
  await shop().order(number, name, 3, [['FO-ROSE/12', 3]]);
  await app.database.query(`update customer_order set status = 'fulfilled' where number = $1`, [number]);
  const code = await complain(number, name, text);
  return { id: await idOf(name), code, number };
}

/** Of an order, or of none. */
async function complain(number: string | undefined, reporter: string, description: string): Promise<string> {
  const order = number === undefined ? {} : { order: { channel: 'shop', number } };
  const { code } = await shelf.done<ComplaintView>('/api/complaints', {
    ...order,
    description,
    harm: 'none',
    reporter,
  });
  await shelf.done(`/api/complaints/${code}/entries`, { kind: 'closed', text: 'answered' });
  return code;
}

const complaint = (code: string) => shelf.get<ComplaintView>(`/api/complaints/${code}`);

describe('erasing Rose', () => {
  it('leaves every word that Rosemary Hill reported of Hedge Rose mist, lot FO-ROSE/12', async () => {
    const said = 'Rosemary Hill got a rash from Hedge Rose mist, lot FO-ROSE/12';
    const theirs = await served('Rosemary Hill', said);
    const unknown = await complain(undefined, 'Rosemary Hill', said);
    const rose = await served(
      'Rose',
      'Rose and Rosemary got a rash from Hedge-Rose mist, lot FO-ROSE/12. rose says so',
    );
    const before = await allRows(app);
    const { preview } = await eraseCustomer(app, rose.id);
    expect(await complaint(theirs.code)).toMatchObject({ reporter: 'Rosemary Hill', description: said });
    expect(await complaint(unknown)).toMatchObject({ reporter: 'Rosemary Hill', description: said });
    const after = '(erased) and Rosemary got a rash from Hedge-Rose mist, lot FO-ROSE/12. (erased) says so';
    expect(await complaint(rose.code)).toMatchObject({ reporter: '', description: after });
    expect(preview.places).toContainEqual({
      kind: 'complaint',
      field: 'description',
      of: rose.code,
      before: 'Rose and Rosemary got a rash from Hedge-Rose mist, lot FO-ROSE/12. rose says so',
      after,
    });
    const [id] = await app.database.query<{ id: number }>('select id from complaint where code = $1', [rose.code]);
    const ours = changedRows(before, await allRows(app)).filter((at) => !/^(idempotency|change) /.test(at));
    expect(ours).toEqual([`complaint [${id!.id}]`, `customer [${rose.id}]`]);
  });

  it('leaves another one of that name who came later', async () => {
    const rose = await served('Rose', 'It soots, says Rose');
    expect((await complaint(rose.code)).description).toBe('It soots, says Rose');
    await eraseCustomer(app, rose.id);
    const again = await served('Rose', 'Rose likes it');
    expect(again.id).not.toBe(rose.id);
    expect(await complaint(again.code)).toMatchObject({ reporter: 'Rose', description: 'Rose likes it' });
    await eraseCustomer(app, again.id);
    expect((await complaint(again.code)).description).toBe('(erased) likes it');
  });

  it('points to complaints that name no order and may be theirs, and leaves them alone', async () => {
    const iris = await served('Iris', 'It tunnels');
    const code = await complain(undefined, 'Iris', 'Iris found a crack');
    const preview = await previewOf(app, iris.id);
    expect(preview.mayBeTheirs).toEqual([
      { complaint: code, why: 'it names no order, and who reported it is called or reached as they are' },
    ]);
    await shelf.done(`/api/complaints/${code}/entries`, {
      kind: 'order',
      order: { channel: 'shop', number: iris.number },
    });
    const after = await eraseCustomer(app, iris.id);
    expect(after.preview.mayBeTheirs).toEqual([]);
    expect(await complaint(code)).toMatchObject({ reporter: '', description: '(erased) found a crack' });
  });
});

describe('a customer called', () => {
  const NAMES = [
    'null',
    'status',
    'a',
    "O'Neil",
    '%',
    '(',
    'İ',
    'FO-ROSE/12',
    '{"customer":"x"}',
    'customer',
    '\\1',
    '.*',
    'erased',
  ];
  it.each(NAMES)('%s is erased from their own rows, and from no other', async (name) => {
    const text = `Here ${name} writes, status null: a candle (20 %) of FO-ROSE/12 "soots"`;
    const other = await served(`x${name}x`, text);
    const { id, code, number } = await served(name, text);
    await shelf.done('/api/orders', {
      channel: 'shop',
      number: `${number}-2`,
      customer: name,
      lines: [{ code: 'CANDLE', quantity: 1, shipBy: '2029-07-01' }],
    });
    await closeOrdersOf(app, id);
    const kept = await keptJson();
    await eraseCustomer(app, id);
    expect(await complaint(other.code)).toMatchObject({ reporter: `x${name}x`, description: text });
    const own = await complaint(code);
    expect(own.reporter).toBe('');
    expect(own.description.replaceAll('(erased)', '')).not.toContain(` ${name} `);
    expect(own.description).toContain('"soots"');
    const after = await keptJson();
    for (const [at, body] of kept) expect(shapeOf(JSON.parse(after.get(at)!))).toEqual(shapeOf(JSON.parse(body)));
    // its kept answer named them where an order names its customer
    const orders = [...after.values()].filter((body) => body.includes(`${number}-2`));
    expect(orders.length).toBeGreaterThan(1);
    for (const body of orders) expect(JSON.parse(body)).toMatchObject({ channel: 'shop', customer: `erased ${id}` });
    await eraseCustomer(app, other.id);
  });
});

/** Every kept answer that has a body, by its key. */
async function keptJson(): Promise<Map<string, string>> {
  const rows = await app.database.query<{ at: string; body: string }>(
    'select jsonb_build_array(who, route, key)::text as at, body from idempotency where body is not null',
  );
  return new Map(rows.map(({ at, body }) => [at, body]));
}

/** A JSON value with the kind of each value in its place. */
function shapeOf(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(shapeOf);
  if (typeof value !== 'object' || value === null) return typeof value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shapeOf(part)]));
}

describe('the act', () => {
  it('is refused while orders or complaints of theirs are open, and names them', async () => {
    const { id } = await served('Opal', 'It soots');
    await shop().order('OPEN-1', 'Opal', 5, []);
    await shop().order('OPEN-2', 'Opal', 5, []);
    const { code } = await shelf.done<ComplaintView>('/api/complaints', {
      order: { channel: 'shop', number: 'OPEN-1' },
      description: 'late',
      harm: 'none',
    });
    const { seen } = await previewOf(app, id);
    const refused = await shelf.post(`/api/customers/${id}/erase`, { seen, why: 'asked' });
    expect([refused.status, refused.body.detail]).toEqual([
      409,
      `Of their orders shop/OPEN-1, shop/OPEN-2 are open: send or cancel what is left first; complaint ${code} is open: close it first.`,
    ]);
    await closeOrdersOf(app, id);
    await shelf.done(`/api/complaints/${code}/entries`, { kind: 'closed', text: 'sorry' });
    await eraseCustomer(app, id);
  });

  it('does what was seen, and says so where something came in between', async () => {
    const { id, code } = await served('Jade', 'It soots');
    const { seen } = await previewOf(app, id);
    await shelf.done(`/api/complaints/${code}/entries`, { kind: 'note', text: 'Jade called again' });
    expect(await shelf.refused(`/api/customers/${id}/erase`, { seen, why: 'asked' })).toBe('409 changed-since');
    expect(await complaint(code)).toMatchObject({ reporter: 'Jade' });
    await eraseCustomer(app, id);
    expect((await complaint(code)).entries.map(({ text }) => text)).toEqual(['answered', '(erased) called again']);
  });

  it('keeps who did it and why, which names nobody', async () => {
    const { id } = await served('Amber', 'It soots');
    const { seen } = await previewOf(app, id);
    expect(await shelf.refused(`/api/customers/${id}/erase`, { seen, why: 'Amber wrote' })).toBe('422 invalid');
    await shelf.done(`/api/customers/${id}/erase`, { seen, why: 'their letter of 2 May' });
    expect(await app.database.query('select name, erased_by, erased_why from customer where id = $1', [id])).toEqual([
      { name: `erased ${id}`, erased_by: 'workshop', erased_why: 'their letter of 2 May' },
    ]);
  });

  it('waits for files that are not taken in, which nobody can tell whom they name', async () => {
    const { id } = await served('Beryl', 'It soots');
    const [file] = await app.database.query<{ id: number }>(
      `insert into order_file (name, content, lines) values ('waiting.csv', 'order,sku,qty', 1) returning id`,
    );
    const { refusals, seen } = await previewOf(app, id);
    expect(refusals).toEqual([
      `Order file ${file!.id} is not taken in and may name them: take it in or throw it away first.`,
    ]);
    expect(await shelf.refused(`/api/customers/${id}/erase`, { seen, why: 'asked' })).toBe('409 wrong-state');
    expect((await sent(`/order-files/${file!.id}/discard`, {})).location).toBe('/orders/import');
    expect(await app.database.query('select from order_file where id = $1', [file!.id])).toEqual([]);
    await eraseCustomer(app, id);
  });
});

describe('a customer called as the column of a file that holds customers', () => {
  it('is erased from the rows of its report, and the column keeps its name', async () => {
    const csv =
      'order,channel,sku,qty,date,customer\nCOL-1,shop,CANDLE,2,2029-06-20,customer\nCOL-2,shop,CANDLE,2,2029-06-20,Violet\n';
    const headers = { 'content-type': 'text/csv', 'idempotency-key': 'columns' };
    expect((await app.request('POST', '/api/orders/import?channel=shop', csv, headers)).status).toBe(200);
    const id = await idOf('customer');
    await closeOrdersOf(app, id);
    await eraseCustomer(app, id);
    const again = await app.request<ImportReport>('POST', '/api/orders/import?channel=shop', csv, headers);
    expect(again.headers['idempotency-hit']).toBe('true');
    expect(again.body.file.columns).toMatchObject({ channel: 'channel', number: 'order', customer: 'customer' });
    expect(again.body.newLines.map(({ number, customer }) => [number, customer])).toEqual([
      ['COL-1', `erased ${id}`],
      ['COL-2', 'Violet'],
    ]);
  });
});

describe('an answer that is kept for a request sent again', () => {
  it('is given again without who they were, and the request is not done twice', async () => {
    const key = { 'idempotency-key': 'order-of-coral' };
    const lines = [{ code: 'CANDLE', quantity: 1, shipBy: '2029-07-01' }];
    const body = { channel: 'shop', number: 'CORAL-1', customer: 'Coral', lines };
    expect((await app.request('POST', '/api/orders', body, key)).status).toBe(201);
    const id = await idOf('Coral');
    await closeOrdersOf(app, id);
    await eraseCustomer(app, id);
    const again = await app.request('POST', '/api/orders', body, key);
    expect([again.status, again.headers['idempotency-hit']]).toEqual([201, 'true']);
    expect(again.body).toMatchObject({ number: 'CORAL-1', customer: `erased ${id}`, status: 'confirmed' });
  });

  it('is gone where it cannot be read, and the request is still not done twice', async () => {
    const key = { 'idempotency-key': 'order-of-pearl' };
    const lines = [{ code: 'CANDLE', quantity: 1, shipBy: '2029-07-01' }];
    const body = { channel: 'shop', number: 'PEARL-1', customer: 'Pearl', lines };
    await app.request('POST', '/api/orders', body, key);
    // half of a character, which JSON can say and PostgreSQL cannot
    const half = String.raw`{"channel":"shop","number":"PEARL-1","customer":"Pearl","x":"\ud83d"}`;
    await app.database.query(`update idempotency set body = $1 where key = 'order-of-pearl'`, [half]);
    const id = await idOf('Pearl');
    await closeOrdersOf(app, id);
    const { preview } = await eraseCustomer(app, id);
    expect(preview.places).toContainEqual({
      kind: 'idempotency',
      field: 'body',
      of: 'POST /api/orders',
      before: half,
      after: null,
    });
    const again = await app.app.inject({ method: 'POST', url: '/api/orders', payload: body, headers: key });
    expect([again.statusCode, again.json<{ code: string }>().code]).toEqual([409, 'answer-erased']);
    expect(await app.database.query(`select from customer_order where number = 'PEARL-1'`)).toHaveLength(1);
  });
});

describe('empties that come back', () => {
  it('say whose they were by number, also those from before', async () => {
    await shelf.item('JAR-9', { family: 'container' });
    const { id } = await served('Ruby', 'It soots');
    const reasons = async () =>
      (
        await app.database.query<{ reason: string }>(
          `select reason from movement where reason like 'came back empty%' order by id`,
        )
      ).map(({ reason }) => reason);
    await shelf.done<LotView>('/api/empties', { item: 'JAR-9', quantity: 2, from: 'ruby' });
    await shelf.done<LotView>('/api/empties', { item: 'JAR-9', quantity: 2, from: 'Nobody We Know' });
    expect(await reasons()).toEqual([
      `came back empty from customer ${id}: to be washed`,
      'came back empty: to be washed',
    ]);
    // as they were written down before
    await app.database.query(
      `update movement set reason = case when reason ~ 'customer' then 'came back empty from RUBY: to be washed'
         else 'came back empty from Who: knows: to be washed' end where reason like 'came back empty%'`,
    );
    const steps: string[] = [];
    await new ErasureByReference1764000000027().up({ query: async (sql: string) => void steps.push(sql) } as never);
    await app.database.query(steps.find((sql) => sql.includes('update movement'))!);
    expect(await reasons()).toEqual([
      `came back empty from customer ${id}: to be washed`,
      'came back empty: to be washed',
    ]);
  });
});

const sent = (path: string, form: Record<string, string>) => sendForm(app, path, form);

describe('the page of a customer', () => {
  const page = (path: string) => pageText(app, path);

  it('shows every sentence before and after, asks why, and does it', async () => {
    const { id, code, number } = await served('Olive', 'Olive <b>saw</b> smoke');
    expect(await page(`/orders/shop/${number}`)).toContain('href="/customers?search=Olive"');
    expect(await page('/customers?search=Oliv')).toContain(`href="/customers/${id}"`);
    const shown = await page(`/customers/${id}`);
    expect(shown).toContain('Olive &lt;b>saw&lt;/b> smoke');
    expect(shown).toContain('(erased) &lt;b>saw&lt;/b> smoke');
    const seen = /name="seen" value="([0-9a-f]{32})"/.exec(shown)![1]!;
    const unsaid = await sent(`/customers/${id}/erase`, { seen, why: ' ' });
    expect(unsaid.status).toBe(422);
    expect((await complaint(code)).reporter).toBe('Olive');
    const done = await sent(`/customers/${id}/erase`, { seen, why: 'asked by letter' });
    expect([done.status, done.location]).toEqual([303, `/customers/${id}?said=erased`]);
    expect(await page(`/customers/${id}?said=erased`)).toMatch(/erased \d+.*What they got is still found/s);
    expect(await complaint(code)).toMatchObject({ reporter: '', description: '(erased) <b>saw</b> smoke' });
  });

  it('says what changed since, and shows it anew', async () => {
    const { id, code } = await served('Hazel', 'It soots');
    const seen = /name="seen" value="([0-9a-f]{32})"/.exec(await page(`/customers/${id}`))![1]!;
    await shelf.done(`/api/complaints/${code}/entries`, { kind: 'note', text: 'Hazel called' });
    const refused = await sent(`/customers/${id}/erase`, { seen, why: 'asked' });
    expect(refused.status).toBe(409);
    expect(refused.text).toMatch(/role="alert"[^<]*>[^<]*changed since you looked/);
    expect(refused.text).toContain('(erased) called');
  });
});
