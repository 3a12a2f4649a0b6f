import { beforeAll, describe, expect, it } from 'vitest';
import type { History, Retested } from '../../src/stock/acts.schema.js';
import { useTestApp } from '../support/app.js';
import { shelfOf } from '../support/shelf.js';
import { idOf, orderLine, reserve } from '../support/promises.js';

const app = useTestApp();
const { done, get, item, receive, refused } = shelfOf(app);

beforeAll(() => item('BOTTLE'));

describe('POST /api/lots/{code}/date', () => {
  it('puts right a date that was written down wrongly, of whatever kind', async () => {
    const code = await receive('BOTTLE', 9, { expiresOn: '2026-08-30' });
    const lotId = await idOf(app, 'lot', code);
    const needOn = '2026-05-02';
    await reserve(app, [{ lotId, orderLineId: await orderLine(app, 'BOTTLE', 3, needOn), quantity: 3, needOn }]);
    const right = (expiresOn: string | null) =>
      done<Retested>(`/api/lots/${code}/date`, { expiresOn, reason: 'read again' });
    expect(await right(null)).toMatchObject({ expiresOn: null, fromDate: '2026-08-30', freed: [] });
    const shorter = await right('2026-05-01');
    expect(shorter).toMatchObject({ expiresOn: '2026-05-01', fromDate: null, reserved: 0 });
    expect(shorter.freed).toEqual([expect.objectContaining({ item: 'BOTTLE', quantity: 3, needOn })]);
    expect(await refused(`/api/lots/${code}/date`, { expiresOn: '2026-05-01', reason: 'x' })).toBe('409 already-so');
    const { entries } = await get<History>(`/api/lots/${code}/history`);
    expect(entries.filter(({ kind }) => kind === 'date').map(({ from, to }) => [from, to])).toEqual([
      ['2026-08-30', null],
      [null, '2026-05-01'],
    ]);
  });
});
