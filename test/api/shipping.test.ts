import { beforeAll, describe, expect, it } from 'vitest';
import type { OrderView } from '../../src/orders/orders.schema.js';
import type { ShipmentPage, ShipmentView } from '../../src/shipping/shipping.schema.js';
import type { Corrected, Split } from '../../src/stock/acts.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, item, lot, moveIds, moves, order, post, receive, refused } = shelfOf(app);

const ship = (number: string, lines: Record<string, unknown>[], rest = {}) =>
  done<ShipmentView>('/api/shipments', { channel: 'shop', number, lines, ...rest });
const refuseShip = (number: string, lines: Record<string, unknown>[], rest = {}) =>
  refused('/api/shipments', { channel: 'shop', number, lines, ...rest });
const orderOf = (number: string) => get<OrderView>(`/api/orders/shop/${number}`);
const lineOf = (number: string, code = 'SPRAY') => ({ channel: 'shop', number, code });
const aside = (code: string, number: string, quantity: number) =>
  done(`/api/lots/${code}/reservations`, { quantity, orderLine: lineOf(number) });
const takeBack = (number: string, code: string, quantity: number, rest = {}) =>
  done<LotView>('/api/returns', { orderLine: lineOf(number), lot: code, quantity, reason: 'came back', ...rest });

beforeAll(async () => {
  await item('SPRAY', { kind: 'product', family: 'spray', owedLifeDays: 30 });
  await item('BODY', { kind: 'product', family: 'body' });
  await item('OTHER', { kind: 'product' });
  await post('/api/channels', { code: 'shop', name: 'Shop' });
});

