import { beforeAll, describe, expect, it } from 'vitest';
import type {
  Counted,
  History,
  LotActed,
  Retested,
  SetAside,
  SetAsideList,
  Split,
} from '../../src/stock/acts.schema.js';
import type { StatusChanged } from '../../src/stock/stock.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { idOf, onLedger, orderLine, reserve } from '../support/promises.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, get, item, lot, moves, order, post, receive, refused } = shelfOf(app);

/** A lot of 10 at 100 with three promises of 3, 2 and 4: all but 1 is taken. Needed on the 8th, 10th and 10th. */
async function promisedLot(): Promise<string> {
  const code = await receive('BOTTLE', 10, { costE4: 100 });
  const lotId = await idOf(app, 'lot', code);
  for (const [quantity, needOn] of [
    [3, '2026-03-08'],
    [2, '2026-03-10'],
    [4, '2026-03-10'],
  ] as const)
    await reserve(app, [{ lotId, orderLineId: await orderLine(app, 'BOTTLE', quantity, needOn), quantity, needOn }]);
  return code;
}

async function until(isSo: () => Promise<boolean>): Promise<void> {
  for (let tries = 0; !(await isSo()); tries++) {
    expect(tries).toBeLessThan(500);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}

const hurt = (quantity: number, needOn: string) => ({
  item: 'BOTTLE',
  quantity,
  needOn,
  batch: null,
  order: expect.stringMatching(/^test /),
});

beforeAll(async () => {
  await item('BOTTLE');
  await item('OIL', { measure: 'weighed', lotDateKind: 'retest', density: '0.95 g/ml' });
  await item('QUAR', { quarantinedOnArrival: true });
  await item('GIFT', { kind: 'product', owedLifeDays: 30 });
  await post('/api/channels', { code: 'shop', name: 'Shop' });
});

describe('POST /api/counts', () => {
  it('posts each difference: a gain is worth nothing, a loss its share, to the last 1/10 000', async () => {
    const more = await receive('BOTTLE', 10, { costE4: 100, place: 'shelf A' });
    const less = await receive('OIL', 1000, { costE4: 99_999, place: 'shelf A' });
    const same = await receive('BOTTLE', 5, { place: 'shelf A' });
    const unseen = await receive('BOTTLE', 5, { place: 'shelf A' });
    const count = await done<Counted>('/api/counts', {
      place: 'shelf A',
      reason: 'month end',
      lots: [
        { lot: same, counted: 5 },
        { lot: more, counted: '1 dozen' },
        { lot: less, counted: '0.667 g' },
      ],
    });
    expect(count).toMatchObject({ place: 'shelf A', countedOn: TODAY, notCounted: [unseen] });
    expect(count.lots).toEqual([
      expect.objectContaining({
        lot: same,
        expected: 5,
        counted: 5,
        difference: 0,
        valueE4: 0,
        movement: null,
        freed: [],
      }),
      expect.objectContaining({ lot: more, expected: 10, counted: 12, difference: 2, valueE4: 0, freed: [] }),
      // floor(99 999 * 333 / 1000) = floor(33 299.667)
      expect.objectContaining({
        lot: less,
        expected: 1000,
        counted: 667,
        difference: -333,
        valueE4: -33_299,
        freed: [],
      }),
    ]);
    expect(await lot(more)).toMatchObject({ onHand: 12, valueE4: 100 });
    expect(await lot(less)).toMatchObject({ onHand: 667, valueE4: 66_700 });
    expect(await moves(same)).toEqual([['receipt', 5, 0]]);
    const { entries } = await get<History>(`/api/lots/${same}/history`);
    expect(entries.at(-1)).toMatchObject({ kind: 'count', from: '5', to: '5', why: 'month end', by: 'workshop' });
  });

  it('frees the latest promises for a loss, and names whom that hurts', async () => {
    const code = await promisedLot();
    const count = await done<Counted>('/api/counts', { reason: 'fell down', lots: [{ lot: code, counted: 4 }] });
    // 6 are lost and 1 was free: 4 of the last promise, then 1 of the one before it
    expect(count.lots[0]!.freed).toEqual([hurt(4, '2026-03-10'), hurt(1, '2026-03-10')]);
    expect(await lot(code)).toMatchObject({ onHand: 4, reserved: 4, valueE4: 40 });
    const none = await done<Counted>('/api/counts', { reason: 'gone', lots: [{ lot: code, counted: 0 }] });
    expect(none.lots[0]!.freed).toEqual([hurt(1, '2026-03-10'), hurt(3, '2026-03-08')]);
    expect(await lot(code)).toMatchObject({ onHand: 0, reserved: 0, valueE4: 0 });
  });

  it('counts a lot of any status', async () => {
    const code = await receive('QUAR', 10);
    for (const [status, counted] of [
      ['held', 9],
      ['rejected', 8],
    ] as const) {
      await done('/api/counts', { reason: 'x', lots: [{ lot: code, counted }] });
      await done(`/api/lots/${code}/status`, { to: status, why: 'x' });
    }
    await done('/api/counts', { reason: 'x', lots: [{ lot: code, counted: 7 }] });
    expect(await lot(code)).toMatchObject({ onHand: 7, status: 'rejected' });
  });

  it('compares with the book at the end of the day of the count', async () => {
    const code = await receive('BOTTLE', 10, { receivedOn: '2026-02-20' });
    await done(`/api/lots/${code}/scrap`, { quantity: 4, reason: 'broken', on: '2026-02-27' });
    const body = { reason: 'evening', countedOn: '2026-02-26', lots: [{ lot: code, counted: 9 }] };
    const count = await done<Counted>('/api/counts', body);
    expect(count.lots[0]).toMatchObject({ expected: 10, counted: 9, difference: -1 });
    expect(await lot(code)).toMatchObject({ onHand: 5 });
    // 9 were booked, so 7 are missed, but only 5 are left now: one of the two was booked wrong
    expect(await refused('/api/counts', { ...body, lots: [{ lot: code, counted: 2 }] })).toBe('409 not-enough');
    expect(await refused('/api/counts', { ...body, countedOn: '2026-02-19' })).toBe('422 invalid');
    expect(await lot(code)).toMatchObject({ onHand: 5 });
  });

  it('refuses all of a count for one bad line', async () => {
    const code = await receive('BOTTLE', 10);
    const good = { lot: code, counted: 3 };
    const count = (more: object, rest = {}) => refused('/api/counts', { reason: 'x', lots: [good, more], ...rest });
    expect(await count({ lot: 'NOBODY', counted: 1 })).toBe('422 unknown-lot');
    expect(await count(good)).toBe('422 given-twice');
    expect(await count({ lot: code, counted: '2 kg' })).toMatch(/^422/);
    expect(await refused('/api/counts', { reason: 'x', lots: [] })).toBe('422 invalid');
    expect(await refused('/api/counts', { reason: 'x', lots: [good], countedOn: '2026-03-03' })).toBe('422 invalid');
    expect(await lot(code)).toMatchObject({ onHand: 10 });
  });
});

describe('POST /api/lots/{code}/scrap and its like', () => {
  it.each([
    ['scrap', 'scrap'],
    ['samples', 'sample'],
    ['trials', 'trial'],
    ['own-use', 'own-use'],
    ['return-to-supplier', 'return-to-supplier'],
  ])('%s takes from what is free first, then from the latest promise', async (path, cause) => {
    const code = await promisedLot();
    const one = await done<LotActed>(`/api/lots/${code}/${path}`, { quantity: 1, reason: 'r', on: TODAY });
    expect(one).toMatchObject({ onHand: 9, reserved: 9, valueE4: 90, freed: [] });
    const two = await done<LotActed>(`/api/lots/${code}/${path}`, { quantity: 2, reason: 'r' });
    expect(two).toMatchObject({ onHand: 7, reserved: 7, valueE4: 70, freed: [hurt(2, '2026-03-10')] });
    expect(await moves(code)).toEqual([
      ['receipt', 10, 100],
      [cause, -1, -10],
      [cause, -2, -20],
    ]);
    expect(await refused(`/api/lots/${code}/${path}`, { quantity: 8, reason: 'r' })).toBe('409 not-enough');
    expect(await refused(`/api/lots/${code}/${path}`, { quantity: 0, reason: 'r' })).toBe('422 not-positive');
    expect(await refused(`/api/lots/${code}/${path}`, { quantity: 1 })).toBe('422 invalid');
    expect(await refused(`/api/lots/${code}/${path}`, { quantity: 1, reason: 'r', on: '2026-03-01' })).toBe(
      '422 invalid',
    );
    expect(await refused(`/api/lots/NOBODY/${path}`, { quantity: 1, reason: 'r' })).toBe('404 not-found');
    expect(await lot(code)).toMatchObject({ onHand: 7 });
  });

  it('takes scrap, samples and what goes back of a held lot, but no trial and no own use', async () => {
    const code = await receive('BOTTLE', 10);
    await done(`/api/lots/${code}/status`, { to: 'held', why: 'x' });
    for (const path of ['scrap', 'samples', 'return-to-supplier'])
      await done(`/api/lots/${code}/${path}`, { quantity: 1, reason: 'r' });
    for (const path of ['trials', 'own-use'])
      expect(await refused(`/api/lots/${code}/${path}`, { quantity: 1, reason: 'r' })).toBe('409 lot-not-released');
    expect(await lot(code)).toMatchObject({ onHand: 7 });
  });
});

describe('POST /api/lots/{code}/split', () => {
  it('gives the part what it is worth and its own place, and frees what no longer fits', async () => {
    const code = await receive('BOTTLE', 7, { costE4: 100, supplierLot: 'S-1', expiresOn: '2026-12-31' });
    const lotId = await idOf(app, 'lot', code);
    const orderLineId = await orderLine(app, 'BOTTLE', 6, '2026-03-10');
    await reserve(app, [{ lotId, orderLineId, quantity: 6, needOn: '2026-03-10' }]);
    const body = { quantity: 3, place: 'fair', reason: 'spring fair' };
    const { lot: rest, part, freed } = await done<Split>(`/api/lots/${code}/split`, body);
    // floor(100 * 3 / 7) = 42
    expect(part).toMatchObject({ onHand: 3, valueE4: 42, place: 'fair', parentLot: code, status: 'released' });
    expect(part).toMatchObject({ supplierLot: 'S-1', expiresOn: '2026-12-31', reserved: 0 });
    expect(rest).toMatchObject({ onHand: 4, valueE4: 58, reserved: 4 });
    expect(freed).toEqual([hurt(2, '2026-03-10')]);
    expect(await moves(part.code)).toEqual([['split', 3, 42]]);
    const again = await done<Split>(`/api/lots/${part.code}/split`, { ...body, quantity: 2, status: 'held' });
    expect(again.part).toMatchObject({ onHand: 2, valueE4: 28, status: 'held', parentLot: part.code });
    expect(again.lot).toMatchObject({ onHand: 1, valueE4: 14 });
  });

  it('makes no part of a lot that may not be used into one that may', async () => {
    const code = await receive('QUAR', 10);
    const split = (status?: string) =>
      post(`/api/lots/${code}/split`, { quantity: 1, place: 'p', reason: 'r', status });
    expect((await split()).body).toMatchObject({ part: { status: 'quarantine' } });
    expect((await split('held')).body).toMatchObject({ part: { status: 'held' } });
    await done(`/api/lots/${code}/status`, { to: 'rejected', why: 'x' });
    expect((await split()).body).toMatchObject({ part: { status: 'rejected' } });
    expect((await split('held')).body).toMatchObject({ status: 409, code: 'lot-not-released' });
    expect(await refused(`/api/lots/${code}/split`, { quantity: 11, place: 'p', reason: 'r' })).toBe('409 not-enough');
    expect(await refused(`/api/lots/${code}/split`, { quantity: 1, reason: 'r' })).toBe('422 invalid');
  });
});

describe('POST /api/lots/{code}/retest', () => {
  it('moves the date on evidence, and frees what was promised past an earlier one', async () => {
    const code = await receive('OIL', 1000, { expiresOn: '2026-06-30' });
    const lotId = await idOf(app, 'lot', code);
    for (const needOn of ['2026-05-01', '2026-05-02'])
      await reserve(app, [{ lotId, orderLineId: await orderLine(app, 'OIL', 300, needOn), quantity: 300, needOn }]);
    const retest = (newDate: string) =>
      done<Retested>(`/api/lots/${code}/retest`, { newDate, evidence: `cert ${newDate}` });
    expect(await retest('2026-09-30')).toMatchObject({ expiresOn: '2026-09-30', fromDate: '2026-06-30', freed: [] });
    const shorter = await retest('2026-05-01');
    expect(shorter).toMatchObject({ expiresOn: '2026-05-01', fromDate: '2026-09-30', reserved: 300 });
    expect(shorter.freed).toEqual([expect.objectContaining({ item: 'OIL', quantity: 300, needOn: '2026-05-02' })]);
    const rows = await app.database.query(
      'select from_date, to_date, evidence, examined_on, created_by from retest where lot_id = $1 order by id',
      [lotId],
    );
    const kept = { examined_on: TODAY, created_by: 'workshop' };
    expect(rows).toEqual([
      { from_date: '2026-06-30', to_date: '2026-09-30', evidence: 'cert 2026-09-30', ...kept },
      { from_date: '2026-09-30', to_date: '2026-05-01', evidence: 'cert 2026-05-01', ...kept },
    ]);
    await expect(app.database.query('update retest set to_date = from_date')).rejects.toThrow(/only added to/);
  });

  it('counts the shelf life a customer is owed as part of the promise', async () => {
    await item('DROPS', { kind: 'product', owedLifeDays: 30, lotDateKind: 'retest' });
    const code = await receive('DROPS', 5, { expiresOn: '2026-05-01' });
    await order('R-1', [{ code: 'DROPS', quantity: 5, shipBy: '2026-04-01' }]);
    const line = { channel: 'shop', number: 'R-1', code: 'DROPS' };
    await done<SetAside>(`/api/lots/${code}/reservations`, { quantity: 5, orderLine: line });
    const retested = await done<Retested>(`/api/lots/${code}/retest`, { newDate: '2026-04-30', evidence: 'x' });
    expect(retested.freed).toEqual([
      { item: 'DROPS', quantity: 5, needOn: '2026-04-01', batch: null, order: 'shop R-1' },
    ]);
  });

  it('moves no expiry and no best-before date, not even past the service', async () => {
    const code = await receive('BOTTLE', 10, { expiresOn: '2026-06-30' });
    expect(await refused(`/api/lots/${code}/retest`, { newDate: '2026-07-01', evidence: 'x' })).toBe(
      '409 not-a-retest-date',
    );
    await expect(
      app.database.query(
        `insert into retest (lot_id, to_date, evidence, examined_on) values ($1, '2027-01-01', 'x', '2026-03-02')`,
        [await idOf(app, 'lot', code)],
      ),
    ).rejects.toThrow(/no retest date/);
    expect(await refused(`/api/lots/${code}/retest`, { newDate: '2026-07-01' })).toBe('422 invalid');
  });
});

describe('POST /api/lots/{code}/reservations', () => {
  it('sets free stock aside for an order line or a batch, and gives it back', async () => {
    const code = await receive('BOTTLE', 10);
    await order('S-1', [{ code: 'BOTTLE', quantity: 6, shipBy: '2026-03-10' }]);
    await openBatch(app, 'B-ASIDE', [{ item: 'BOTTLE', quantity: 5, needOn: '2026-02-01' }]);
    const url = `/api/lots/${code}/reservations`;
    const orderLineName = { channel: 'shop', number: 'S-1', code: 'BOTTLE' };
    const forLine = await done<SetAside>(url, { quantity: 6, orderLine: orderLineName });
    expect(forLine).toMatchObject({ lot: code, quantity: 6, needOn: '2026-03-10', order: 'shop S-1', batch: null });
    // was needed before today, so it is needed today
    const forBatch = await done<SetAside>(url, { quantity: 4, batch: 'B-ASIDE', position: 1 });
    expect(forBatch).toMatchObject({ quantity: 4, needOn: TODAY, batch: 'B-ASIDE', order: null });
    expect(await refused(url, { quantity: 1, batch: 'B-ASIDE', position: 1 })).toBe('409 not-enough');
    expect(await refused(url, { quantity: 2, batch: 'B-ASIDE', position: 1 })).toBe('409 not-needed');
    expect(await refused(url, { quantity: 1, orderLine: orderLineName })).toBe('409 not-needed');
    expect((await get<SetAsideList>(url)).reservations.map(({ id }) => id)).toEqual([forBatch.id, forLine.id]);
    const free = (id: number, body: object) => post(`/api/reservations/${id}/free`, body);
    expect((await free(forLine.id, { quantity: 2 })).body).toEqual({ id: forLine.id, freed: 2, open: 4 });
    expect((await free(forLine.id, { quantity: 5 })).body).toMatchObject({ status: 409, code: 'not-open' });
    expect((await free(forLine.id, {})).body).toEqual({ id: forLine.id, freed: 4, open: 0 });
    expect((await free(forLine.id, {})).body).toMatchObject({ status: 409, code: 'not-open' });
    expect((await free(999_999, {})).status).toBe(404);
    expect(await lot(code)).toMatchObject({ reserved: 4 });
  });

  it('sees what another act set aside for the line while it waited for it', async () => {
    const code = await receive('BOTTLE', 10);
    await order('S-3', [{ code: 'BOTTLE', quantity: 6, shipBy: '2026-03-10' }]);
    const url = `/api/lots/${code}/reservations`;
    const body = { quantity: 6, orderLine: { channel: 'shop', number: 'S-3', code: 'BOTTLE' } };
    const lotId = await idOf(app, 'lot', await receive('BOTTLE', 10));
    let waiting: Promise<string> | undefined;
    await onLedger(app, async (tx, stock) => {
      const [line] = await tx.query<{ id: number }[]>(
        `select ol.id from order_line ol join customer_order o on o.id = ol.order_id where o.number = 'S-3' for update of ol`,
      );
      await stock.reserve(tx, [{ lotId, orderLineId: line!.id, quantity: 6, needOn: '2026-03-10' }]);
      waiting = refused(url, body);
      await until(async () => {
        const [row] = await app.database.query<{ n: number }>(
          `select count(*) as n from pg_stat_activity where datname = current_database() and wait_event_type = 'Lock'`,
        );
        return row!.n > 0;
      });
    });
    expect(await waiting).toBe('409 not-needed');
  });

  it('refuses a lot that is held, of another item, or does not last as long as the customer is owed', async () => {
    await order('S-2', [{ code: 'GIFT', quantity: 5, shipBy: '2026-03-10' }]);
    const orderLineName = { channel: 'shop', number: 'S-2', code: 'GIFT' };
    const aside = async (code: string) =>
      refused(`/api/lots/${code}/reservations`, { quantity: 1, orderLine: orderLineName });
    // owed 30 days from the 10th of March: the 9th of April is the first day that will do
    expect(await aside(await receive('GIFT', 5, { expiresOn: '2026-04-08' }))).toBe('409 past-its-date');
    expect(await aside(await receive('BOTTLE', 5))).toBe('409 other-item');
    const good = await receive('GIFT', 5, { expiresOn: '2026-04-09' });
    await done(`/api/lots/${good}/status`, { to: 'held', why: 'x' });
    expect(await aside(good)).toBe('409 lot-not-released');
    await done(`/api/lots/${good}/status`, { to: 'released', why: 'x' });
    await done(`/api/lots/${good}/reservations`, { quantity: 1, orderLine: orderLineName });
    expect(
      await refused(`/api/lots/${good}/reservations`, { quantity: 1, orderLine: { ...orderLineName, occurrence: 2 } }),
    ).toBe('422 unknown-order-line');
    expect(await refused(`/api/lots/${good}/reservations`, { quantity: 1, batch: 'NOBODY', position: 1 })).toBe(
      '422 unknown-batch',
    );
    for (const body of [{ quantity: 1 }, { quantity: 1, batch: 'B' }, { quantity: 1, position: 1 }])
      expect(await refused(`/api/lots/${good}/reservations`, body)).toBe('422 invalid');
    const lotId = await idOf(app, 'lot', await receive('GIFT', 5, { expiresOn: '2026-04-08' }));
    const line = { orderLineId: await orderLine(app, 'GIFT', 5, '2026-03-10'), quantity: 1, needOn: '2026-03-10' };
    await expect(reserve(app, [{ lotId, ...line }])).rejects.toThrow(/does not last as long/);
  });
});

describe('GET /api/lots/{code}/history', () => {
  it('shows movements and decisions together, page by page', async () => {
    const code = await receive('OIL', 1000, { reason: 'delivery', expiresOn: '2026-06-30' });
    await post(`/api/lots/${code}/status`, { to: 'held', why: 'cloudy' });
    await done(`/api/lots/${code}/samples`, { quantity: 5, reason: 'to look at' });
    await done(`/api/lots/${code}/retest`, { newDate: '2026-07-31', evidence: 'clear again' });
    await done<StatusChanged>(`/api/lots/${code}/status`, { to: 'released', why: 'fine' });
    const whole = await get<History>(`/api/lots/${code}/history`);
    expect(whole.entries.map(({ kind, why, cause, from, to }) => [kind, why, cause, from, to])).toEqual([
      ['movement', 'delivery', 'receipt', null, null],
      ['status', 'cloudy', null, 'released', 'held'],
      ['movement', 'to look at', 'sample', null, null],
      ['retest', 'clear again', null, '2026-06-30', '2026-07-31'],
      ['status', 'fine', null, 'held', 'released'],
    ]);
    expect(whole).toMatchObject({ status: 'released', next: null });
    const first = await get<History>(`/api/lots/${code}/history?limit=2`);
    const second = await get<History>(`/api/lots/${code}/history?limit=3&after=${first.next}`);
    expect([...first.entries, ...second.entries]).toEqual(whole.entries);
    expect((await app.request('GET', `/api/lots/${code}/history?after=lot:1`)).status).toBe(422);
    expect((await app.request('GET', '/api/lots/NOBODY/history')).status).toBe(404);
  });
});

describe('bad input', () => {
  it('is refused as a problem, whatever it is', async () => {
    const code = await receive('OIL', 1_000_000, { expiresOn: '2026-06-30' });
    await order('BAD', [{ code: 'BOTTLE', quantity: 1, shipBy: '2026-03-10' }]);
    const at = `/api/lots/${code}`;
    const issue = { quantity: '1 g', reason: 'r', on: TODAY };
    const bodies: [string, object][] = [
      ['/api/counts', { place: 'p', countedOn: TODAY, reason: 'r', lots: [{ lot: code, counted: 5 }] }],
      ...['scrap', 'samples', 'trials', 'own-use', 'return-to-supplier'].map((path): [string, object] => [
        `${at}/${path}`,
        issue,
      ]),
      [`${at}/split`, { ...issue, place: 'p', status: 'held' }],
      [`${at}/retest`, { newDate: '2026-08-01', evidence: 'e', on: TODAY }],
      [
        `${at}/reservations`,
        { quantity: 1, orderLine: { channel: 'shop', number: 'BAD', code: 'BOTTLE', occurrence: 1 } },
      ],
      [`${at}/reservations`, { quantity: 1, batch: 'B', position: 1 }],
      ['/api/reservations/1/free', { quantity: 1 }],
    ];
    for (const [url, body] of bodies) expect(await faultsOnBadInput(app, 'POST', url, body)).toEqual([]);
  }, 120_000);
});
