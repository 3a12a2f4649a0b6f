import { beforeAll, describe, expect, it } from 'vitest';
import type { BatchView } from '../../src/bench/bench.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { benchOf, commitSmallShop } from '../support/bench.js';
import { orderLine, reserve } from '../support/promises.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const app = useTestApp();
const bench = benchOf(app);
const { receive } = shelfOf(app);
const { weigh, finish, release, reject, refused } = bench;

let pour: string;
beforeAll(async () => void ({ pour } = await commitSmallShop(app)));

const idOfBatch = async (code: string) =>
  (await app.database.query<{ id: number }>('select id from batch where code = $1', [code]))[0]!.id;

/** A closed batch of BULK that waits for its release; answers its lot. */
async function made(code: string, quantity = 1000): Promise<string> {
  await openBatch(app, code, [{ item: 'ALCOHOL', quantity }]);
  await weigh(code, 1, 'ALC-1', quantity);
  return (await finish(code, quantity)).lot;
}

describe('POST /api/batches/{code}/reject', () => {
  it('rejects the lot with the batch and names whom it was promised to', async () => {
    const lot = await made('R-1');
    const orderLineId = await orderLine(app, 'BULK', 400, '2026-03-10');
    await reserve(app, [{ batchId: await idOfBatch('R-1'), orderLineId, quantity: 400, needOn: '2026-03-10' }]);
    expect(await refused('/api/batches/R-1/reject')).toBe('422 invalid');
    expect(await reject('R-1', { why: 'cloudy' })).toMatchObject({
      lot,
      freed: [{ item: 'BULK', quantity: 400, order: expect.stringMatching(/^test /) }],
      batch: { status: 'rejected' },
    });
    expect(await bench.lot(lot)).toMatchObject({ status: 'rejected', onHand: 1000 });
    for (const act of ['release', 'reject', 'finish'])
      expect(await refused(`/api/batches/R-1/${act}`, act === 'finish' ? { made: 1 } : { why: 'x' })).toBe(
        '409 wrong-state',
      );
    expect(await refused(`/api/lots/${lot}/status`, { to: 'released', why: 'x' })).toBe('409 wrong-state');
  });

  it('gives up a batch that is begun: all that went in is lost, and what is set aside is free', async () => {
    await openBatch(app, 'R-2', [
      { item: 'ALCOHOL', quantity: 500 },
      { item: 'CEDAR', quantity: 100 },
    ]);
    expect(await refused('/api/batches/R-2/reject', { why: 'x' })).toBe('409 wrong-state');
    await bench.done('/api/lots/CED-NEW/reservations', { batch: 'R-2', position: 2, quantity: 100 });
    const reserved = (await bench.lot('CED-NEW')).reserved;
    await weigh('R-2', 1, 'ALC-1', 500);
    expect(await refused('/api/batches/R-2/reject', { why: 'x', forRework: true })).toBe('409 nothing-made');
    expect(await reject('R-2', { why: 'spilt' })).toMatchObject({ lot: null, batch: { status: 'rejected', made: 0 } });
    expect((await bench.lot('CED-NEW')).reserved).toBe(reserved - 100);
    const [row] = await app.database.query(
      'select put_in_mg, loss_mg, loss_reason, lost_e4 = inputs_e4 as lost from batch_finish where batch_id = $1',
      [await idOfBatch('R-2')],
    );
    expect(row).toEqual({ put_in_mg: 500, loss_mg: 500, loss_reason: 'spilt', lost: true });
  });
});

