import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Weighed } from '../../src/bench/bench.schema.js';
import type { Counted } from '../../src/stock/acts.schema.js';
import type { StatusChanged } from '../../src/stock/stock.schema.js';
import { useTestApp } from '../support/app.js';
import { type Other, otherConnection } from '../support/interleaved.js';
import { idOf, onLedger } from '../support/promises.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const api = useTestApp();
const shelf = shelfOf(api);
const TODAY = '2026-03-02';

let other: Other;

beforeAll(async () => {
  await api.database.query(`insert into channel (code, name) values ('shop', 'Shop')`);
  await shelf.item('OIL', { kind: 'product' });
  await shelf.order('1', [{ code: 'OIL', quantity: 500, shipBy: '2026-03-20' }]);
  await openBatch(api, 'B-1', [{ item: 'OIL', quantity: 900 }]);
  other = await otherConnection(api);
});

afterAll(() => other.end());

const orderLine = { channel: 'shop', number: '1', code: 'OIL' };
const setAside = (lot: string, quantity: number) =>
  shelf.post(`/api/lots/${lot}/reservations`, { quantity, orderLine });
const hold = (lot: string) => shelf.post<StatusChanged>(`/api/lots/${lot}/status`, { to: 'held', why: 'cloudy' });
const weigh = (lot: string, quantity: number) =>
  shelf.post<Weighed>('/api/batches/B-1/weighings', { position: 1, lot, quantity, further: true, found: true });

describe('a hold and a reservation', () => {
  const HELD = `update lot set status = 'held' where code = $1`;

  it('hold first: nothing is promised of a held lot', async () => {
    const lot = await shelf.receive('OIL', 10);
    const answer = await other.meeting(HELD, [lot], () => setAside(lot, 4));
    expect([answer.status, answer.body.code]).toEqual([409, 'lot-not-released']);
    expect(await shelf.lot(lot)).toMatchObject({ status: 'held', reserved: 0 });
  });

  it('hold first, but given up: the promise stands', async () => {
    const lot = await shelf.receive('OIL', 10);
    expect((await other.meeting(HELD, [lot], () => setAside(lot, 4), 'rollback')).status).toBe(201);
    expect(await shelf.lot(lot)).toMatchObject({ status: 'released', reserved: 4 });
  });

  it('promise first: the hold sees it and gives it back', async () => {
    const lot = await shelf.receive('OIL', 10);
    const answer = await other.meeting(
      `insert into reservation (lot_id, order_line_id, quantity, open, need_on)
       select l.id, ol.id, 4, 4, '2026-03-20' from lot l, order_line ol where l.code = $1 and ol.shop_code = 'OIL'`,
      [lot],
      () => hold(lot),
    );
    expect(answer.body).toMatchObject({ status: 'held', reserved: 0, freed: [{ quantity: 4, order: 'shop 1' }] });
  });
});

describe('two weighings of one lot', () => {
  const WEIGHED = `insert into movement (lot_id, cause, quantity, done_on, batch_input_id)
    select l.id, 'consumption', -60, '${TODAY}', bi.id from lot l, batch_input bi where l.code = $1`;

  it('the second sees what the first took, and what was there beyond the book', async () => {
    const lot = await shelf.receive('OIL', 100, { costE4: 1000 });
    const answer = await other.meeting(WEIGHED, [lot], () => weigh(lot, 60));
    expect(answer.body).toMatchObject({ foundMore: 20, freed: [] });
    expect(await shelf.moves(lot)).toEqual([
      ['receipt', 100, 1000],
      ['consumption', -60, -600],
      ['count', 20, 0],
      ['consumption', -60, -400],
    ]);
  });

  it('the second takes what the first gave up', async () => {
    const lot = await shelf.receive('OIL', 100);
    const answer = await other.meeting(WEIGHED, [lot], () => weigh(lot, 60), 'rollback');
    expect(answer.body).toMatchObject({ foundMore: 0 });
    expect(await shelf.lot(lot)).toMatchObject({ onHand: 40 });
  });
});

describe('a count and a shipment of one lot', () => {
  it('come one after the other, whichever is first', async () => {
    const ends = new Set<string>();
    for (let round = 0; round < 6; round++) {
      const lot = await shelf.receive('OIL', 20);
      await other.query('begin');
      await other.query('select from lot where code = $1 for update', [lot]);
      const asks = [
        () => shelf.post<Counted>('/api/counts', { reason: 'month end', lots: [{ lot, counted: 19 }] }),
        () =>
          shelf.post('/api/shipments', { ...orderLine, code: undefined, lines: [{ code: 'OIL', lot, quantity: 5 }] }),
      ];
      // the lock is given to who asked first
      const order = round % 2 === 0 ? [0, 1] : [1, 0];
      const answers = [asks[order[0]!]!()];
      await other.waiting(1);
      answers.push(asks[order[1]!]!());
      await other.waiting(2);
      await other.query('commit');
      expect((await Promise.all(answers)).map((answer) => answer.status)).toEqual([201, 201]);
      const { onHand } = await shelf.lot(lot);
      ends.add(`${round % 2 === 0 ? 'count' : 'shipment'} first: ${onHand}`);
    }
    // counted before it left: 19 less 5; counted after: the 19 that were counted are there
    expect([...ends].sort()).toEqual(['count first: 14', 'shipment first: 19']);
  });
});

