import { beforeAll, describe, expect, it } from 'vitest';
import type { Finished } from '../../src/bench/finish.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { benchOf, commitSmallShop } from '../support/bench.js';
import { orderLine, reserve } from '../support/promises.js';
import type { ProblemBody } from '../support/shelf.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const bench = benchOf(app);
const shelf = shelfOf(app);
const { weigh, finish, release, refused } = bench;

let pour: string;
let fill: string;
beforeAll(async () => ({ pour, fill } = await commitSmallShop(app)));

const setWorkshop = (settings: Record<string, unknown>) =>
  app.request('PUT', '/api/workshop', {
    name: 'Small shop',
    timeZone: 'UTC',
    currency: 'EUR',
    benchMinutes: [480, 480, 480, 480, 480, 0, 0],
    slackDays: 1,
    receivingDays: 1,
    scaleStep: '0.1 g',
    scaleLeast: '0.5 g',
    ...settings,
  });

const idOfBatch = async (code: string) =>
  (await app.database.query<{ id: number }>('select id from batch where code = $1', [code]))[0]!.id;

describe('a pour and its filling', () => {
  it('refuses to finish what is not weighed, and names the lines', async () => {
    expect(await refused(`/api/batches/${pour}/finish`, { made: '890 g' })).toBe('409 not-weighed');
    await weigh(pour, 1, 'ALC-1', 857_100);
    const answer = await app.request<ProblemBody & { lacking: unknown[] }>('POST', `/api/batches/${pour}/finish`, {
      made: '850 g',
    });
    expect(answer.body).toMatchObject({
      code: 'not-weighed',
      lacking: [{ position: 2, item: 'CEDAR', weighed: 0, wanted: 42_900 }],
    });
    await weigh(pour, 2, 'CED-OLD', 30_000);
    expect((await weigh(pour, 2, 'CED-NEW', 12_900, { further: true })).batch.status).toBe('weighed');
  });

  it('asks why more is lost than the formula allows for, and why more came out than went in', async () => {
    for (const made of ['880 g', '919 g']) {
      const answer = await app.request<ProblemBody & { lossMg: number }>('POST', `/api/batches/${pour}/finish`, {
        made,
      });
      expect([answer.status, answer.body.code, answer.body.errors![0]!.pointer]).toEqual([
        422,
        'explain-loss',
        '/lossReason',
      ]);
      expect(answer.body.lossMg).toBe(made === '880 g' ? 20_000 : -19_000);
    }
    expect((await bench.batch(pour)).status).toBe('weighed');
  });

  it('makes one lot in quarantine, worth what went in, and breaks the promise a smaller yield cannot keep', async () => {
    expect((await setWorkshop({ labourRateE4: 300_000 })).status).toBe(200);
    const done = await finish(pour, '897.5 g', { density: '0.842 g/ml', place: 'shelf 3', minutes: 50 });
    // 8 000 x 857 100 / 8 000 000 = 857.1; 600 for the whole old lot; 2 000 x 12 900 / 100 000 = 258; 50 min of 300 000
    const inputsE4 = 857 + 600 + 258;
    const labourE4 = 250_000;
    expect(done).toMatchObject({
      leftovers: [],
      closing: {
        finishedOn: TODAY,
        putInMg: 900_000,
        unbookedMg: 0,
        made: 897_500,
        madeMg: 897_500,
        leftMg: 0,
        lossMg: 2_500,
        expectedLossMg: 0,
        densityUgPerMl: 842_000,
        minutes: 50,
        labourE4,
        inputsE4,
        lostE4: 0,
      },
      freed: [{ item: 'CEDAR-BULK', quantity: 2_500, needOn: '2026-03-19', batch: fill, order: null }],
      batch: { status: 'resting', day: TODAY, readyOn: '2026-03-09', made: 897_500, lot: done.lot },
    });
    // the trade's Julian date code: 2 March is the 61st day of the year
    expect(done.lot).toMatch(/^26061-\d{3}$/);
    expect(await bench.lot(done.lot)).toMatchObject({
      status: 'quarantine',
      onHand: 897_500,
      valueE4: inputsE4 + labourE4,
      place: 'shelf 3',
      cameOn: TODAY,
    });
    expect(await refused(`/api/batches/${pour}/finish`, { made: '1 g' })).toBe('409 wrong-state');
  });

  it('is released early only with a reason, and never past its batch', async () => {
    const { lot } = await bench.batch(pour);
    expect(await refused(`/api/lots/${lot}/status`, { to: 'released', why: 'looks fine' })).toBe('409 wrong-state');
    expect(await refused(`/api/batches/${pour}/release`)).toBe('409 still-resting');
    expect(await refused(`/api/batches/${pour}/release`, { why: 'x' })).toBe('409 unchecked');
    await bench.done(`/api/lots/${lot}/status`, { to: 'held', why: 'a doubt' });
    await bench.check(pour);
    expect(await refused(`/api/batches/${pour}/release`, { why: 'x' })).toBe('409 lot-held');
    const early = await app.request<{ readyOn: string }>('POST', `/api/batches/${pour}/release`, {});
    expect(early.body.readyOn).toBe('2026-03-09');
  });

  it('turns promises on the batch into promises on the lot: by need day, then id; what no longer fits is freed', async () => {
    const code = (await bench.batch(pour)).lot!;
    expect(await refused(`/api/lots/${code}/status`, { to: 'released', why: 'no doubt' })).toBe('409 wrong-state');
    await bench.done(`/api/lots/${code}/status`, { to: 'quarantine', why: 'no doubt' });
    await bench.done(`/api/lots/${code}/samples`, { quantity: '10 g', reason: 'kept' });
    const done = await release(pour, { why: 'clear already, needed for the fair' });
    expect(done).toMatchObject({
      lot: code,
      kept: 1,
      freed: [{ quantity: 10_000, batch: fill }],
      batch: { status: 'released' },
    });
    expect(await bench.lot(code)).toMatchObject({ status: 'released', onHand: 887_500, reserved: 887_500 });
    const [change] = await app.database.query<{ why: string }>(
      `select why from state_change where subject = 'batch' and subject_id = $1 and to_status = 'released'`,
      [await idOfBatch(pour)],
    );
    expect(change!.why).toBe('clear already, needed for the fair');
  });

  it('fills units, counts containers, and puts what is left over back as a lot', async () => {
    const bulk = (await bench.batch(pour)).lot!;
    const before = await bench.lot(bulk);
    await weigh(fill, 1, bulk, 850_000, { isAll: true, off: true });
    await weigh(fill, 2, 'BOT-1', 8, { isAll: true, off: true });
    // nine bottles filled need nine bottles
    expect(await refused(`/api/batches/${fill}/finish`, { made: 9 })).toBe('409 not-weighed');
    await weigh(fill, 2, 'BOT-1', 2, { further: true });
    const done = await finish(fill, 9, {
      leftovers: [{ position: 1, quantity: '35 g', place: 'shelf 3' }],
      minutes: 0,
    });
    expect(done.closing).toMatchObject({ putInMg: 850_000, made: 9, madeMg: 810_000, leftMg: 35_000, lossMg: 5_000 });
    const [left] = done.leftovers;
    expect(left).toMatchObject({ position: 1, quantity: 35_000 });
    const rest = await bench.lot(left!.lot);
    expect(rest).toMatchObject({ item: 'CEDAR-BULK', status: 'released', onHand: 35_000, place: 'shelf 3' });
    // floor(value x part / whole) leaves the bulk, and floor(that x 35 / 850) goes back with the rest
    const taken = Math.floor((before.valueE4 * 850_000) / 887_500);
    expect(rest.valueE4).toBe(Math.floor((taken * 35_000) / 850_000));
    const made = await bench.lot(done.lot);
    expect(made).toMatchObject({ item: 'CEDAR-100', status: 'quarantine', onHand: 9 });
    expect(made.valueE4 + rest.valueE4).toBe(taken + 100);
    // ten were promised to the order; no rest is due, so it is released on the spot
    expect(done.freed).toMatchObject([{ quantity: 1, order: 'shop 1001' }]);
    await bench.check(fill);
    expect(await release(fill)).toMatchObject({ kept: 1, freed: [], batch: { status: 'released' } });
    expect(await bench.lot(done.lot)).toMatchObject({ onHand: 9, reserved: 9 });
  });

  it('frees what is reserved and not used', async () => {
    expect(await bench.lot((await bench.batch(pour)).lot!)).toMatchObject({ onHand: 37_500, reserved: 0 });
    expect(await bench.lot('BOT-1')).toMatchObject({ onHand: 38, reserved: 0 });
  });
});

