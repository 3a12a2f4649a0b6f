import { beforeAll, describe, expect, it } from 'vitest';
import type { Corrected, Revalued, Split } from '../../src/stock/acts.schema.js';
import { TODAY, useTestApp } from '../support/app.js';
import { faultsOnBadInput } from '../support/bad-input.js';
import { idOf, orderLine, reserve } from '../support/promises.js';
import { shelfOf } from '../support/shelf.js';

const app = useTestApp();
const { done, item, lot, moveIds, moves, receive, refused } = shelfOf(app);

const correct = (id: number) => done<Corrected>(`/api/movements/${id}/correct`, { reason: 'typed wrong' });
const refuseCorrect = (id: number) => refused(`/api/movements/${id}/correct`, { reason: 'typed wrong' });
const revalue = (code: string, amountE4: number) =>
  done<Revalued>(`/api/lots/${code}/revaluation`, { amountE4, reason: 'freight' });

beforeAll(async () => {
  await item('BOTTLE');
});

describe('POST /api/movements/{id}/correct', () => {
  it('puts back exactly what an entry took, once, on the day it bears', async () => {
    const code = await receive('BOTTLE', 7, { costE4: 100, receivedOn: '2026-02-20' });
    await done(`/api/lots/${code}/scrap`, { quantity: 3, reason: 'broken', on: '2026-02-25' });
    expect(await lot(code)).toMatchObject({ onHand: 4, valueE4: 58 });
    const [, scrap] = await moveIds(code);
    const { corrections, freed } = await correct(scrap!);
    expect(freed).toEqual([]);
    expect(corrections).toEqual([
      { id: expect.any(Number), reverses: scrap, lot: code, quantity: 3, valueE4: 42, doneOn: '2026-02-25' },
    ]);
    expect(await lot(code)).toMatchObject({ onHand: 7, valueE4: 100 });
    expect(await refuseCorrect(scrap!)).toBe('409 already-corrected');
    expect(await refuseCorrect(corrections[0]!.id)).toBe('409 not-corrected');
    expect(await refuseCorrect(999_999)).toBe('404 not-found');
    expect(await refused(`/api/movements/${scrap}/correct`, {})).toBe('422 invalid');
  });

  it('reverses one entry once, though two ask at once', async () => {
    const code = await receive('BOTTLE', 7);
    await done(`/api/lots/${code}/scrap`, { quantity: 3, reason: 'x' });
    const [, scrap] = await moveIds(code);
    const both = await Promise.all([1, 2].map(() => refuseCorrect(scrap!)));
    expect(both.toSorted()).toEqual(['201 undefined', '409 already-corrected']);
    expect(await lot(code)).toMatchObject({ onHand: 7 });
  });

  it('frees what a receipt that never was is promised to', async () => {
    const code = await receive('BOTTLE', 10, { costE4: 100 });
    const lotId = await idOf(app, 'lot', code);
    const orderLineId = await orderLine(app, 'BOTTLE', 4, '2026-03-10');
    await reserve(app, [{ lotId, orderLineId, quantity: 4, needOn: '2026-03-10' }]);
    const { freed } = await correct((await moveIds(code))[0]!);
    expect(freed).toEqual([expect.objectContaining({ item: 'BOTTLE', quantity: 4, needOn: '2026-03-10' })]);
    expect(await lot(code)).toMatchObject({ onHand: 0, reserved: 0, valueE4: 0 });
  });

  it('refuses what the balance no longer allows, in quantity or in value', async () => {
    const code = await receive('BOTTLE', 10, { costE4: 100 });
    const [receipt] = await moveIds(code);
    await done(`/api/lots/${code}/scrap`, { quantity: 1, reason: 'x' });
    expect(await refuseCorrect(receipt!)).toBe('409 not-enough');
    await done('/api/counts', { reason: 'x', lots: [{ lot: code, counted: 12 }] });
    // 12 on hand are worth 90, and the receipt brought 100
    expect(await refuseCorrect(receipt!)).toBe('409 correction-mismatch');
    const more = await receive('BOTTLE', 5, { costE4: 100 });
    await revalue(more, 50);
    // taken back alone, the lot would be empty and worth 50
    expect(await refuseCorrect((await moveIds(more))[0]!)).toBe('409 correction-mismatch');
    expect(await refuseCorrect((await moveIds(more))[1]!)).toBe('409 not-corrected');
    await revalue(more, -50);
    await correct((await moveIds(more))[0]!);
    expect(await lot(more)).toMatchObject({ onHand: 0, valueE4: 0 });
  });

  it('takes both sides of a split back, or neither', async () => {
    const code = await receive('BOTTLE', 7, { costE4: 100 });
    const split = (quantity: number) =>
      done<Split>(`/api/lots/${code}/split`, { quantity, place: 'fair', reason: 'x' });
    const { part } = await split(3);
    const { corrections } = await correct((await moveIds(code))[1]!);
    expect(corrections.map(({ lot: of, quantity, valueE4 }) => [of, quantity, valueE4])).toEqual([
      [part.code, -3, -42],
      [code, 3, 42],
    ]);
    expect(await lot(part.code)).toMatchObject({ onHand: 0, valueE4: 0 });
    expect(await lot(code)).toMatchObject({ onHand: 7, valueE4: 100 });
    const second = await split(3);
    await done(`/api/lots/${second.part.code}/scrap`, { quantity: 1, reason: 'x' });
    for (const id of [(await moveIds(second.part.code))[0]!, (await moveIds(code)).at(-1)!])
      expect(await refuseCorrect(id)).toBe('409 not-enough');
    expect(await lot(code)).toMatchObject({ onHand: 4, valueE4: 58 });
  });

  it('gives a delivery back what was received of it by mistake', async () => {
    await done('/api/suppliers', { code: 'NORTH', name: 'North' });
    await done('/api/deliveries', {
      code: 'D-1',
      supplier: 'NORTH',
      expectedOn: TODAY,
      lines: [{ item: 'BOTTLE', quantity: 10 }],
    });
    const body = { restStillComes: true, lines: [{ line: 1, lots: [{ quantity: 6 }] }] };
    const { lots } = await done<{ lots: { lot: string }[] }>('/api/deliveries/D-1/receive', body);
    const received = () => app.database.query('select received from delivery_line');
    expect(await received()).toEqual([{ received: 6 }]);
    await correct((await moveIds(lots[0]!.lot))[0]!);
    expect(await received()).toEqual([{ received: 0 }]);
  });
});