describe('a pause and a weighing of one batch', () => {
  const PAUSED = `with paused as (select id from batch where code = 'B-2' for update)
    insert into bench_entry (batch_id, kind, note, done_on) select id, 'pause', 'the scale drifts', '${TODAY}' from paused`;
  const into = (lot: string) =>
    shelf.post('/api/batches/B-2/weighings', { position: 1, lot, quantity: 4, further: true });

  it('pause first: nothing is weighed', async () => {
    await openBatch(api, 'B-2', [{ item: 'OIL', quantity: 900 }]);
    const lot = await shelf.receive('OIL', 10);
    const answer = await other.meeting(PAUSED, [], () => into(lot), 'rollback');
    expect(answer.status).toBe(201);
    const refused = await other.meeting(PAUSED, [], () => into(lot));
    expect([refused.status, refused.body.code]).toEqual([409, 'paused']);
    expect(await shelf.lot(lot)).toMatchObject({ onHand: 6 });
  });
});

describe('locks in opposite order', () => {
  it('an act locks its lots in the order of their ids, however they are named and stored', async () => {
    const [first, second] = [await shelf.receive('OIL', 10), await shelf.receive('OIL', 10)];
    // a row that was changed is stored anew: the first is moved behind the second, where a scan comes to it last
    const stored = async () =>
      (
        await api.database.query<{ code: string }>('select code from lot where code = any($1::text[]) order by ctid', [
          [first, second],
        ])
      ).map(({ code }) => code);
    for (let tries = 0; tries < 50 && (await stored())[0] === first; tries++)
      await api.database.query('update lot set place = place where code = $1', [first]);
    expect(await stored()).toEqual([second, first]);
    const lots = [second, first].map((lot) => ({ lot, counted: 9 }));
    await other.query('begin');
    await other.query('select from lot where code = $1 for update', [first]);
    const counted = shelf.post<Counted>('/api/counts', { reason: 'month end', lots });
    await other.waiting(1);
    // it waits for the first of them and holds nothing of the second yet
    await other.query('select from lot where code = $1 for update nowait', [second]);
    await other.query('commit');
    expect((await counted).status).toBe(201);
  });

  it('two acts that wait for each other are both done, one of them again', async () => {
    const lots = [await shelf.receive('OIL', 10), await shelf.receive('OIL', 10)];
    const ids = await Promise.all(lots.map((lot) => idOf(api, 'lot', lot)));
    let [begun, holding] = [0, 0];
    let bothHold = () => {};
    const met = new Promise<void>((resolve) => (bothHold = resolve));
    const scrapInOrder = (order: number[]) =>
      onLedger(api, async (tx, stock) => {
        begun++;
        for (const [at, lotId] of order.entries()) {
          const reason = order === ids ? 'up' : 'down';
          await stock.moveLot(tx, { lotId, cause: 'scrap', quantity: -1, doneOn: TODAY, reason });
          if (at > 0) continue;
          // each goes on only when the other holds its first lot too
          if (++holding === 2) bothHold();
          await met;
        }
      });
    await Promise.all([scrapInOrder(ids), scrapInOrder(ids.toReversed())]);
    expect(begun).toBe(3);
    for (const lot of lots) expect(await shelf.lot(lot)).toMatchObject({ onHand: 8 });
  });

  it('an act of ours that is broken off for another one is done again', async () => {
    const [first, second] = [await shelf.receive('OIL', 10), await shelf.receive('OIL', 10)];
    await other.query('begin');
    await other.query('select from lot where code = $1 for update', [second]);
    const lots = [second, first].map((lot) => ({ lot, counted: 9 }));
    const counted = shelf.post<Counted>('/api/counts', { reason: 'month end', lots });
    await other.waiting(1);
    // ours waits longer by now, so it is ours that looks for a circle first, and finds it
    await other.query('select from lot where code = $1 for update', [first]);
    await other.query('commit');
    expect((await counted).body.lots.map(({ difference }) => difference)).toEqual([-1, -1]);
    expect(await shelf.moves(first)).toHaveLength(2);
  });

  it('counts that name the same lots in any order never wait for each other in a circle', async () => {
    const lots = await Promise.all(Array.from({ length: 6 }, () => shelf.receive('OIL', 50)));
    const answers = await Promise.all(
      Array.from({ length: 24 }, (_, n) => {
        const turned = [...lots.slice(n % 6), ...lots.slice(0, n % 6)];
        const named = (n % 2 === 0 ? turned : turned.toReversed()).map((lot) => ({ lot, counted: 49 - n }));
        return shelf.post('/api/counts', { reason: `round ${n}`, lots: named });
      }),
    );
    expect(answers.map((answer) => answer.status)).toEqual(Array.from({ length: 24 }, () => 201));
    const [row] = await api.database.query<{ different: number }>(
      'select count(distinct on_hand)::int as different from lot where code = any($1::text[])',
      [lots],
    );
    // the last one counted all of them, so they all hold the same
    expect(row!.different).toBe(1);
  });
});
