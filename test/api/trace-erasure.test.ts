import { beforeAll, describe, expect, it } from 'vitest';
import { Client } from 'pg';
import { OutboxService } from '../../src/messages/outbox.service.js';
import { Database } from '../../src/platform/database.js';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import type { CustomerList } from '../../src/trace/contacts.schema.js';
import type { EpcisDocument } from '../../src/trace/epcis-document.js';
import type { RecallListView, RecallView } from '../../src/trace/recall.schema.js';
import type { TraceView } from '../../src/trace/trace.schema.js';
import { useTestApp } from '../support/app.js';
import { readPdf } from '../support/printed.js';
import { closeOrdersOf, eraseCustomer, previewOf } from '../support/erasing.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';

/** Long after the last shipment but one. */
const app = useTestApp({ today: '2029-06-01' });
const shelf = shelfOf(app);

beforeAll(async () => {
  const shop = new TracedShop(app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 1_000_000);
  await shop.buy('JAR', 'JARS', 1_000);
  await shop.make(
    'CANDLE',
    'CAN-1',
    [
      ['WAX-1', 10_000],
      ['JARS', 50],
    ],
    50,
  );
  await shop.order('N1', 'Quentin "Q" Zylberstein', 20, [['CAN-1', 8]]);
  await shop.order('N2', 'Ottilie Neuling', 20, [['CAN-1', 5]], '2029-05-20');
});

/** The text of each page. */
const pdfText = async (bytes: Buffer) => (await readPdf(bytes)).map(({ text }) => text);

const idOf = async (search: string) => {
  const { customers } = await shelf.get<CustomerList>(`/api/customers?search=${encodeURIComponent(search)}`);
  return customers[0]!.id;
};
const order = (number: string) => ({ channel: 'shop', number });

/** Every table that holds one of these words anywhere, as text. */
async function tablesNaming(words: readonly string[]): Promise<string[]> {
  const tables = await app.database.query<{ name: string }>(
    `select relname as name from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r' order by 1`,
  );
  const found: string[] = [];
  for (const { name } of tables)
    for (const word of words) {
      const rows = await app.database.query(
        `select 1 from ${name} t where position(lower($1) in lower(t::text)) > 0 or position(lower($2) in lower(t::text)) > 0
         or position(encode(convert_to($1, 'UTF8'), 'hex') in t::text) > 0 limit 1`,
        [word, JSON.stringify(word).slice(1, -1)],
      );
      if (rows.length > 0 && !found.includes(name)) found.push(name);
    }
  return found;
}

/** An email to them with a file, and one that went out; as the workshop's acts would leave them. */
async function writeTo(customer: number, name: string, contact: string): Promise<void> {
  const outbox = app.app.get(OutboxService);
  const files = [{ name: 'parcel.txt', type: 'text/plain', content: Buffer.from(`Parcel of ${name}`) }];
  const letter = {
    to: [contact],
    subject: `For ${name}`,
    text: `Dear ${name},\nwe write to ${contact}.`,
    customer,
    files,
  };
  await app.app.get(Database).act({ who: 'workshop' }, async (tx) => {
    await outbox.write(tx, letter);
    const sent = await outbox.write(tx, letter);
    await tx.query(`update message set status = 'sent', sent_at = now() where uuid = $1`, [sent]);
    await tx.query(`update message set last_error = $1`, [`550 5.1.1 <${contact}>: no such mailbox`]);
  });
}

/** Every table in which something of a customer can stand who ordered, complained and was written to. */
const PLACES = [
  'complaint',
  'complaint_entry',
  'customer',
  'idempotency',
  'message',
  'message_file',
  'order_file',
  'recall_answer',
];

const keptMessages = () => app.database.query('select status, letter, last_error from message order by id');

