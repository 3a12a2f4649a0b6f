import { beforeAll, describe, expect, it } from 'vitest';
import type { ComplaintView } from '../../src/trace/complaint.schema.js';
import type { HoldEffects, Lifted, RecallListView, RecallPage, RecallView } from '../../src/trace/recall.schema.js';
import type { AccountView } from '../../src/trace/account.schema.js';
import { useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { readPdf } from '../support/printed.js';
import { shelfOf } from '../support/shelf.js';
import { TracedShop } from '../support/traced-shop.js';

const app = useTestApp();
const shelf = shelfOf(app);

/** OIL-BAD is in two candle lots, of which one is sold, and in a pour at the bench; another rests. */
beforeAll(async () => {
  const shop = new TracedShop(app.database);
  await shop.open();
  await shop.buy('WAX', 'WAX-1', 1_000_000);
  await shop.buy('OIL', 'OIL-BAD', 100_000);
  await shop.buy('OIL', 'OIL-OK', 100_000);
  await shop.buy('JAR', 'JARS', 1_000);
  for (const n of [1, 2, 3])
    await shop.make(
      'POUR',
      `POUR-${n}`,
      [
        ['WAX-1', 10_000],
        [n < 3 ? 'OIL-BAD' : 'OIL-OK', 1_000],
      ],
      11_000,
    );
  await shop.make(
    'CANDLE',
    'CAN-1',
    [
      ['POUR-1', 10_000],
      ['JARS', 50],
    ],
    50,
  );
  await shop.make(
    'CANDLE',
    'CAN-2',
    [
      ['POUR-2', 10_000],
      ['JARS', 40],
    ],
    40,
    true,
  );
  await shop.make(
    'CANDLE',
    'CAN-3',
    [
      ['POUR-3', 10_000],
      ['JARS', 30],
    ],
    30,
  );
  await shop.begin('POUR', 'B-NOW', [['OIL-BAD', 500]]);
  await shop.order('N1', 'Anna Muster', 20, [['CAN-1', 8]]);
  await shop.order('N2', 'Bert Beispiel', 20, [
    ['CAN-1', 6],
    ['CAN-3', 3],
  ]);
  await shop.order('N3', 'Cleo Muster', 9, []);
});

/** The text of each page. */
const pdfText = async (bytes: Buffer) => (await readPdf(bytes)).map(({ text }) => text);

const statuses = async (...codes: string[]) => Promise.all(codes.map(async (code) => (await shelf.lot(code)).status));
let recall: RecallView;
const url = (rest = '') => `/api/recalls/${recall.code}${rest}`;

describe('a recall', () => {
  it('covers everything the suspected lot reached, and holds nothing by being opened', async () => {
    const complaint = await shelf.done<ComplaintView>('/api/complaints', {
      description: 'rash',
      harm: 'skin',
      lot: 'CAN-1',
    });
    recall = await shelf.done<RecallView>('/api/recalls', {
      lot: 'OIL-BAD',
      why: 'two rashes',
      complaints: [complaint.code],
    });
    expect(recall.scope.map(({ code }) => code)).toEqual(['CAN-1', 'CAN-2', 'OIL-BAD', 'POUR-1', 'POUR-2']);
    expect(recall).toMatchObject({ status: 'open', recipients: 2, sent: 14, written: 0, complaints: [complaint.code] });
    expect(await statuses('OIL-BAD', 'CAN-1')).toEqual(['released', 'released']);
    expect((await shelf.get<ComplaintView>(`/api/complaints/${complaint.code}`)).recalls).toEqual([recall.code]);
  });

  it('says beforehand what holding takes from the plan and from orders, and does just that', async () => {
    await shelf.done('/api/lots/CAN-1/reservations', {
      quantity: 9,
      orderLine: { channel: 'shop', number: 'N3', code: 'CANDLE' },
    });
    const before = await shelf.get<HoldEffects>(url('/effects'));
    expect(before.lots.map(({ lot, from }) => [lot, from])).toEqual(
      expect.arrayContaining([
        ['OIL-BAD', 'released'],
        ['CAN-1', 'released'],
        ['CAN-2', 'quarantine'],
      ]),
    );
    expect(before.orders).toEqual(['shop N3']);
    expect(before.batches).toEqual([{ batch: 'B-NOW', item: 'POUR', status: 'reserved' }]);
    const { lots, freed, orders, batches } = await shelf.done<HoldEffects>(url('/hold'), {});
    expect({ freed, orders, batches }).toEqual({ freed: before.freed, orders: before.orders, batches: before.batches });
    expect(lots.map(({ lot }) => lot).sort()).toEqual(before.lots.map(({ lot }) => lot).sort());
    expect(await statuses('OIL-BAD', 'POUR-1', 'CAN-1', 'CAN-2', 'CAN-3', 'WAX-1')).toEqual([
      'held',
      'held',
      'held',
      'held',
      'released',
      'released',
    ]);
    // a held lot gives nothing any more
    expect(
      await shelf.refused('/api/shipments', {
        channel: 'shop',
        number: 'N3',
        lines: [{ code: 'CANDLE', occurrence: 1, lot: 'CAN-1', quantity: 1 }],
      }),
    ).toBe('409 lot-not-released');
    expect((await shelf.done<HoldEffects>(url('/hold'), {})).lots).toEqual([]);
  });

  it('lists who got what, with how to reach them', async () => {
    const list = await shelf.get<RecallListView>(url('/list'));
    expect(list).toMatchObject({ parcels: 2, sent: 14, returned: 0 });
    expect(list.recipients.map(({ order, customer, contact, sent }) => [order, customer, contact, sent])).toEqual([
      ['shop/N1', 'Anna Muster', 'Anna Muster@example.org', 8],
      ['shop/N2', 'Bert Beispiel', 'Bert Beispiel@example.org', 6],
    ]);
    expect(list.recipients[0]!.parcels).toEqual([
      {
        lot: 'CAN-1',
        item: 'CANDLE',
        shipment: expect.any(Number) as number,
        shippedOn: '2026-02-02',
        quantity: 8,
        returned: 0,
      },
    ]);
  });

  it('writes one letter to each, and remembers whom', async () => {
    const pdf = await app.app.inject({ method: 'GET', url: url('/letters.pdf') });
    expect(pdf.headers['content-type']).toBe('application/pdf');
    const pages = await pdfText(pdf.rawPayload);
    expect(pages).toHaveLength(2);
    expect(pages[0]).toMatch(/Anna Muster.*8 × CANDLE, lot CAN-1.*see a doctor.*Test workshop/s);
    expect(pages[1]).toContain('Bert Beispiel');
    const orders = [{ channel: 'shop', number: 'N1' }];
    expect(await shelf.done(url('/letters'), { orders, sentBy: 'post' })).toMatchObject({ written: 1 });
    expect(await shelf.refused(url('/letters'), { orders: [{ channel: 'shop', number: 'N3' }], sentBy: 'post' })).toBe(
      '422 invalid',
    );
    expect(await pdfText((await app.app.inject({ method: 'GET', url: url('/letters.pdf') })).rawPayload)).toHaveLength(
      1,
    );
    expect(await shelf.done(url('/letters'), { sentBy: 'email' })).toMatchObject({ written: 1 });
  });

  it('counts what came back and what recipients say, each by their last word', async () => {
    await shelf.done('/api/returns', {
      orderLine: { channel: 'shop', number: 'N1', code: 'CANDLE' },
      lot: 'CAN-1',
      quantity: 3,
      reason: 'recall',
    });
    const order = { channel: 'shop', number: 'N1' };
    await shelf.done(url('/answers'), { order, lot: 'CAN-1', received: 8, used: 1 });
    const view = await shelf.done<RecallView>(url('/answers'), {
      order,
      lot: 'CAN-1',
      received: 8,
      used: 4,
      sentBack: 3,
    });
    expect(view).toMatchObject({ recipients: 2, answered: 1, returned: 3, accountedFor: 7 });
    // one parcel lost on the way: they say five came, of six
    await shelf.done(url('/answers'), { order: { channel: 'shop', number: 'N2' }, lot: 'CAN-1', received: 5, kept: 5 });
    const { lots } = await shelf.get<AccountView>('/api/trace/lots/OIL-BAD/account');
    expect(lots.find(({ lot }) => lot === 'CAN-1')).toMatchObject({
      made: 50,
      shipped: 14,
      answered: 12,
      missing: 1,
      onShelf: 36,
      isCounted: false,
      unconfirmed: 37,
      unexplained: -1,
    });
    await shelf.done('/api/counts', { reason: 'recall', lots: [{ lot: 'CAN-1', counted: 35 }] });
    const after = await shelf.get<AccountView>('/api/trace/lots/OIL-BAD/account');
    // of 50: one lost at the count, one that never came, one nobody answers for
    expect(after.lots.find(({ lot }) => lot === 'CAN-1')).toMatchObject({
      lost: 1,
      unexplained: -2,
      unconfirmed: 1,
      reconciledPpb: 940_000_000,
    });
    expect(await shelf.refused(url('/answers'), { order, lot: 'CAN-3', received: 1 })).toBe('422 invalid');
    expect(
      (await shelf.post(url('/answers'), { order, lot: 'CAN-1', received: 1, used: 2 })).body.errors![0]!.pointer,
    ).toBe('/received');
  });

  it('takes in what has come of the lot since', async () => {
    expect((await shelf.get<RecallView>(url())).scope.map(({ code }) => code)).not.toContain('CAN-1-BACK');
    const widened = await shelf.done<RecallView>(url('/scope'), {});
    // what came back is a lot of its own
    expect(widened.scope).toHaveLength(6);
  });

  it('lifts what it held itself, and not what others decided or cover', async () => {
    await shelf.done('/api/lots/POUR-1/status', { to: 'rejected', why: 'burnt' });
    const other = await shelf.done<RecallView>('/api/recalls', { lot: 'POUR-2', why: 'another' });
    const { lots, kept } = await shelf.done<Lifted>(url('/lift'), { why: 'the laboratory found nothing' });
    expect(lots).toEqual(['CAN-1', 'OIL-BAD']);
    expect(kept.map(({ lot }) => lot).sort()).toEqual(['CAN-2', 'POUR-2']);
    expect(kept[0]!.why).toContain(other.code);
    expect(await statuses('OIL-BAD', 'POUR-1', 'POUR-2', 'CAN-1', 'CAN-2')).toEqual([
      'released',
      'rejected',
      'held',
      'released',
      'held',
    ]);
    await shelf.done(`/api/recalls/${other.code}/close`, { why: 'it was nothing' });
    expect((await shelf.done<Lifted>(url('/lift'), { why: 'now all' })).lots).toEqual(['CAN-2', 'POUR-2']);
    // what waited for its release waits again
    expect(await statuses('CAN-2', 'POUR-2')).toEqual(['quarantine', 'released']);
    expect((await shelf.done<Lifted>(url('/lift'), { why: 'again' })).lots).toEqual([]);
    expect(await shelf.refused('/api/lots/CAN-3/status', { to: 'quarantine', why: 'no' })).toMatch(/^409/);
  });

  it('closes with its amounts, and prints all of it', async () => {
    await shelf.done(url('/entries'), { kind: 'decision', text: 'Scrap what came back.' });
    const closed = await shelf.done<RecallView>(url('/close'), { why: 'All recipients answered.' });
    expect(closed).toMatchObject({ status: 'closed', result: { parcels: 2, customers: 2, lots: 6 } });
    expect(closed.result!.reconciledPpb).toBeLessThan(1_000_000_000);
    expect(await shelf.refused(url('/hold'), {})).toBe('409 wrong-state');
    expect(await shelf.refused(url('/entries'), { kind: 'note', text: 'late' })).toBe('409 wrong-state');
    const report = await app.app.inject({ method: 'GET', url: url('/report.pdf') });
    const text = (await pdfText(report.rawPayload)).join('\n');
    for (const said of [
      recall.code,
      'OIL-BAD',
      'two rashes',
      'Timeline',
      'Scrap what came back.',
      'rash',
      'reconciled',
      'shop/N1',
      'unexplained',
    ])
      expect(text).toContain(said);
    // it says to whom by order only
    expect(text).not.toContain('Muster');
    expect((await shelf.done<RecallView>(url('/reopen'), { why: 'one more complaint' })).status).toBe('open');
  });

  it('is refused for what is not there, and answers nonsense with a problem', async () => {
    expect(await shelf.refused('/api/recalls', { lot: 'NONE', why: 'x' })).toBe('422 unknown-lot');
    expect(await shelf.refused('/api/recalls', { lot: 'CAN-1', why: 'x', complaints: ['C99-999'] })).toBe(
      '404 not-found',
    );
    expect((await app.request('GET', '/api/recalls/R99-999')).status).toBe(404);
    const order = { channel: 'shop', number: 'N1' };
    const answer = { order, lot: 'CAN-1', received: 3, used: 1, kept: 1, destroyed: 0, sentBack: 1, note: 'n' };
    expect(await faultsOnBadInput(app, 'POST', url('/answers'), answer)).toEqual([]);
  }, 60_000);
});

describe('a drill', () => {
  it('follows a lot drawn by its seed, is timed, reconciled and kept, and touches nothing', async () => {
    const before = await app.database.query('select code, status from lot order by id');
    const first = await shelf.done<RecallView>('/api/drills', { seed: 7 });
    expect(first).toMatchObject({ isDrill: true, status: 'open' });
    expect(first.result!.tookMs).toBeGreaterThanOrEqual(first.result!.traceMs);
    expect(first.result!.reconciledPpb).toBeLessThanOrEqual(1_000_000_000);
    expect((await shelf.done<RecallView>('/api/drills', { seed: 7 })).lot).toBe(first.lot);
    const drawn = new Set<string>();
    for (let seed = 0; seed < 25; seed++) drawn.add((await shelf.done<RecallView>('/api/drills', { seed })).lot);
    expect(drawn.size).toBeGreaterThan(4);
    expect(await app.database.query('select code, status from lot order by id')).toEqual(before);
    expect(await shelf.refused(`/api/recalls/${first.code}/hold`, {})).toBe('409 wrong-state');
    const page = await shelf.get<RecallPage>('/api/recalls?kind=drill&limit=5');
    expect(page.recalls).toHaveLength(5);
    expect(page.recalls.every(({ isDrill, result }) => isDrill && result !== null)).toBe(true);
  }, 60_000);
});