describe('POST /api/shipments', () => {
  it('takes what is set aside first, keeps the order in step, and fulfils it with the last', async () => {
    await order('1', [
      { code: 'SPRAY', quantity: 7, shipBy: '2026-03-10' },
      { code: 'OTHER', quantity: 1, shipBy: '2026-03-10' },
    ]);
    const spray = await receive('SPRAY', 9, { costE4: 1000 });
    const other = await receive('OTHER', 3, { costE4: 10 });
    await aside(spray, '1', 4);
    const first = await ship('1', [
      { code: 'OTHER', lot: other, quantity: 1 },
      { code: 'SPRAY', lot: spray, quantity: 5 },
    ]);
    expect(first).toMatchObject({ channel: 'shop', number: '1', orderStatus: 'confirmed', shippedOn: TODAY });
    const [, ofPromise, ofFree] = await moveIds(spray);
    expect(first.lines).toEqual([
      { code: 'SPRAY', occurrence: 1, item: 'SPRAY', lot: spray, quantity: 5, movements: [ofPromise, ofFree] },
      expect.objectContaining({ code: 'OTHER', lot: other, quantity: 1 }),
    ]);
    // floor(1000 * 4 / 9) = 444, then floor(556 / 5) = 111
    expect(await moves(spray)).toEqual([
      ['receipt', 9, 1000],
      ['shipment', -4, -444],
      ['shipment', -1, -111],
    ]);
    expect(await lot(spray)).toMatchObject({ onHand: 4, reserved: 0, valueE4: 445 });
    expect((await orderOf('1')).lines).toEqual([
      expect.objectContaining({ code: 'SPRAY', shipped: 5, open: 2 }),
      expect.objectContaining({ code: 'OTHER', shipped: 1, open: 0 }),
    ]);
    const last = await ship('1', [{ code: 'SPRAY', lot: spray, quantity: 2 }]);
    expect(last.orderStatus).toBe('fulfilled');
    expect(await orderOf('1')).toMatchObject({ status: 'fulfilled' });
    const list = await get<ShipmentPage>('/api/shipments?order=shop/1');
    expect(list.shipments).toEqual([{ ...first, orderStatus: 'fulfilled' }, last]);
    const page = await get<ShipmentPage>('/api/shipments?order=shop/1&limit=1');
    expect(page.next).toBe(first.id);
    expect((await get<ShipmentPage>(`/api/shipments?order=shop/1&after=${page.next}`)).shipments).toEqual([last]);
    expect((await get<ShipmentPage>('/api/shipments?order=shop/none')).shipments).toEqual([]);
    expect((await app.request('GET', '/api/shipments?order=none')).status).toBe(422);
  });

  it('gives back what the line no longer needs, on whatever lot', async () => {
    await order('2', [{ code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' }]);
    const [mine, other] = [await receive('SPRAY', 5), await receive('SPRAY', 5)];
    await aside(mine, '2', 5);
    await ship('2', [{ code: 'SPRAY', lot: other, quantity: 3 }]);
    expect(await lot(mine)).toMatchObject({ reserved: 2 });
  });

  it('ships all that is asked or nothing', async () => {
    await order('3', [
      { code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' },
      { code: 'SPRAY', quantity: 5, shipBy: '2026-03-20', notBefore: '2026-03-15' },
      { code: 'OTHER', quantity: 5, shipBy: '2026-03-10' },
    ]);
    await order('4', [{ code: 'SPRAY', quantity: 3, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 10);
    await aside(spray, '4', 3);
    const old = await receive('SPRAY', 10, { expiresOn: '2026-03-31' });
    const held = await receive('SPRAY', 10);
    await done(`/api/lots/${held}/status`, { to: 'held', why: 'x' });
    const other = await receive('OTHER', 10);
    const good = { code: 'OTHER', lot: other, quantity: 1 };
    const refuse = (line: Record<string, unknown>) => refuseShip('3', [good, { code: 'SPRAY', ...line }]);
    expect(await refuse({ lot: spray, quantity: 6 })).toBe('409 not-open');
    expect(await refuse({ lot: held, quantity: 1 })).toBe('409 lot-not-released');
    // owed 30 days from the 2nd of March: until the 1st of April
    expect(await refuse({ lot: old, quantity: 1 })).toBe('409 past-its-date');
    expect(await refuse({ lot: other, quantity: 1 })).toBe('409 other-item');
    expect(await refuse({ lot: spray, quantity: 1, occurrence: 2 })).toBe('409 too-early');
    expect(await refuse({ lot: spray, quantity: 1, occurrence: 3 })).toBe('422 unknown-line');
    expect(await refuse({ lot: 'NOBODY', quantity: 1 })).toBe('422 unknown-lot');
    expect(await refuse({ lot: spray, quantity: 0 })).toBe('422 not-positive');
    expect(await refuseShip('none', [good])).toBe('422 unknown-order');
    expect(await refuseShip('3', [good], { on: '2026-03-03' })).toBe('422 invalid');
    expect(await refuseShip('3', [])).toBe('422 invalid');
    const small = await receive('SPRAY', 4);
    await aside(small, '3', 1);
    await order('5', [{ code: 'SPRAY', quantity: 9, shipBy: '2026-03-10' }]);
    // 3 are free; the fourth is promised to the other order
    expect(await refuseShip('5', [{ code: 'SPRAY', lot: small, quantity: 4 }])).toBe('409 not-enough');
    expect(
      await refuseShip('5', [
        { code: 'SPRAY', lot: small, quantity: 2 },
        { code: 'SPRAY', lot: small, quantity: 2 },
      ]),
    ).toBe('409 not-enough');
    expect(await moves(other)).toHaveLength(1);
    expect((await orderOf('3')).lines.map(({ shipped }) => shipped)).toEqual([0, 0, 0]);
    expect((await get<ShipmentPage>('/api/shipments?order=shop/3')).shipments).toEqual([]);
  });

  it('takes from the shelf what a shop reported as sent before, and what is open first', async () => {
    await order('9', [
      { code: 'SPRAY', quantity: 10, shipBy: '2026-03-10' },
      { code: 'OTHER', quantity: 1, shipBy: '2026-03-10' },
    ]);
    const spray = await receive('SPRAY', 20);
    await app.database.query(`update order_line set shipped = 4 where shop_code = 'SPRAY' and order_id =
      (select id from customer_order where number = '9')`);
    const { lines } = await ship('9', [{ code: 'SPRAY', lot: spray, quantity: 8 }]);
    const spraysOf = async () => (await orderOf('9')).lines[0];
    expect(await spraysOf()).toMatchObject({ shipped: 10, open: 0 });
    expect(await refuseShip('9', [{ code: 'SPRAY', lot: spray, quantity: 3 }])).toBe('409 not-open');
    await done<Corrected>(`/api/movements/${lines[0]!.movements[0]}/correct`, { reason: 'wrong parcel' });
    expect(await spraysOf()).toMatchObject({ shipped: 4, open: 6 });
    await ship('9', [{ code: 'SPRAY', lot: spray, quantity: 10 }]);
    expect(await spraysOf()).toMatchObject({ shipped: 10, open: 0 });
    expect(await lot(spray)).toMatchObject({ onHand: 10 });
  });

  it('takes from the shelf what a shop reported as all sent', async () => {
    await order('10', [{ code: 'SPRAY', quantity: 2, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 2);
    await app.database.query(`
      update order_line set shipped = 2 where order_id = (select id from customer_order where number = '10');
      update customer_order set status = 'fulfilled' where number = '10'`);
    const { lines } = await ship('10', [{ code: 'SPRAY', lot: spray, quantity: 2 }]);
    expect(await lot(spray)).toMatchObject({ onHand: 0 });
    await done<Corrected>(`/api/movements/${lines[0]!.movements[0]}/correct`, { reason: 'another lot' });
    expect(await orderOf('10')).toMatchObject({ status: 'fulfilled', lines: [{ shipped: 2 }] });
    expect(await lot(spray)).toMatchObject({ onHand: 2 });
  });

  it('ships nothing of an order that waits, is cancelled or is fulfilled', async () => {
    const spray = await receive('SPRAY', 10);
    const line = { code: 'SPRAY', lot: spray, quantity: 1 };
    await done('/api/orders', { channel: 'shop', number: '6', paid: false, lines: [{ code: 'SPRAY', quantity: 1 }] });
    expect(await refuseShip('6', [line])).toBe('409 wrong-state');
    await done('/api/orders/shop/6/confirm', undefined);
    await ship('6', [line]);
    expect(await refuseShip('6', [line])).toBe('409 not-open');
    expect(await lot(spray)).toMatchObject({ onHand: 9 });
  });

  it('sends the last of a lot to exactly one of two who ship it at once', async () => {
    for (let round = 0; round < 5; round++) {
      const numbers = [`R${round}A`, `R${round}B`];
      for (const number of numbers) await order(number, [{ code: 'SPRAY', quantity: 3, shipBy: '2026-03-10' }]);
      const spray = await receive('SPRAY', 4);
      const both = await Promise.all(
        numbers.map((number) => refuseShip(number, [{ code: 'SPRAY', lot: spray, quantity: 3 }])),
      );
      expect(both.toSorted()).toEqual(['201 undefined', '409 not-enough']);
      expect(await lot(spray)).toMatchObject({ onHand: 1 });
    }
  });

  it('is undone by a correction: the order is open again and its promise stands', async () => {
    await order('7', [{ code: 'SPRAY', quantity: 4, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 9, { costE4: 1000 });
    await aside(spray, '7', 4);
    const { lines } = await ship('7', [{ code: 'SPRAY', lot: spray, quantity: 4 }]);
    await done<Corrected>(`/api/movements/${lines[0]!.movements[0]}/correct`, { reason: 'wrong parcel' });
    expect(await orderOf('7')).toMatchObject({ status: 'confirmed', lines: [{ shipped: 0, open: 4 }] });
    expect(await lot(spray)).toMatchObject({ onHand: 9, reserved: 4, valueE4: 1000 });
    const [shipment] = (await get<ShipmentPage>('/api/shipments?order=shop/7')).shipments;
    expect(shipment!.lines).toMatchObject([{ quantity: 0 }]);
    expect(await ship('7', [{ code: 'SPRAY', lot: spray, quantity: 4 }])).toMatchObject({ orderStatus: 'fulfilled' });
  });

  it('takes the owed shelf life from the database too', async () => {
    await order('8', [{ code: 'SPRAY', quantity: 4, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 9, { expiresOn: '2026-03-31' });
    const sql = `insert into movement (lot_id, cause, quantity, done_on, order_line_id)
      select l.id, 'shipment', -1, '2026-03-02', ol.id from lot l, order_line ol join customer_order o on o.id = ol.order_id
      where l.code = $1 and o.number = '8'`;
    await expect(app.database.query(sql, [spray])).rejects.toThrow(/owed 30 days/);
  });
});

describe('POST /api/returns', () => {
  it('holds what came back under the lot it left, worth its share of what it left with', async () => {
    await order('20', [{ code: 'SPRAY', quantity: 7, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 9, { costE4: 1000, receivedOn: '2026-02-20', expiresOn: '2026-12-31' });
    await ship('20', [{ code: 'SPRAY', lot: spray, quantity: 4 }], { on: '2026-02-25' });
    await ship('20', [{ code: 'SPRAY', lot: spray, quantity: 3 }]);
    // 7 left with 444 + floor(556 * 3 / 5) = 777
    const first = await takeBack('20', spray, 2, { place: 'returns' });
    expect(first).toMatchObject({ status: 'held', onHand: 2, parentLot: spray, place: 'returns', neverRelease: false });
    expect(first).toMatchObject({ valueE4: 222, expiresOn: '2026-12-31', cameOn: TODAY });
    expect(await moves(first.code)).toEqual([['return', 2, 222]]);
    const second = await takeBack('20', spray, 4);
    expect(second.valueE4).toBe(444);
    const last = await takeBack('20', spray, 1);
    expect(last.valueE4).toBe(111);
    expect(await refused('/api/returns', { orderLine: lineOf('20'), lot: spray, quantity: 1, reason: 'x' })).toBe(
      '409 not-shipped',
    );
    // it was shipped all the same
    expect(await orderOf('20')).toMatchObject({ status: 'fulfilled', lines: [{ shipped: 7, open: 0 }] });
    await done(`/api/movements/${(await moveIds(second.code))[0]}/correct`, { reason: 'one fewer' });
    expect((await takeBack('20', spray, 3)).valueE4).toBe(333);
    await done(`/api/lots/${first.code}/status`, { to: 'released', why: 'unopened' });
  });

  it('shares an uneven value so that all of it comes back, no more', async () => {
    await order('21', [{ code: 'SPRAY', quantity: 3, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 3, { costE4: 100 });
    await ship('21', [{ code: 'SPRAY', lot: spray, quantity: 3 }]);
    const values = [];
    for (let n = 0; n < 3; n++) values.push((await takeBack('21', spray, 1)).valueE4);
    expect(values).toEqual([33, 33, 34]);
  });

  it('never sells a body product again, nor a part of it', async () => {
    await order('22', [{ code: 'BODY', quantity: 5, shipBy: '2026-03-10' }]);
    const body = await receive('BODY', 5);
    await ship('22', [{ code: 'BODY', lot: body, quantity: 5 }]);
    const back = await done<LotView>('/api/returns', {
      orderLine: lineOf('22', 'BODY'),
      lot: body,
      quantity: 3,
      reason: 'did not like it',
    });
    expect(back).toMatchObject({ status: 'held', neverRelease: true });
    const release = { to: 'released', why: 'looks unopened' };
    expect(await refused(`/api/lots/${back.code}/status`, release)).toBe('409 wrong-state');
    const { part } = await done<Split>(`/api/lots/${back.code}/split`, { quantity: 1, place: 'p', reason: 'x' });
    expect(await refused(`/api/lots/${part.code}/status`, release)).toBe('409 wrong-state');
    await expect(app.database.query(`update lot set status = 'released' where code = $1`, [part.code])).rejects.toThrow(
      /never sold again/,
    );
    await done(`/api/lots/${back.code}/status`, { to: 'rejected', why: 'opened' });
    await done(`/api/lots/${back.code}/scrap`, { quantity: 2, reason: 'opened' });
  });

  it('refuses what was not shipped, and a correction of what came back', async () => {
    await order('23', [{ code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' }]);
    const [spray, other] = [await receive('SPRAY', 5), await receive('SPRAY', 5)];
    await ship('23', [{ code: 'SPRAY', lot: spray, quantity: 2 }]);
    const refuse = (change: object) =>
      refused('/api/returns', { orderLine: lineOf('23'), lot: spray, quantity: 1, reason: 'x', ...change });
    expect(await refuse({ quantity: 3 })).toBe('409 not-shipped');
    expect(await refuse({ lot: other })).toBe('409 not-shipped');
    expect(await refuse({ lot: 'NOBODY' })).toBe('422 unknown-lot');
    expect(await refuse({ orderLine: lineOf('23', 'BODY') })).toBe('422 unknown-order-line');
    expect(await refuse({ quantity: 0 })).toBe('422 not-positive');
    expect(await refuse({ on: '2026-03-01' })).toBe('422 invalid');
    expect(await refuse({ on: '2026-03-03' })).toBe('422 invalid');
    await takeBack('23', spray, 1);
    const [, shipped] = await moveIds(spray);
    expect(await refused(`/api/movements/${shipped}/correct`, { reason: 'x' })).toBe('409 correction-mismatch');
  });

  it('takes no more back than was sent, though two bring the last at once', async () => {
    await order('24', [{ code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 5);
    await ship('24', [{ code: 'SPRAY', lot: spray, quantity: 3 }]);
    const body = { orderLine: lineOf('24'), lot: spray, quantity: 2, reason: 'x' };
    const both = await Promise.all([refused('/api/returns', body), refused('/api/returns', body)]);
    expect(both.toSorted()).toEqual([expect.stringMatching(/^201 /), '409 not-shipped']);
  });
});

describe('bad input', () => {
  it('is refused as a problem, whatever it is', async () => {
    await order('BAD', [{ code: 'SPRAY', quantity: 5, shipBy: '2026-03-10' }]);
    const spray = await receive('SPRAY', 5);
    const lines = [{ code: 'SPRAY', occurrence: 1, lot: spray, quantity: 1 }];
    await ship('BAD', lines);
    const shipment = { channel: 'shop', number: 'BAD', on: TODAY, lines };
    const back = { lot: spray, quantity: 1, reason: 'r', place: 'p', on: TODAY };
    const orderLine = { ...lineOf('BAD'), occurrence: 1 };
    expect(await faultsOnBadInput(app, 'POST', '/api/shipments', shipment)).toEqual([]);
    expect(await faultsOnBadInput(app, 'POST', '/api/returns', { ...back, orderLine })).toEqual([]);
  });
});