describe('who a customer was', () => {
  it('stays while an open recall has to reach them', async () => {
    const id = await idOf('Zylberstein');
    const recall = await shelf.done<RecallView>('/api/recalls', { lot: 'WAX-1', why: 'soot' });
    await closeOrdersOf(app, id);
    const { refusals, seen } = await previewOf(app, id);
    expect(refusals[0]).toBe(`Recall ${recall.code} is open and has to reach them.`);
    expect(await shelf.refused(`/api/customers/${id}/erase`, { seen, why: 'asked' })).toBe('409 wrong-state');
    await shelf.done(`/api/recalls/${recall.code}/answers`, {
      order: order('N1'),
      lot: 'CAN-1',
      received: 8,
      used: 8,
      note: 'Zylberstein called',
    });
    await shelf.done(`/api/recalls/${recall.code}/close`, { why: 'done' });
  });

  it('stays as long as the workshop says it must be kept', async () => {
    const id = await idOf('Neuling');
    await closeOrdersOf(app, id);
    const { seen } = await previewOf(app, id);
    const refused = await shelf.post(`/api/customers/${id}/erase`, { seen, why: 'asked' });
    expect(refused.status).toBe(409);
    expect(refused.body.detail).toContain('2029-05-20');
    const settings = await shelf.get<Record<string, unknown>>('/api/trace/settings');
    expect(settings).toMatchObject({ contactDays: 1095, companyPrefix: null });
    const put = await app.request('PUT', '/api/trace/settings', { ...settings, contactDays: 10 });
    expect(put.status, put.text).toBe(200);
    expect((await eraseCustomer(app, id)).erased.counts).toMatchObject({ customer: 2 });
    await app.request('PUT', '/api/trace/settings', settings);
  });

  it('is erased everywhere it is kept, and the trace keeps its counts', async () => {
    const name = 'Quentin "Q" Zylberstein';
    const contact = 'q@zylberstein.example.org';
    const id = await idOf('Zylberstein');
    await app.request('PUT', `/api/customers/${id}/contact`, { contact });
    const body = { order: order('N1'), description: `${name} wrote: it soots`, harm: 'none', reporter: name, contact };
    const complaint = await shelf.done<ComplaintView>('/api/complaints', body);
    await shelf.done(`/api/complaints/${complaint.code}/entries`, {
      kind: 'answer',
      text: `Dear ${name}, we are sorry.`,
    });
    const csv = `order,sku,qty,date,customer\nX-1,CANDLE,2,2029-06-20,"${name.replaceAll('"', '""')}"\n`;
    // another order of theirs, whose kept answer names them
    const imported = await app.request('POST', '/api/orders/import?channel=shop', csv, { 'content-type': 'text/csv' });
    expect(imported.status, imported.text).toBe(200);
    // and in the report of a file
    await app.database.query(
      `insert into order_file (name, lines, report) select 'orders.csv', 2, body::jsonb from idempotency where route like '%/import'`,
    );
    await writeTo(id, name, contact);
    const words = ['Zylberstein', contact];
    expect(await tablesNaming(words)).toEqual(expect.arrayContaining(PLACES));
    expect(JSON.stringify(await keptMessages())).toContain(contact);
    const before = await shelf.get<TraceView>('/api/trace/lots/WAX-1?direction=forward');

    expect((await previewOf(app, id)).refusals).toEqual([
      'Of their orders shop/X-1 is open: send or cancel what is left first.',
      `Complaint ${complaint.code} is open: close it first.`,
    ]);
    await closeOrdersOf(app, id);
    await shelf.done(`/api/complaints/${complaint.code}/entries`, { kind: 'closed', text: `${name} is content` });
    const { preview, erased } = await eraseCustomer(app, id);
    expect(erased).toEqual({ id, counts: preview.counts });
    expect(Object.keys(preview.counts).sort()).toEqual(PLACES);

    expect(await tablesNaming(words)).toEqual([]);
    const letter = {
      to: ['(erased)'],
      subject: 'For (erased)',
      text: 'Dear (erased),\nwe write to (erased).',
    };
    expect(await keptMessages()).toEqual([
      // nobody is written to any more
      { status: 'dropped', letter, last_error: '(erased)' },
      { status: 'sent', letter, last_error: '(erased)' },
    ]);
    const after = await shelf.get<TraceView>('/api/trace/lots/WAX-1?direction=forward');
    const counts = ({ parcels }: TraceView) => parcels.map(({ lot, number, quantity }) => [lot, number, quantity]);
    expect(counts(after)).toEqual(counts(before));
    expect(after.parcels.find(({ number }) => number === 'N1')!.customer).toBe(`erased ${id}`);
    const kept = await shelf.get<ComplaintView>(`/api/complaints/${complaint.code}`);
    expect(kept).toMatchObject({ reporter: '', contact: '', description: '(erased) wrote: it soots' });
    const { seen } = await previewOf(app, id);
    expect(await shelf.refused(`/api/customers/${id}/erase`, { seen, why: 'again' })).toBe('409 wrong-state');
    const refused = await app.request('PUT', `/api/customers/${id}/contact`, { contact });
    expect(refused.status).toBe(409);
  });

  it('is in no document of events for others, which still tells of both parcels', async () => {
    for (const lot of ['WAX-1', 'CAN-1']) {
      const answer = await app.app.inject({ method: 'GET', url: `/api/trace/lots/${lot}/epcis?direction=both` });
      expect(answer.statusCode, answer.body).toBe(200);
      const { eventList } = answer.json<EpcisDocument>().epcisBody;
      const orders = eventList
        .flatMap(({ bizTransactionList = [] }) => bizTransactionList as { type: string; bizTransaction: string }[])
        .filter(({ type }) => type === 'po')
        .map(({ bizTransaction }) => bizTransaction);
      expect(orders).toEqual(expect.arrayContaining([expect.stringMatching(/N1$/), expect.stringMatching(/N2$/)]));
      expect(answer.body).not.toMatch(/Zylberstein|Neuling|example\.org/i);
    }
  });

  it('is in no list or letter written afterwards', async () => {
    const recall = await shelf.done<RecallView>('/api/recalls', { lot: 'WAX-1', why: 'soot again' });
    const list = await shelf.get<RecallListView>(`/api/recalls/${recall.code}/list`);
    expect(list.recipients.map(({ contact }) => contact)).toEqual(['', '']);
    expect(list.recipients.map(({ customer }) => customer)).toEqual([
      expect.stringMatching(/^erased \d+$/),
      expect.stringMatching(/^erased \d+$/),
    ]);
    expect(JSON.stringify(list)).not.toMatch(/Zylberstein|Neuling|example\.org/i);
    const letters = await app.app.inject({ method: 'GET', url: `/api/recalls/${recall.code}/letters.pdf` });
    const text = (await pdfText(letters.rawPayload)).join('\n');
    expect(text).toContain('CAN-1');
    expect(text).not.toMatch(/Zylberstein|Neuling|example\.org/i);
  });
});

