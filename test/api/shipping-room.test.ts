import { beforeAll, describe, expect, it } from 'vitest';
import type { FairView } from '../../src/shipping/fairs.schema.js';
import type { PickList } from '../../src/shipping/pick.schema.js';
import type { ShipmentView } from '../../src/shipping/shipping.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { readPdf } from '../support/printed.js';
import { shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, refused, item, receive, lot, order, moves } = shelfOf(app);
const pickList = (query = '') => get<PickList>(`/api/pick-list${query}`);
const picksOf = async (number: string) => {
  const found = (await pickList()).orders.find((one) => one.number === number);
  return found?.lines.map(({ picks, short }) => [picks.map((one) => [one.lot, one.quantity, one.isSetAside]), short]);
};

async function slip(id: number) {
  const answer = await app.app.inject({ method: 'GET', url: `/api/shipments/${id}/slip.pdf` });
  expect(answer.statusCode, answer.payload.slice(0, 200)).toBe(200);
  return readPdf(answer.rawPayload);
}

beforeAll(async () => {
  await done('/api/channels', { code: 'shop', name: 'Own shop' });
  await item('SPRAY', { kind: 'product', name: 'Cedar spray', family: 'spray', flammable: true, owedLifeDays: 30 });
  await item('SOAP', { kind: 'product', name: 'Oat soap', family: 'soap' });
  await item('BOX', { family: 'container' });
  await item('GIFT', { kind: 'set', name: 'Hearth set' });
  await done('/api/items/GIFT/formulas', {
    batchMin: 1,
    secondsUnit: 90,
    lines: [
      { item: 'SPRAY', basis: 'each', amount: 1, step: 'pack' },
      { item: 'SOAP', basis: 'each', amount: 2, step: 'pack' },
      { item: 'BOX', basis: 'each', amount: 1, step: 'pack' },
    ],
  });
});

