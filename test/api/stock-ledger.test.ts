import { parse } from 'csv-parse/sync';
import { Client } from 'pg';
import { beforeAll, describe, expect, it } from 'vitest';
import type { StockOnDay } from '../../src/trace/ledger.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, item, lot, moveIds, receive } = shelfOf(app);

beforeAll(async () => {
  for (const code of ['A', 'B', 'C']) await item(code);
});

describe('GET /api/stock', () => {
  it('answers the end of any day, a later entry for that day and a correction of it included', async () => {
    const first = await receive('A', 10, { costE4: 100, receivedOn: '2026-02-10' });
    const second = await receive('A', 4, { costE4: 50, receivedOn: '2026-02-20' });
    await done(`/api/lots/${first}/scrap`, { quantity: 3, reason: 'x', on: '2026-02-15' });
    await done(`/api/lots/${first}/scrap`, { quantity: 1, reason: 'x' });
    const on = async (day: string) => (await get<StockOnDay>(`/api/stock?item=A&asOf=${day}`)).items;
    const of = (code: string, onHand: number, valueE4: number) => ({ lot: code, onHand, valueE4 });
    expect(await on('2026-02-09')).toEqual([]);
    expect(await on('2026-02-14')).toEqual([{ item: 'A', onHand: 10, valueE4: 100, lots: [of(first, 10, 100)] }]);
    expect(await on('2026-02-15')).toEqual([{ item: 'A', onHand: 7, valueE4: 70, lots: [of(first, 7, 70)] }]);
    expect(await on('2026-02-20')).toEqual([
      { item: 'A', onHand: 11, valueE4: 120, lots: [of(first, 7, 70), of(second, 4, 50)] },
    ]);
    expect(await on(TODAY)).toEqual([
      { item: 'A', onHand: 10, valueE4: 110, lots: [of(first, 6, 60), of(second, 4, 50)] },
    ]);
    await done(`/api/movements/${(await moveIds(first))[1]}/correct`, { reason: 'was not' });
    expect((await on('2026-02-15'))[0]).toMatchObject({ onHand: 10, valueE4: 100 });
    expect((await app.request('GET', '/api/stock?asOf=2026-03-03')).status).toBe(422);
    expect((await app.request('GET', '/api/stock?item=NOBODY')).status).toBe(404);
  });

  it('equals the balances today, page by page', async () => {
    await receive('B', 5, { costE4: 33 });
    await receive('C', 7);
    const whole = await get<StockOnDay>('/api/stock');
    const lots = await app.database.query(
      `select i.code as item, l.code as lot, l.on_hand as "onHand", l.value_e4 as "valueE4" from lot l
       join item i on i.id = l.item_id where l.on_hand > 0 order by 1, 2`,
    );
    expect(whole.items.flatMap(({ item: code, lots: of }) => of.map((one) => ({ item: code, ...one })))).toEqual(lots);
    const first = await get<StockOnDay>('/api/stock?limit=2');
    const rest = await get<StockOnDay>(`/api/stock?limit=2&after=${first.next}`);
    expect([...first.items, ...rest.items]).toEqual(whole.items);
    expect([first.next, rest.next]).toEqual(['B', null]);
  });
});