describe('POST /api/batches/{code}/finish', () => {
  it('leaves out what is not weighed only with a reason, as a deviation', async () => {
    await openBatch(app, 'F-1', [
      { item: 'ALCOHOL', quantity: 900 },
      { item: 'CEDAR', quantity: 100 },
    ]);
    await weigh('F-1', 1, 'ALC-1', 900);
    expect(await refused('/api/batches/F-1/finish', { made: 900, leaveOut: true })).toBe('422 explain');
    await finish('F-1', 900, { leaveOut: true, why: 'unscented on request' });
    const rows = await app.database.query<{ note: string }>(
      `select note from bench_entry where batch_id = $1 and kind = 'deviation'`,
      [await idOfBatch('F-1')],
    );
    expect(rows).toEqual([{ note: 'left out 0.1 g of 0.1 g: unscented on request' }]);
  });

  it('frees the latest needs first where several were promised more than came out', async () => {
    await openBatch(app, 'F-2', [{ item: 'ALCOHOL', quantity: 1000 }]);
    const batchId = await idOfBatch('F-2');
    const lines = [
      await orderLine(app, 'BULK', 300, '2026-03-20'),
      await orderLine(app, 'BULK', 300, '2026-03-10'),
      await orderLine(app, 'BULK', 300, '2026-03-10'),
    ];
    const needs = ['2026-03-20', '2026-03-10', '2026-03-10'];
    await reserve(
      app,
      lines.map((orderLineId, at) => ({ batchId, orderLineId, quantity: 300, needOn: needs[at]! })),
    );
    await weigh('F-2', 1, 'ALC-1', 1000);
    const { freed, lot } = await finish('F-2', 500, { lossReason: 'the jug broke' });
    expect(freed.map(({ quantity, needOn }) => [quantity, needOn])).toEqual([
      [100, '2026-03-10'],
      [300, '2026-03-20'],
    ]);
    // while it rests no more than was made is promised of it
    const more = await orderLine(app, 'BULK', 300, '2026-03-10');
    await expect(reserve(app, [{ batchId, orderLineId: more, quantity: 1, needOn: '2026-03-10' }])).rejects.toThrow(
      /can no longer give/,
    );
    expect(await release('F-2', { why: 'no rest' })).toMatchObject({ kept: 2, freed: [] });
    const rows = await app.database.query<{ order_line_id: number; open: number }>(
      `select r.order_line_id, r.open from reservation r join lot l on l.id = r.lot_id where l.code = $1 order by r.id`,
      [lot],
    );
    expect(rows).toEqual([
      { order_line_id: lines[1], open: 300 },
      { order_line_id: lines[2], open: 200 },
    ]);
  });

  it('conserves every milligram and every part of a cent, whatever the numbers', async () => {
    for (let round = 0; round < 12; round++) {
      const code = `F-R${round}`;
      const quantity = 997 + round * 131;
      const lot = await shelf.receive('ALCOHOL', quantity * 3 + round, { costE4: 100_003 + round * 7919 });
      await openBatch(app, code, [{ item: 'ALCOHOL', quantity }]);
      await weigh(code, 1, lot, quantity + round);
      const left = round % 3 === 0 ? 0 : 17 * round;
      const made = Math.floor((quantity + round - left) * 0.83);
      const done = await finish(code, made, {
        minutes: round * 7,
        lossReason: 'spilt',
        leftovers: left === 0 ? [] : [{ position: 1, quantity: left }],
      });
      const moved = await app.database.query<{ cause: string; quantity: number; value: number }>(
        `select cause, sum(quantity)::bigint as quantity, sum(value_e4)::bigint as value from movement
         where batch_id = $1 group by 1`,
        [await idOfBatch(code)],
      );
      const of = (cause: string) => moved.find((row) => row.cause === cause)!;
      expect(of('production').value).toBe(-of('consumption').value + done.closing.labourE4);
      expect(of('production').quantity + done.closing.lossMg).toBe(-of('consumption').quantity);
      expect(done.closing.labourE4).toBe(Math.floor((round * 7 * 300_000) / 60));
    }
  });

  it('says how long it keeps: by its own life, by its materials, and by the rule of the workshop', async () => {
    await app.database.query(`update item set shelf_life_days = 100 where code = 'BULK'`);
    const soon = await shelf.receive('CEDAR', 1000, { expiresOn: '2026-04-01' });
    const until: [boolean, string][] = [
      [false, '2026-06-10'],
      [true, '2026-04-01'],
    ];
    for (const [bestBeforeOfMaterials, expiresOn] of until) {
      expect((await setWorkshop({ bestBeforeOfMaterials })).status).toBe(200);
      const code = `F-L${bestBeforeOfMaterials}`;
      await openBatch(app, code, [{ item: 'CEDAR', quantity: 100 }]);
      await weigh(code, 1, soon, 100);
      const { lot, closing } = await finish(code, 100);
      expect(closing).toMatchObject({ keepsUntil: '2026-06-10', materialsUntil: '2026-04-01' });
      expect((await bench.lot(lot)).expiresOn).toBe(expiresOn);
    }
    expect((await setWorkshop({ bestBeforeOfMaterials: false })).status).toBe(200);
    await app.database.query(`update item set shelf_life_days = null where code = 'BULK'`);
  });

  it('refuses a leftover that was not weighed, a day before the last weighing, and a second time', async () => {
    await openBatch(app, 'F-3', [{ item: 'ALCOHOL', quantity: 100 }]);
    await weigh('F-3', 1, 'ALC-1', 100);
    const url = '/api/batches/F-3/finish';
    const left = (quantity: number, position = 1) => ({
      made: 50,
      lossReason: 'x',
      leftovers: [{ position, quantity }],
    });
    expect(await refused(url, left(101))).toBe('422 not-enough');
    expect(await refused(url, left(10, 2))).toBe('422 unknown-line');
    expect(await refused(url, { made: 50, on: '2026-03-01', lossReason: 'x' })).toBe('422 invalid');
    expect(await refused(url, { made: 50, on: '2026-03-03', lossReason: 'x' })).toBe('422 invalid');
    expect(await refused('/api/batches/NOBODY/finish', { made: 1 })).toBe('404 not-found');
    const [one, two] = await Promise.all([
      app.request<Finished>('POST', url, { made: 100 }),
      app.request<Finished>('POST', url, { made: 100 }),
    ]);
    expect([one.status, two.status].toSorted()).toEqual([201, 409]);
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    await openBatch(app, 'F-BAD', [{ item: 'ALCOHOL', quantity: 100 }]);
    await weigh('F-BAD', 1, 'ALC-1', 100);
    const leftovers = [{ position: 1, quantity: '1 mg', place: 'x' }];
    const body = {
      made: '0.05 g',
      on: TODAY,
      density: '0.8 g/ml',
      leftovers,
      minutes: 3,
      lossReason: 'x',
      leaveOut: true,
    };
    expect(await faultsOnBadInput(app, 'POST', '/api/batches/F-BAD/finish', body)).toEqual([]);
  });
});
