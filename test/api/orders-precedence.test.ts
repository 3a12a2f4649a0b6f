import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Amendment, ImportReport } from '../../src/orders/import.schema.js';
import type { OrderPage, OrderView } from '../../src/orders/orders.schema.js';
import { useTestApp } from '../support/app.js';
import { csvOf, forgetOrders, importCsv, openShops } from '../support/orders.js';
import type { Refusal } from '../support/orders.js';

const shop = useTestApp();

beforeAll(() => openShops(shop));
beforeEach(async () => {
  await forgetOrders(shop);
  await shop.database.query('update channel set weight = 1');
});

type Answered = OrderView & { code?: string; detail?: string; errors?: { pointer: string; detail: string }[] };

const create = (number: string, rest: Record<string, unknown> = {}) =>
  shop.request<Answered>('POST', '/api/orders', {
    channel: 'wholesale',
    number,
    lines: [{ code: 'LINEN-100', quantity: 2 }],
    ...rest,
  });
const change = (number: string, body: unknown) =>
  shop.request<Answered>('PATCH', `/api/orders/wholesale/${number}`, body);
const precedence = async (number: string) => {
  const { weight, countsAs, urgent } = (await shop.request<OrderView>('GET', `/api/orders/wholesale/${number}`)).body;
  return { weight, countsAs, urgent };
};
const weigh = (code: string, weight: unknown) => shop.request<Answered>('PATCH', `/api/channels/${code}`, { weight });
const saidBy = async (number: string) =>
  (
    await shop.database.query<{ by: string | null; at: Date | null }>(
      'select precedence_by as by, precedence_at as at from customer_order where number = $1',
      [number],
    )
  )[0]!;

/** What is no weight: the sentence that says so names the field. */
const NO_WEIGHTS = [0, 101, -1, 1.5, '3', 1e9, true, {}].map((weight) => [weight]);
const SAID = 'must be a whole number from 1 to 100';