describe('GET /api/ledger.csv', () => {
  it('is a table a spreadsheet opens without running anything in it', async () => {
    await item('D');
    const reasons = ['=1+1', '+1', '-1', '@x', '\tx', '-5 broken, "really"', 'two\nlines', 'plain', '=HYPERLINK("x")'];
    const code = await receive('D', 100, { receivedOn: '2026-02-01', costE4: 1000, supplierLot: '=x' });
    // text that begins with a tab is trimmed where it comes in, so it is put there past the service
    for (const reason of reasons)
      await app.database.query(
        `insert into movement (lot_id, cause, quantity, done_on, reason) select id, 'scrap', -1, '2026-02-02', $2 from lot where code = $1`,
        [code, reason],
      );
    const answer = await app.request('GET', '/api/ledger.csv?item=D&from=2026-02-02&to=2026-02-02');
    expect(answer.status).toBe(200);
    expect(answer.headers['content-type']).toBe('text/csv; charset=utf-8; header=present');
    expect(answer.headers['content-disposition']).toBe('attachment; filename="ledger.csv"');
    expect(answer.text.startsWith('\uFEFFmovement,doneOn,recordedAt,item,lot,cause,quantity,')).toBe(true);
    expect(answer.text.endsWith('\r\n')).toBe(true);
    const rows: Record<string, string>[] = parse(answer.text, { columns: true, bom: true });
    expect(rows.map((row) => row.reason)).toEqual([
      "'=1+1",
      "'+1",
      "'-1",
      "'@x",
      "'\tx",
      '\'-5 broken, "really"',
      'two\nlines',
      'plain',
      '\'=HYPERLINK("x")',
    ]);
    // a lone line end inside a cell is quoted too
    expect(answer.text).toContain('"two\nlines"');
    expect(rows[0]).toMatchObject({
      doneOn: '2026-02-02',
      item: 'D',
      lot: code,
      cause: 'scrap',
      quantity: '-1',
      unit: 'each',
      valueE4: '-10',
      by: 'test',
      reverses: '',
    });
    expect(rows[0]!.recordedAt).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/);
  });

  it('holds every entry of more than a page, in order, and adds up to what is there', async () => {
    await item('MANY');
    const code = await receive('MANY', 10_000, { costE4: 12_345 });
    await app.database.query(
      `insert into movement (lot_id, cause, quantity, done_on) select id, 'sample', -1, '2026-03-02'
       from lot, generate_series(1, 2500) where code = $1`,
      [code],
    );
    const { text } = await app.request('GET', '/api/ledger.csv?item=MANY');
    const rows: Record<string, string>[] = parse(text, { columns: true, bom: true });
    expect(rows).toHaveLength(2501);
    const ids = rows.map((row) => Number(row.movement));
    expect(ids).toEqual(ids.toSorted((a, b) => a - b));
    const sum = (column: string) => rows.reduce((total, row) => total + Number(row[column]), 0);
    const { onHand, valueE4 } = await lot(code);
    expect([sum('quantity'), sum('valueE4')]).toEqual([onHand, valueE4]);
  });

  it('answers a header alone for nothing, and refuses what it cannot read', async () => {
    const { text } = await app.request('GET', '/api/ledger.csv?to=2020-01-01');
    expect(parse(text, { bom: true })).toHaveLength(1);
    expect((await app.request('GET', '/api/ledger.csv?item=NOBODY')).status).toBe(404);
    expect((await app.request('GET', '/api/ledger.csv?from=2026-02-02&to=2026-02-01')).status).toBe(422);
    expect((await app.request('GET', '/api/ledger.csv?from=yesterday')).status).toBe(422);
  });
});

