import { setTimeout as pause } from 'node:timers/promises';
import { Client } from 'pg';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Weighed } from '../../src/bench/bench.schema.js';
import type { Counted } from '../../src/stock/acts.schema.js';
import type { StatusChanged } from '../../src/stock/stock.schema.js';
import { useTestApp } from '../support/app.js';
import { idOf, onLedger } from '../support/promises.js';
import { openBatch, shelfOf } from '../support/shelf.js';
import type { ProblemBody } from '../support/shelf.js';

const api = useTestApp();
const shelf = shelfOf(api);
const TODAY = '2026-03-02';

/** Somebody else's connection, whose transaction stands still where a test wants it to. */
let other: Client;

beforeAll(async () => {
  await api.database.query(`insert into channel (code, name) values ('shop', 'Shop')`);
  await shelf.item('OIL', { kind: 'product' });
  await shelf.order('1', [{ code: 'OIL', quantity: 500, shipBy: '2026-03-20' }]);
  await openBatch(api, 'B-1', [{ item: 'OIL', quantity: 900 }]);
  other = new Client({ connectionString: api.database.ownerUrl, options: '-c lotwright.who=other' });
  await other.connect();
});

afterAll(() => other.end());

/** Resolves once so many of our own acts wait for a lock that somebody holds. */
async function waiting(count: number): Promise<void> {
  for (let tries = 0; tries < 500; tries++) {
    const [row] = await api.database.query<{ waiting: number }>(
      `select count(*)::int as waiting from pg_stat_activity
       where datname = current_database() and application_name = 'lotwright' and wait_event_type = 'Lock'`,
    );
    if (row!.waiting === count) return;
    await pause(10);
  }
  throw new Error(`never were there ${count} acts waiting`);
}

/**
 * The other connection does `first` and keeps its transaction open; `then` is asked of the service and has to wait; the
 * other ends as told, and the service's answer is returned.
 */
async function meeting<T>(first: string, values: unknown[], then: () => Promise<T>, end = 'commit'): Promise<T> {
  await other.query('begin');
  await other.query(first, values);
  const answer = then();
  await waiting(1);
  await other.query(end);
  return answer;
}

const orderLine = { channel: 'shop', number: '1', code: 'OIL' };
const setAside = (lot: string, quantity: number) =>
  shelf.post<ProblemBody>(`/api/lots/${lot}/reservations`, { quantity, orderLine });
const hold = (lot: string) => shelf.post<StatusChanged>(`/api/lots/${lot}/status`, { to: 'held', why: 'cloudy' });
const weigh = (lot: string, quantity: number) =>
  shelf.post<Weighed>('/api/batches/B-1/weighings', { position: 1, lot, quantity, further: true });

describe('a hold and a reservation', () => {
  const HELD = `update lot set status = 'held' where code = $1`;

  it('hold first: nothing is promised of a held lot', async () => {
    const lot = await shelf.receive('OIL', 10);
    const answer = await meeting(HELD, [lot], () => setAside(lot, 4));
    expect([answer.status, answer.body.code]).toEqual([409, 'lot-not-released']);
    expect(await shelf.lot(lot)).toMatchObject({ status: 'held', reserved: 0 });
  });

  it('hold first, but given up: the promise stands', async () => {
    const lot = await shelf.receive('OIL', 10);
    expect((await meeting(HELD, [lot], () => setAside(lot, 4), 'rollback')).status).toBe(201);
    expect(await shelf.lot(lot)).toMatchObject({ status: 'released', reserved: 4 });
  });

  it('promise first: the hold sees it and gives it back', async () => {
    const lot = await shelf.receive('OIL', 10);
    const answer = await meeting(
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
    const answer = await meeting(WEIGHED, [lot], () => weigh(lot, 60));
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
    const answer = await meeting(WEIGHED, [lot], () => weigh(lot, 60), 'rollback');
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
      await waiting(1);
      answers.push(asks[order[1]!]!());
      await waiting(2);
      await other.query('commit');
      expect((await Promise.all(answers)).map((answer) => answer.status)).toEqual([201, 201]);
      const { onHand } = await shelf.lot(lot);
      ends.add(`${round % 2 === 0 ? 'count' : 'shipment'} first: ${onHand}`);
    }
    // counted before it left: 19 less 5; counted after: the 19 that were counted are there
    expect([...ends].sort()).toEqual(['count first: 14', 'shipment first: 19']);
  });
});

describe('locks in opposite order', () => {
  it('two acts that wait for each other are both done, one of them again', async () => {
    const lots = [await shelf.receive('OIL', 10), await shelf.receive('OIL', 10)];
    const ids = await Promise.all(lots.map((lot) => idOf(api, 'lot', lot)));
    let begun = 0;
    let bothBegun = () => {};
    const met = new Promise<void>((resolve) => (bothBegun = resolve));
    const scrapInOrder = (order: number[]) =>
      onLedger(api, async (tx, stock) => {
        begun++;
        for (const [at, lotId] of order.entries()) {
          const reason = order === ids ? 'up' : 'down';
          await stock.moveLot(tx, { lotId, cause: 'scrap', quantity: -1, doneOn: TODAY, reason });
          if (begun === 2) bothBegun();
          if (at === 0) await met;
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
    await waiting(1);
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