describe('what an order counts as', () => {
  it('is 1 and not urgent, unless said', async () => {
    const { body } = await create('1');
    expect(body).toMatchObject({ weight: null, countsAs: 1, urgent: false });
    expect(await precedence('1')).toEqual({ weight: null, countsAs: 1, urgent: false });
    expect(await saidBy('1')).toEqual({ by: null, at: null });
  });

  it('is said with the order, and read with it and in the list', async () => {
    const { status, body } = await create('1', { weight: 7, urgent: true });
    expect([status, body]).toMatchObject([201, { weight: 7, countsAs: 7, urgent: true }]);
    await create('2', { weight: null, urgent: false });
    const { orders } = (await shop.request<OrderPage>('GET', '/api/orders')).body;
    expect(orders).toMatchObject([
      { number: '2', weight: null, countsAs: 1, urgent: false },
      { number: '1', weight: 7, countsAs: 7, urgent: true },
    ]);
  });

  it('is what its channel counts as, until it is said by hand', async () => {
    await create('1');
    const { status, body } = await weigh('wholesale', 4);
    expect([status, body]).toEqual([
      200,
      {
        code: 'wholesale',
        name: 'Wholesale',
        promiseDays: 14,
        weight: 4,
        sends: 'lines',
      },
    ]);
    const { body: list } = await shop.request<{ channels: unknown[] }>('GET', '/api/channels');
    expect(list.channels).toContainEqual(body);
    expect(await precedence('1')).toEqual({ weight: null, countsAs: 4, urgent: false });
    expect((await create('2')).body.countsAs).toBe(4);
    expect((await change('1', { weight: 2 })).body).toMatchObject({ weight: 2, countsAs: 2 });
    await weigh('wholesale', 9);
    expect(await precedence('1')).toEqual({ weight: 2, countsAs: 2, urgent: false });
    expect((await change('1', { weight: null })).body).toMatchObject({ weight: null, countsAs: 9 });
  });

  it('is changed in part, and says who did', async () => {
    await create('1', { weight: 3 });
    expect((await change('1', { urgent: true })).body).toMatchObject({ weight: 3, urgent: true });
    expect((await change('1', { weight: 100 })).body).toMatchObject({ weight: 100, urgent: true });
    await shop.request('PATCH', '/api/orders/wholesale/1', { urgent: false }, { 'Lotwright-Person': 'Ada' });
    expect(await precedence('1')).toEqual({ weight: 100, countsAs: 100, urgent: false });
    expect(await saidBy('1')).toEqual({ by: 'Ada', at: expect.any(Date) });
  });

  it('tells whoever looks for notices that something is otherwise', async () => {
    await create('1');
    const isNoted = async (act: () => Promise<unknown>) => {
      await shop.database.query('delete from change');
      await act();
      return (await shop.database.query('select from change')).length > 0;
    };
    expect(await isNoted(() => change('1', { urgent: true }))).toBe(true);
    expect(await isNoted(() => weigh('wholesale', 2))).toBe(true);
  });

  it.each(NO_WEIGHTS)('is no %j', async (weight) => {
    await create('1', { weight: 5 });
    for (const refused of [
      await create('2', { weight }),
      await change('1', { weight }),
      await weigh('market', weight),
    ]) {
      expect([refused.status, refused.body.detail]).toEqual([422, `/weight: ${SAID}`]);
      expect(refused.body.errors).toMatchObject([{ pointer: '/weight', detail: SAID }]);
    }
    expect(await precedence('1')).toEqual({ weight: 5, countsAs: 5, urgent: false });
    expect((await shop.request('GET', '/api/orders/wholesale/2')).status).toBe(404);
  });

  it.each(['yes', 1, null, 'true'])('is not urgent by %j', async (urgent) => {
    await create('1');
    for (const refused of [await create('2', { urgent }), await change('1', { urgent })])
      expect([refused.status, refused.body.detail]).toEqual([
        422,
        expect.stringMatching(/^\/urgent: expected boolean/),
      ]);
    expect(await saidBy('1')).toEqual({ by: null, at: null });
  });

  it('is not changed by nothing, of no order, in no channel, or once nothing is open', async () => {
    await create('1');
    const nothing = await change('1', {});
    expect([nothing.status, nothing.body.detail]).toEqual([422, 'The body: says nothing to change']);
    expect((await change('none', { urgent: true })).status).toBe(404);
    const nowhere = await weigh('nowhere', 2);
    expect([nowhere.status, nowhere.body.detail]).toEqual([404, 'There is no channel nowhere.']);
    await shop.request('POST', '/api/orders/wholesale/1/cancel');
    const closed = await change('1', { urgent: true });
    expect([closed.status, closed.body.code, closed.body.detail]).toEqual([
      409,
      'wrong-state',
      'Order 1 is cancelled, so nothing of it is planned.',
    ]);
  });

  it('is refused by the database too', async () => {
    await create('1');
    for (const weight of [0, 101])
      for (const table of ['channel', 'customer_order'])
        await expect(shop.database.query(`update ${table} set weight = ${weight}`)).rejects.toThrow('check constraint');
  });
});