describe('the pick list', () => {
  it('takes what is set aside, then what is free, first expired first, and never what does not last', async () => {
    const late = await receive('SPRAY', 5, { expiresOn: '2027-06-30', place: 'shelf B' });
    const soon = await receive('SPRAY', 4, { expiresOn: '2026-12-31', place: 'shelf A' });
    // owed 30 days: good until 1 April at least
    const gone = await receive('SPRAY', 9, { expiresOn: '2026-03-31' });
    const held = await receive('SPRAY', 9, { expiresOn: '2026-06-30' });
    await done(`/api/lots/${held}/status`, { to: 'held', why: 'a veil' });
    await order('P1', [{ code: 'SPRAY', quantity: 6, shipBy: '2026-03-20' }]);
    await order('P2', [{ code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' }]);
    await done(`/api/lots/${late}/reservations`, {
      orderLine: { channel: 'shop', number: 'P1', code: 'SPRAY', occurrence: 1 },
      quantity: 3,
    });
    // P2 has to go first, so it takes first
    expect(await picksOf('P2')).toEqual([
      [
        [
          [soon, 4, false],
          [late, 1, false],
        ],
        0,
      ],
    ]);
    expect(await picksOf('P1')).toEqual([
      [
        [
          [late, 3, true],
          [late, 1, false],
        ],
        2,
      ],
    ]);
    const list = await pickList();
    expect(list.orders.map(({ number, isWhole }) => [number, isWhole])).toEqual([
      ['P2', true],
      ['P1', false],
    ]);
    expect(list.orders[0]!.notices[0]).toMatch(/^Flammable: carriers restrict it/);
    expect((await pickList('?until=2026-03-15')).orders.map(({ number }) => number)).toEqual(['P2']);
    expect((await pickList('?place=Shelf%20A')).orders.map(({ number }) => number)).toEqual(['P2']);
    const shipped = await done<ShipmentView>('/api/shipments', {
      channel: 'shop',
      number: 'P2',
      lines: [
        { code: 'SPRAY', lot: soon, quantity: 4 },
        { code: 'SPRAY', lot: late, quantity: 1 },
      ],
    });
    expect(shipped).toMatchObject({ orderStatus: 'fulfilled', notices: [expect.stringMatching(/carriers/)] });
    expect(await picksOf('P2')).toBeUndefined();
    for (const code of [gone, held, late]) {
      await done(`/api/lots/${code}/scrap`, { quantity: (await lot(code)).onHand, reason: 'end of this test' });
    }
    await app.request('POST', '/api/orders/shop/P1/cancel');
  });

  it('lets what is urgent take first, and marks it', async () => {
    const soap = await receive('SOAP', 3);
    await order('P4', [{ code: 'SOAP', quantity: 2, shipBy: '2026-03-10' }]);
    await order('P5', [{ code: 'SOAP', quantity: 2, shipBy: '2026-03-30' }]);
    expect((await pickList()).orders.map(({ number, isWhole }) => [number, isWhole])).toEqual([
      ['P4', true],
      ['P5', false],
    ]);
    expect((await app.request('GET', '/pick')).text).not.toContain('urgent');
    expect((await app.request('PATCH', '/api/orders/shop/P5', { urgent: true })).status).toBe(200);
    expect((await pickList()).orders.map(({ number, urgent, isWhole }) => [number, urgent, isWhole])).toEqual([
      ['P5', true, true],
      ['P4', false, false],
    ]);
    for (const address of ['/pick', '/pick/shop/P5'])
      expect((await app.request('GET', address)).text).toContain('>urgent<');
    expect((await app.request('GET', '/pick/shop/P4')).text).not.toContain('>urgent<');
    for (const number of ['P4', 'P5']) await app.request('POST', `/api/orders/shop/${number}/cancel`);
    await done(`/api/lots/${soap}/scrap`, { quantity: 3, reason: 'end' });
  });

  it('says of a line that is wanted later that not all of it can go', async () => {
    const soap = await receive('SOAP', 2);
    await order('P3', [{ code: 'SOAP', quantity: 2, shipBy: '2026-03-30', notBefore: '2026-03-20' }]);
    expect((await pickList()).orders[0]).toMatchObject({ number: 'P3', isWhole: false, lines: [{ short: 0 }] });
    await app.request('POST', '/api/orders/shop/P3/cancel');
    await done(`/api/lots/${soap}/scrap`, { quantity: 2, reason: 'end' });
  });
});

describe('a set that is put together when it is packed', () => {
  it('is named as flammable in its papers where only its formula tells', async () => {
    const counted = await receive('GIFT', 1);
    await order('G0', [{ code: 'GIFT', quantity: 1, shipBy: '2026-03-09' }]);
    const body = { channel: 'shop', number: 'G0', lines: [{ code: 'GIFT', lot: counted, quantity: 1 }] };
    const sent = await done<ShipmentView>('/api/shipments', body);
    expect(sent.notices).toEqual([expect.stringMatching(/carriers/)]);
    expect((await slip(sent.id))[0]!.text).toContain('carriers restrict it');
  });

  it('is made of its parts and sent in one act, worth what they were', async () => {
    const spray = await receive('SPRAY', 5, { expiresOn: '2027-06-30', costE4: 500, place: 'A' });
    const soap = await receive('SOAP', 3, { expiresOn: '2026-09-30', costE4: 90, place: 'B' });
    const more = await receive('SOAP', 10, { expiresOn: '2027-09-30', costE4: 1000, place: 'B' });
    const box = await receive('BOX', 9, { costE4: 90 });
    await order('G1', [{ code: 'GIFT', quantity: 3, shipBy: '2026-03-10' }]);
    const [line] = (await pickList()).orders.find(({ number }) => number === 'G1')!.lines;
    expect(line).toMatchObject({ picks: [], short: 0, isFlammable: true });
    expect(line!.packs).toMatchObject({
      quantity: 3,
      parts: [
        { lot: spray, quantity: 3 },
        { lot: soap, quantity: 3 },
        { lot: more, quantity: 3 },
        { lot: box, quantity: 3 },
      ],
    });
    const parts = (n: number) => [
      { lot: spray, quantity: n },
      { lot: soap, quantity: 2 * n },
      { lot: box, quantity: n },
    ];
    const ship = (change: object) => ({ channel: 'shop', number: 'G1', lines: [{ code: 'GIFT', ...change }] });
    expect(await refused('/api/shipments', ship({ quantity: 1, parts: parts(1).slice(1) }))).toBe('409 set-incomplete');
    expect(await refused('/api/shipments', ship({ quantity: 2, parts: parts(1) }))).toBe('409 set-incomplete');
    expect(await refused('/api/shipments', ship({ quantity: 1 }))).toBe('422 invalid');
    expect(await refused('/api/shipments', ship({ quantity: 1, lot: spray, parts: parts(1) }))).toBe('422 invalid');
    expect(
      await refused(
        '/api/shipments',
        ship({
          quantity: 4,
          parts: [
            { lot: spray, quantity: 4 },
            { lot: more, quantity: 8 },
            { lot: box, quantity: 4 },
          ],
        }),
      ),
    ).toBe('409 not-open');
    // nothing of what was refused is left behind
    expect(await lot(spray)).toMatchObject({ onHand: 5 });
    const sent = await done<ShipmentView>('/api/shipments', ship({ quantity: 1, parts: parts(1) }));
    const set = sent.lines[0]!.lot;
    // 100 + 60 + 10, of which the day's rate of labour is none
    expect(await moves(set)).toEqual([
      ['production', 1, 170],
      ['shipment', -1, -170],
    ]);
    // it keeps as long as the first of its parts
    expect(await lot(set)).toMatchObject({ item: 'GIFT', status: 'released', onHand: 0, expiresOn: '2026-09-30' });
    expect(await lot(soap)).toMatchObject({ onHand: 1, valueE4: 30 });
    const [page] = await slip(sent.id);
    expect(page!.text).toContain('Hearth set');
    expect(page!.text).toContain(`Cedar spray ${spray}`);
    expect(page!.text).toContain(`Oat soap ${soap}`);
    expect(page!.text).toContain('2 pieces of this order still to come.');
    expect(page!.text).toContain('carriers restrict it');
    const checks = await app.database.query(`select rule from ledger_checks() where wrong > 0`);
    expect(checks).toEqual([]);
    // what went into it is found from what was sent
    const rows = await app.database.query<{ code: string }>(
      `select p.code from lot l join movement m on m.batch_id = l.batch_id and m.cause = 'consumption'
       join lot p on p.id = m.lot_id where l.code = $1 order by p.id`,
      [set],
    );
    expect(rows.map(({ code }) => code)).toEqual([spray, soap, box]);
  });

  it('takes nothing that is promised to others, though two pack at once', async () => {
    const spray = await receive('SPRAY', 2, { expiresOn: '2027-06-30' });
    const soap = await receive('SOAP', 4);
    const box = await receive('BOX', 2);
    await order('G2', [{ code: 'GIFT', quantity: 2, shipBy: '2026-03-10' }]);
    await order('G3', [{ code: 'SPRAY', quantity: 1, shipBy: '2026-03-10' }]);
    await done(`/api/lots/${spray}/reservations`, {
      orderLine: { channel: 'shop', number: 'G3', code: 'SPRAY', occurrence: 1 },
      quantity: 1,
    });
    const ship = () =>
      refused('/api/shipments', {
        channel: 'shop',
        number: 'G2',
        lines: [
          {
            code: 'GIFT',
            quantity: 1,
            parts: [
              { lot: spray, quantity: 1 },
              { lot: soap, quantity: 2 },
              { lot: box, quantity: 1 },
            ],
          },
        ],
      });
    expect((await Promise.all([ship(), ship()])).toSorted()).toEqual(['201 undefined', '409 not-enough']);
    expect(await lot(spray)).toMatchObject({ onHand: 1, reserved: 1 });
  });
});

describe('a packing slip', () => {
  it('names what was sent with its lots, on the paper of the place, over as many pages as it takes', async () => {
    const soap = await receive('SOAP', 200, { expiresOn: '2027-01-31' });
    const lines = Array.from({ length: 70 }, () => ({ code: 'SOAP', quantity: 1, shipBy: '2026-03-10' }));
    const customer = 'Żaneta Müller-Ōta';
    await done('/api/orders', { channel: 'shop', number: 'S1', customer, lines });
    const lots: string[] = [];
    for (let n = 0; n < 60; n++) {
      const { part } = await done<{ part: LotView }>(`/api/lots/${soap}/split`, {
        quantity: 1,
        place: 'p',
        reason: 'x',
      });
      lots.push(part.code);
    }
    const sent = await done<ShipmentView>('/api/shipments', {
      channel: 'shop',
      number: 'S1',
      lines: lots.map((code, n) => ({ code: 'SOAP', occurrence: n + 1, lot: code, quantity: 1 })),
    });
    const pages = await slip(sent.id);
    expect(pages.length).toBeGreaterThan(1);
    expect([pages[0]!.width, pages[0]!.height].map(Math.round)).toEqual([210, 297]);
    expect(pages[0]!.text).toContain(`Order S1 (shop) For ${customer} Sent on ${TODAY}`);
    const all = pages.map(({ text }) => text).join(' ');
    for (const code of lots) expect(all).toContain(code);
    // nothing lies beyond the foot of a page
    for (const { texts, height } of pages) expect(Math.max(...texts.map(({ y }) => y))).toBeLessThan(height - 10);
    expect((await app.request('GET', '/api/shipments/999999/slip.pdf')).status).toBe(404);
  });
});

describe('empties', () => {
  it('come back on hold, worth nothing, and are used again once somebody washed them', async () => {
    const back = await done<LotView>('/api/empties', { item: 'BOX', quantity: 12, from: 'A. Customer', place: 'sink' });
    expect(back).toMatchObject({ status: 'held', onHand: 12, valueE4: 0, place: 'sink' });
    await done(`/api/lots/${back.code}/status`, { to: 'released', why: 'washed and dry' });
    expect(await lot(back.code)).toMatchObject({ status: 'released' });
    expect(await refused('/api/empties', { item: 'SPRAY', quantity: 1 })).toBe('422 not-a-container');
    expect(await refused('/api/empties', { item: 'NOBODY', quantity: 1 })).toBe('422 unknown-item');
    expect(
      await faultsOnBadInput(app, 'POST', '/api/empties', { item: 'BOX', quantity: 1, from: 'x', on: TODAY }),
    ).toEqual([]);
  });
});

describe('a fair', () => {
  const FAIR = '/api/fairs/Winter%20market';

  it('takes stock along, sells it and brings the rest home', async () => {
    const soap = await receive('SOAP', 20, { expiresOn: '2027-01-31', costE4: 2000, place: 'shelf C' });
    const along = { place: 'Winter market', until: '2026-03-08', lots: [{ lot: soap, quantity: 12 }] };
    const there = await done<FairView>(`${FAIR}/lots`, along);
    const part = there.lots[0]!.lot;
    expect(there).toMatchObject({ isOver: false, until: '2026-03-08' });
    expect(there.lots).toMatchObject([{ from: soap, taken: 12, sold: 0, left: 12, place: 'Winter market' }]);
    // nobody plans with it meanwhile, and the room that packs parcels does not see it
    expect(await lot(part)).toMatchObject({ onHand: 12, reserved: 12, parentLot: soap, valueE4: 1200 });
    expect((await pickList()).orders.every(({ number }) => number !== 'Winter market')).toBe(true);
    const sale = await done<ShipmentView>(`${FAIR}/sales`, { lots: [{ lot: part, quantity: 5 }] });
    expect(sale).toMatchObject({ channel: 'fair', number: 'Winter market', lines: [{ lot: part, quantity: 5 }] });
    expect(await refused(`${FAIR}/sales`, { lots: [{ lot: part, quantity: 8 }] })).toBe('409 not-open');
    expect(await refused(`${FAIR}/sales`, { lots: [{ lot: soap, quantity: 1 }] })).toBe('422 unknown-lot');
    const home = await done<FairView>(`${FAIR}/back`, {});
    expect(home).toMatchObject({ isOver: true, lots: [{ taken: 12, sold: 5, left: 0 }] });
    expect(await lot(part)).toMatchObject({ onHand: 7, reserved: 0, place: 'shelf C', valueE4: 700 });
    expect(await refused(`${FAIR}/sales`, { lots: [{ lot: part, quantity: 1 }] })).toBe('409 not-open');
    // the next year under the same name, more of it
    const again = await done<FairView>(`${FAIR}/lots`, { ...along, lots: [{ lot: part, quantity: 3 }] });
    expect(again).toMatchObject({ isOver: false });
    expect(again.lots.map(({ taken, left }) => [taken, left])).toEqual([
      [12, 0],
      [3, 3],
    ]);
    expect((await get<{ fairs: unknown[] }>('/api/fairs')).fairs).toHaveLength(1);
  });

  it('takes nothing that is promised, held or past its date by then', async () => {
    const soap = await receive('SOAP', 5, { expiresOn: '2026-03-10' });
    const along = (change: object) => ({
      place: 'p',
      until: '2026-03-08',
      lots: [{ lot: soap, quantity: 5 }],
      ...change,
    });
    expect(await refused('/api/fairs/X/lots', along({ until: '2026-03-11' }))).toBe('409 past-its-date');
    expect(await refused('/api/fairs/X/lots', along({ until: '2026-03-01' }))).toBe('422 invalid');
    expect(await refused('/api/fairs/X/lots', along({ lots: [{ lot: soap, quantity: 6 }] }))).toBe('409 not-enough');
    expect((await app.request('GET', '/api/fairs/X')).status).toBe(404);
    await done(`/api/lots/${soap}/status`, { to: 'held', why: 'x' });
    expect(await refused('/api/fairs/X/lots', along({}))).toBe('409 lot-not-released');
    expect(await refused('/api/fairs/Nowhere/back', {})).toBe('404 not-found');
    expect(await faultsOnBadInput(app, 'POST', '/api/fairs/X/lots', along({ on: TODAY }))).toEqual([]);
  });
});