describe('ledger_violations()', () => {
  const FAULTS: [rule: string, plant: string][] = [
    ['order line from stock', `update order_line set from_stock = 2, shipped = 2`],
    ['order line returned', `update order_line set returned = 1, from_stock = 1, shipped = 1`],
    [
      'order line shipped',
      `alter table order_line drop constraint from_stock_within_shipped; update order_line set shipped = 0`,
    ],
    ['input weighed', `update batch_input set weighed = weighed + 1`],
    ['promise used', `update reservation set consumed = consumed + 1, open = open - 1 where open > 0`],
    ['delivery received', `update delivery_line set received = received + 1`],
    [
      'shipment',
      `insert into customer_order (channel, number, placed_on, status)
        values ('shop', 'other', '2026-03-02', 'waiting');
      update shipment set order_id = (select max(id) from customer_order)`,
    ],
    ['money', `update lot set value_e4 = value_e4 + 1 where on_hand > 0`],
    ['lot value', `update lot set value_e4 = value_e4 + 1 where on_hand > 0`],
    [
      'shelf count',
      `update shelf_count_line set counted = counted + 1, expected = expected - 1 where movement_id is not null`,
    ],
    ['price difference', `update price_difference set added_e4 = added_e4 - 1, difference_e4 = difference_e4 + 1`],
    ['reversal', `update movement set value_e4 = value_e4 + 1 where cause = 'correction'`],
    ['parent', `update lot set parent_lot_id = id where id = (select max(id) from lot)`],
    ['split', `update movement set value_e4 = value_e4 + 1 where cause = 'split' and quantity > 0`],
    [
      'transition',
      `insert into state_change (subject, subject_id, from_status, to_status, done_by)
      select 'lot', id, 'rejected', 'released', 'x' from lot limit 1`,
    ],
    [
      'state chain',
      `insert into state_change (subject, subject_id, from_status, to_status, done_by)
      select 'lot', subject_id, 'quarantine', 'released', 'x' from state_change where subject = 'lot'`,
    ],
    [
      'state',
      `update lot set status = 'rejected' where id in (select subject_id from state_change where subject = 'lot')`,
    ],
    [
      'used while not released',
      `insert into movement (lot_id, cause, quantity, done_on)
      select id, 'consumption', -1, '2026-03-02' from lot where status = 'held' limit 1`,
    ],
    [
      'used past its date',
      `insert into movement (lot_id, cause, quantity, done_on)
      select id, 'consumption', -1, '2099-01-01' from lot where expires_on is not null limit 1`,
    ],
  ];

  const TABLES = [
    'lot',
    'movement',
    'reservation',
    'order_line',
    'batch_input',
    'delivery_line',
    'shelf_count_line',
    'shipment',
    'price_difference',
    'state_change',
  ];

  it.each(FAULTS)('finds a planted fault of %s', async (rule, plant) => {
    await someOfEverything();
    const client = new Client({ connectionString: app.database.ownerUrl, options: '-c lotwright.who=test' });
    await client.connect();
    try {
      await client.query('begin');
      for (const table of TABLES) await client.query(`alter table ${table} disable trigger user`);
      await client.query(plant);
      const { rows } = await client.query<{ rule: string }>('select * from ledger_violations()');
      expect(rows.map((row) => row.rule)).toContain(rule);
    } finally {
      await client.query('rollback');
      await client.end();
    }
  });

  let isThere = false;
  async function someOfEverything(): Promise<void> {
    if (isThere) return;
    isThere = true;
    const code = await receive('A', 9, { costE4: 90, expiresOn: '2027-01-01' });
    await done(`/api/lots/${code}/split`, { quantity: 2, place: 'p', reason: 'x', status: 'held' });
    await done('/api/counts', { reason: 'x', lots: [{ lot: code, counted: 6 }] });
    await done(`/api/lots/${code}/revaluation`, { amountE4: 5, reason: 'x' });
    await done(`/api/movements/${(await moveIds(code))[2]}/correct`, { reason: 'x' });
    await done(`/api/lots/${code}/status`, { to: 'held', why: 'x' });
    await done(`/api/lots/${code}/status`, { to: 'released', why: 'x' });
    await done('/api/channels', { code: 'shop', name: 'Shop' });
    await done('/api/items', { code: 'SOLD', name: 'Sold', kind: 'product', measure: 'counted' });
    await done('/api/orders', { channel: 'shop', number: '1', lines: [{ code: 'SOLD', quantity: 2 }] });
    const sold = await receive('SOLD', 2);
    const lines = [{ code: 'SOLD', lot: sold, quantity: 1 }];
    await done('/api/shipments', { channel: 'shop', number: '1', lines });
    await openBatch(app, 'B-1', [{ item: 'A', quantity: 3 }]);
    await done(`/api/lots/${code}/reservations`, { batch: 'B-1', position: 1, quantity: 2 });
    await done('/api/batches/B-1/weighings', { position: 1, lot: code, quantity: 1 });
    await done('/api/suppliers', { code: 'NORTH', name: 'North' });
    const line = { item: 'A', quantity: 10 };
    await done('/api/deliveries', { code: 'D-1', supplier: 'NORTH', expectedOn: TODAY, lines: [line] });
  }
});