describe('a column of an order file', () => {
  const rows = (...cells: [number: string, urgent: string, counts: string][]) =>
    csvOf([
      ['order', 'code', 'quantity', 'placed', 'Urgent?', 'Counts as'],
      ...cells.map(([number, ...rest]) => [number, 'LINEN-100', '1', '2026-03-01', ...rest]),
    ]);
  const take = <Body = ImportReport>(csv: string, query: Record<string, string | string[]> = {}) =>
    importCsv<Body>(shop, csv, { channel: 'wholesale', ...query });
  const changesOf = ({ amendments }: ImportReport) =>
    amendments.map(({ number, changes }): [string, Amendment['changes']] => [number, changes]);

  it('says it of each order, and blank leaves it unsaid', async () => {
    await weigh('wholesale', 6);
    const { status, body } = await take(
      rows(['1', 'yes', '3'], ['2', 'No', ''], ['3', '', '100.0'], ['4', 'URGENT', '1']),
    );
    expect([status, body.file.columns, body.file.unread]).toMatchObject([
      200,
      { urgent: 'Urgent?', weight: 'Counts as' },
      [],
    ]);
    expect(await precedence('1')).toEqual({ weight: 3, countsAs: 3, urgent: true });
    expect(await precedence('2')).toEqual({ weight: null, countsAs: 6, urgent: false });
    expect(await precedence('3')).toEqual({ weight: 100, countsAs: 100, urgent: false });
    expect(await precedence('4')).toEqual({ weight: 1, countsAs: 1, urgent: true });
    expect(await saidBy('1')).toEqual({ by: null, at: null });
  });

  it('may be said in any row of an order: urgent if one says so, and the most that one says', async () => {
    await take(rows(['1', '', '2'], ['1', 'yes', ''], ['1', 'no', '5']));
    expect(await precedence('1')).toEqual({ weight: 5, countsAs: 5, urgent: true });
  });

  it('called weight is what a parcel weighs, unless it is said otherwise', async () => {
    const csv = csvOf([
      ['order', 'code', 'quantity', 'placed', 'Weight', 'Express'],
      ['1', 'LINEN-100', '1', '2026-03-01', '12', 'y'],
    ]);
    expect((await take(csv)).body.file.unread).toEqual(['Weight', 'Express']);
    expect(await precedence('1')).toEqual({ weight: null, countsAs: 1, urgent: false });
    await take(csv, { map: ['weight:Weight', 'urgent:Express'] });
    expect(await precedence('1')).toEqual({ weight: 12, countsAs: 12, urgent: true });
  });

  it('that says otherwise later is a change that is shown', async () => {
    await take(rows(['1', '', ''], ['2', 'yes', '2'], ['3', 'yes', '2']));
    const later = rows(['1', 'yes', '4'], ['2', 'no', ''], ['3', '', '']);
    const seen = (await take(later, { preview: 'true' })).body;
    expect(seen.rows).toMatchObject({ known: 1, amended: 2, new: 0 });
    expect(changesOf(seen)).toEqual([
      [
        '1',
        expect.arrayContaining([
          { field: 'weight', from: null, to: '4' },
          { field: 'urgent', from: 'no', to: 'yes' },
        ]),
      ],
      ['2', [{ field: 'urgent', from: 'yes', to: 'no' }]],
    ]);
    expect(await precedence('1')).toEqual({ weight: null, countsAs: 1, urgent: false });
    await take(later);
    expect(await precedence('1')).toEqual({ weight: 4, countsAs: 4, urgent: true });
    expect(await precedence('2')).toEqual({ weight: 2, countsAs: 2, urgent: false });
    expect(await precedence('3')).toEqual({ weight: 2, countsAs: 2, urgent: true });
    expect((await take(later)).body.rows).toMatchObject({ known: 3, amended: 0 });
  });

  it('does not change what was said by hand', async () => {
    await take(rows(['1', 'no', '2'], ['2', 'no', '2']));
    await change('1', { urgent: true });
    await create('3', { weight: 8 });
    const { body } = await take(rows(['1', 'no', '3'], ['2', 'yes', '3'], ['3', 'yes', '1']));
    expect(changesOf(body).map(([number]) => number)).not.toContain('1');
    expect(await precedence('1')).toEqual({ weight: 2, countsAs: 2, urgent: true });
    expect(await precedence('2')).toEqual({ weight: 3, countsAs: 3, urgent: true });
    expect(await precedence('3')).toEqual({ weight: 8, countsAs: 8, urgent: false });
  });

  it.each([
    ['maybe', '', 'Urgent?', '"maybe" is neither yes nor no: write one of them, or leave it blank.'],
    ['cancelled', '', 'Urgent?', '"cancelled" is neither yes nor no: write one of them, or leave it blank.'],
    ['2', '', 'Urgent?', '"2" is neither yes nor no: write one of them, or leave it blank.'],
    ...['0', '101', '1.5', '-3', 'many', '1e2', '0x10', '9'.repeat(30)].map(
      (text): [string, string, string, string] => [
        '',
        text,
        'Counts as',
        `"${text}" is not a whole number from 1 to 100.`,
      ],
    ),
  ])('that holds %j and %j is refused by its row', async (urgent, counts, column, detail) => {
    const { status, body } = await take<Refusal>(rows(['1', 'yes', '1'], ['2', urgent, counts]));
    expect(status).toBe(422);
    expect(body.report.problems).toMatchObject([{ line: 3, column, detail }]);
    expect((await shop.request('GET', '/api/orders/wholesale/1')).status).toBe(404);
  });
});