describe('what was traced', () => {
  const REFUSED_RIGHT = [
    'delete from movement',
    'delete from lot',
    'delete from batch',
    'delete from batch_output',
    'delete from batch_finish',
    'delete from shipment',
    'delete from customer',
    'delete from supplier',
    'delete from delivery',
    'delete from delivery_line',
    'delete from complaint',
    'delete from complaint_entry',
    'delete from complaint_photo',
    'delete from recall',
    'delete from recall_scope',
    'delete from recall_hold',
    'delete from recall_answer',
    'delete from recall_result',
    'truncate recall cascade',
    `update complaint set description = 'nothing'`,
    `update complaint_entry set text = 'nothing'`,
    'update recall_answer set used = 0',
    `update recall_answer set note = ''`,
    'update recall_result set reconciled_ppb = 1000000000',
    'update customer set erased_at = now()',
    'update recall set lot_id = 1',
  ];

  it.each(REFUSED_RIGHT)('is not undone by the application: %s', async (sql) => {
    const client = new Client({ connectionString: app.database.url });
    await client.connect();
    try {
      await client.query(`set lotwright.who = 'somebody'`);
      await expect(client.query(sql)).rejects.toMatchObject({ code: '42501' });
    } finally {
      await client.end();
    }
  });

  it.each([
    'delete from complaint',
    'delete from recall_answer',
    `update complaint set harm = 'fire', harmed = 'person'`,
    'update recall_answer set used = 0',
    `update recall_entry set kind = 'note'`,
    'truncate recall cascade',
    'delete from batch_output',
  ])('nor by the owner: %s', async (sql) => {
    await expect(app.database.query(sql)).rejects.toMatchObject({ code: 'LW007' });
  });
});