describe('a rejected lot', () => {
  it('goes into another batch only where it is set aside for that, and only there', async () => {
    const lot = await made('W-1');
    await reject('W-1');
    await openBatch(app, 'W-2', [{ item: 'BULK', quantity: 500 }]);
    expect(await refused('/api/batches/W-2/weighings', { position: 1, lot, quantity: 500 })).toBe(
      '409 lot-not-released',
    );
    expect(await refused('/api/batches/W-2/rework', { lot, quantity: 500, why: 'x' })).toBe('409 not-set-aside');
    await bench.done(`/api/lots/${lot}/rework`, { why: 'only too weak' });
    expect(await refused(`/api/lots/${lot}/rework`, { why: 'again' })).toBe('409 already-so');
    // not as an ordinary line: what it is mended into says so
    expect(await refused('/api/batches/W-2/weighings', { position: 1, lot, quantity: 500 })).toBe(
      '409 lot-not-released',
    );
    expect(await refused('/api/batches/W-2/rework', { lot, quantity: 1001, why: 'x' })).toBe('409 not-enough');
    const view = await bench.done<BatchView>('/api/batches/W-2/rework', { lot, quantity: 600, why: 'a fifth of it' });
    expect(view.inputs.at(-1)).toMatchObject({ position: 2, item: 'BULK', reworkLot: lot, weighed: 600, done: true });
    const good = await made('W-3', 500);
    await release('W-3', { why: 'x' });
    await weigh('W-2', 1, good, 500);
    const { closing, lot: mended } = await finish('W-2', 1100);
    expect(closing).toMatchObject({ putInMg: 1100, lossMg: 0 });
    expect(await release('W-2', { why: 'x' })).toMatchObject({ lot: mended });
    expect(await bench.lot(lot)).toMatchObject({ status: 'rejected', onHand: 400 });
    // what is left of it goes to scrap
    await bench.done(`/api/lots/${lot}/scrap`, { quantity: 400, reason: 'no use for it' });
  });

  it('is mended in a batch of its own, with what is added to it', async () => {
    await weigh(pour, 1, 'ALC-1', 857_100);
    await weigh(pour, 2, 'CED-NEW', 42_900);
    const { lot } = await finish(pour, 900_000);
    await reject(pour, { why: 'hazy', forRework: true });
    expect(await refused('/api/lots/ALC-1/rework-batch', { why: 'x' })).toBe('409 not-set-aside');
    const additions = [{ item: 'ALCOHOL', quantity: '100 g' }];
    const batch = await bench.done<BatchView>(`/api/lots/${lot}/rework-batch`, { why: 'more alcohol', additions });
    expect(batch).toMatchObject({
      item: 'CEDAR-BULK',
      status: 'reserved',
      day: TODAY,
      readyOn: '2026-03-09',
      output: 1_000_000,
      inputs: [
        { item: 'CEDAR-BULK', quantity: 900_000, reworkLot: lot },
        { item: 'ALCOHOL', quantity: 100_000, reworkLot: null },
      ],
    });
    const other = await made('W-4');
    expect(await refused(`/api/batches/${batch.code}/weighings`, { position: 1, lot: other, quantity: 10 })).toBe(
      '409 other-item',
    );
    await weigh(batch.code, 1, lot, 900_000);
    await weigh(batch.code, 2, 'ALC-1', 100_000);
    const again = await finish(batch.code, 1_000_000);
    await bench.check(batch.code);
    await release(batch.code, { why: 'it rested before' });
    expect(await bench.lot(again.lot)).toMatchObject({ status: 'released', onHand: 1_000_000 });
    // the trace: made from the rejected lot, which was made from the first batch
    const came = await app.database.query<{ code: string }>(
      `select l.code from movement m join lot l on l.id = m.lot_id join batch b on b.id = m.batch_id
       where b.code = $1 and m.cause = 'consumption' order by l.id`,
      [batch.code],
    );
    expect(came.map(({ code }) => code)).toEqual(['ALC-1', lot]);
    expect(await bench.lot(lot)).toMatchObject({ onHand: 0, valueE4: 0 });
  });

  it('never goes into what it came of, not even past the service', async () => {
    const lot = await made('W-5');
    await app.database.query(
      `insert into batch_input (batch_id, position, item_id, step, need_on, quantity)
       select b.id, 9, i.id, 'pack', $1, 1 from batch b, item i where b.code = 'W-5' and i.code = 'BULK'`,
      [TODAY],
    );
    await release('W-5', { why: 'x', leaveOut: true });
    const loop = `insert into movement (lot_id, cause, quantity, done_on, batch_input_id, batch_id)
      select l.id, 'consumption', -1, '${TODAY}', bi.id, b.id from lot l, batch_input bi join batch b on b.id = bi.batch_id
      where l.code = $1 and b.code = 'W-5' and bi.position = 9`;
    await expect(app.database.query(loop, [lot])).rejects.toThrow(/made from the batch itself/);
    // nor through another batch
    await openBatch(app, 'W-6', [{ item: 'BULK', quantity: 100 }]);
    await weigh('W-6', 1, lot, 100);
    const later = (await finish('W-6', 100)).lot;
    await release('W-6', { why: 'x' });
    await expect(app.database.query(loop, [later])).rejects.toThrow(/made from the batch itself/);
  });

  it('of a body product that came back is never worked in', async () => {
    const lot = await receive('ALCOHOL', 100);
    await app.database.query(`update lot set never_release = true, status = 'held' where code = $1`, [lot]);
    await app.database.query(`update lot set status = 'rejected' where code = $1`, [lot]);
    expect(await refused(`/api/lots/${lot}/rework`, { why: 'x' })).toBe('409 wrong-state');
    expect(await refused('/api/lots/ALC-1/rework', { why: 'x' })).toBe('409 lot-not-released');
  });

  it('refuses bad input as a problem, whatever it is', async () => {
    const lot = await made('W-BAD');
    await reject('W-BAD', { forRework: true });
    await openBatch(app, 'W-BAD2', [{ item: 'ALCOHOL', quantity: 100 }]);
    const into = { lot, quantity: 1, why: 'x' };
    expect(await faultsOnBadInput(app, 'POST', '/api/batches/W-BAD2/rework', into)).toEqual([]);
    const own = {
      why: 'x',
      item: 'BULK',
      quantity: 1,
      output: 1,
      day: TODAY,
      additions: [{ item: 'CEDAR', quantity: 1 }],
    };
    expect(await faultsOnBadInput(app, 'POST', `/api/lots/${lot}/rework-batch`, own)).toEqual([]);
  });
});

describe('a label that goes on after the rest', () => {
  it('is taken while the batch rests, makes the lot worth more, and is asked for before the release', async () => {
    const labels = await receive('BOTTLE', 20, { costE4: 999 });
    await openBatch(app, 'L-1', [
      { item: 'ALCOHOL', quantity: 100 },
      { item: 'BOTTLE', quantity: 10, step: 'pack', needOn: '2026-03-09' },
    ]);
    await app.database.query(
      `update formula set rest_days = 7 where item_id = (select id from item where code = 'BULK')`,
    );
    expect((await weigh('L-1', 1, 'ALC-1', 100)).batch.status).toBe('weighed');
    const { lot } = await finish('L-1', 100);
    const before = (await bench.lot(lot)).valueE4;
    expect(await refused('/api/batches/L-1/weighings', { position: 1, lot: 'ALC-1', quantity: 1, further: true })).toBe(
      '409 wrong-state',
    );
    expect(await refused('/api/batches/L-1/release', { why: 'early' })).toBe('409 not-weighed');
    await weigh('L-1', 2, labels, 10);
    expect((await bench.lot(lot)).valueE4).toBe(before + 499);
    await release('L-1', { why: 'early' });
    expect(await bench.lot(lot)).toMatchObject({ status: 'released', valueE4: before + 499 });
    await app.database.query(
      `update formula set rest_days = 0 where item_id = (select id from item where code = 'BULK')`,
    );
  });
});