describe('POST /api/lots/{code}/revaluation', () => {
  it('adds the part of what is still there, in the lot and in its parts, and keeps the rest as a difference', async () => {
    const code = await receive('BOTTLE', 9, { costE4: 900 });
    const { part } = await done<Split>(`/api/lots/${code}/split`, { quantity: 2, place: 'fair', reason: 'x' });
    await done(`/api/lots/${code}/scrap`, { quantity: 4, reason: 'x' });
    expect(await lot(code)).toMatchObject({ onHand: 3, valueE4: 300 });
    // of 9 that came, 3 are in the lot and 2 in its part: floor(1000 * 3 / 9) = 333, floor(1000 * 5 / 9) = 555
    expect(await revalue(code, 1000)).toEqual({
      amountE4: 1000,
      lots: [
        { lot: code, addedE4: 333, valueE4: 633 },
        { lot: part.code, addedE4: 222, valueE4: 422 },
      ],
      differenceE4: 445,
    });
    expect(await moves(part.code)).toEqual([
      ['split', 2, 200],
      ['revaluation', 0, 222],
    ]);
    expect(await revalue(code, -1000)).toMatchObject({ differenceE4: -445 });
    expect(await lot(code)).toMatchObject({ onHand: 3, valueE4: 300 });
    const rows = await app.database.query(
      `select p.stated_e4, p.added_e4, p.difference_e4, p.reason, p.created_by from price_difference p join lot l on l.id = p.lot_id
       where l.code = $1 order by p.id`,
      [code],
    );
    const by = { reason: 'freight', created_by: 'workshop' };
    expect(rows).toEqual([
      { stated_e4: 1000, added_e4: 555, difference_e4: 445, ...by },
      { stated_e4: -1000, added_e4: -555, difference_e4: -445, ...by },
    ]);
    await expect(app.database.query('delete from price_difference')).rejects.toThrow(/only added to/);
  });

  it('adds all of it where all is there, nothing where nothing is, and nothing to what a count found', async () => {
    const all = await receive('BOTTLE', 3, { costE4: 10 });
    expect(await revalue(all, 100)).toMatchObject({ differenceE4: 0, lots: [{ valueE4: 110 }] });
    await done('/api/counts', { reason: 'x', lots: [{ lot: all, counted: 5 }] });
    expect(await revalue(all, 100)).toMatchObject({ differenceE4: 0, lots: [{ valueE4: 210 }] });
    await done('/api/counts', { reason: 'x', lots: [{ lot: all, counted: 0 }] });
    expect(await revalue(all, 100)).toEqual({ amountE4: 100, lots: [], differenceE4: 100 });
    expect(await lot(all)).toMatchObject({ onHand: 0, valueE4: 0 });
  });

  it('never takes off more than a lot is worth', async () => {
    const code = await receive('BOTTLE', 3, { costE4: 10 });
    const url = `/api/lots/${code}/revaluation`;
    expect(await refused(url, { amountE4: -11, reason: 'credit' })).toBe('409 worth-less');
    expect(await revalue(code, -10)).toMatchObject({ differenceE4: 0, lots: [{ valueE4: 0 }] });
    expect(await refused(url, { amountE4: 0, reason: 'x' })).toBe('422 invalid');
    expect(await refused(url, { amountE4: 5 })).toBe('422 invalid');
    expect(await refused(url, { amountE4: 5, reason: 'x', on: '2026-03-03' })).toBe('422 invalid');
    expect(await refused('/api/lots/NOBODY/revaluation', { amountE4: 5, reason: 'x' })).toBe('404 not-found');
  });
});

describe('bad input', () => {
  it('is refused as a problem, whatever it is', async () => {
    const code = await receive('BOTTLE', 3, { costE4: 10 });
    const [id] = await moveIds(code);
    const at = `/api/lots/${code}/revaluation`;
    expect(await faultsOnBadInput(app, 'POST', at, { amountE4: 5, reason: 'r', on: TODAY })).toEqual([]);
    expect(await faultsOnBadInput(app, 'POST', `/api/movements/${id}/correct`, { reason: 'r' })).toEqual([]);
  });
});
