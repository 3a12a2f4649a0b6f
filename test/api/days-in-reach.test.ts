import { beforeAll, describe, expect, it } from 'vitest';
import { Client } from 'pg';
import { DAYS, DAYS_BEFORE } from '../../migrations/0027-days.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import { useTestApp } from '../support/app.js';
import { shelfOf } from '../support/shelf.js';

const app = useTestApp();
const shelf = shelfOf(app);
beforeAll(() => shelf.item('BEAD'));

const BEYOND = ['0001-01-01', '1969-12-31', '2200-01-01', '9999-12-31'];

describe('a day beyond reach', () => {
  it.each(BEYOND)('is refused where a lot is taken in or dated: %s', async (day) => {
    const fault = async (rest: object) => {
      const answer = await shelf.post('/api/lots', { item: 'BEAD', quantity: 1, ...rest });
      return [answer.status, answer.body.errors?.[0]?.pointer];
    };
    expect(await fault({ expiresOn: day })).toEqual([422, '/expiresOn']);
    expect(await fault({ receivedOn: day })).toEqual([422, '/receivedOn']);
  });

  it('is refused where something is done with a lot', async () => {
    const lot = await shelf.receive('BEAD', 5);
    const answer = await shelf.post(`/api/lots/${lot}/retest`, {
      on: '0001-01-01',
      newDate: '9999-12-31',
      evidence: 'x',
    });
    expect([answer.status, answer.body.errors?.map(({ pointer }) => pointer)]).toEqual([
      422,
      expect.arrayContaining(['/on']),
    ]);
  });

  it.each([...BEYOND, 'infinity', '-infinity'])('is refused by the tables, whoever writes: %s', async (day) => {
    const [item] = await app.database.query<{ id: number }>(`select id from item where code = 'BEAD'`);
    const [row] = await app.database.query<{ id: number }>(
      `insert into lot (code, item_id, status, came_on) select 'EMPTY-' || count(*), $1, 'held', '2026-03-02' from lot
       returning id`,
      [item!.id],
    );
    const client = new Client({ connectionString: app.database.url });
    await client.connect();
    try {
      await client.query(`set lotwright.who = 'somebody'`);
      const came = `insert into lot (code, item_id, status, came_on, expires_on) values ('L-1', $1, 'held', $2, $3)`;
      const outside = { code: '23514' };
      await expect(client.query(came, [item!.id, day, null])).rejects.toMatchObject({
        ...outside,
        constraint: 'came_within_reach',
      });
      await expect(client.query(came, [item!.id, '2026-03-02', day])).rejects.toMatchObject({
        ...outside,
        constraint: 'expires_within_reach',
      });
      const done = `insert into movement (lot_id, cause, quantity, done_on) values ($1, 'receipt', 1, $2)`;
      await expect(client.query(done, [row!.id, day])).rejects.toMatchObject({
        ...outside,
        constraint: 'done_within_reach',
      });
    } finally {
      await client.end();
    }
  });

  it('is brought within where it was kept before, and no stock with it', async () => {
    await app.database.query(DAYS_BEFORE);
    const days: [string, string | null][] = [
      ['0001-01-01', '0001-06-01'],
      ['2026-03-01', 'infinity'],
      ['-infinity', null],
      ['2026-03-01', '9999-12-31'],
    ];
    for (const [at, [came, expires]] of days.entries())
      await app.database.query(
        `with l as (insert into lot (code, item_id, status, came_on, expires_on)
           select $1, id, 'held', $2, $3 from item where code = 'BEAD' returning id)
         select id from l`,
        [`OLD-${at}`, came, expires],
      );
    await app.database.query(
      `insert into movement (lot_id, cause, quantity, done_on) select id, 'receipt', 7, came_on from lot where code like 'OLD-%'`,
    );
    await app.database.query(DAYS);
    const today = new Date().toISOString().slice(0, 10);
    const kept: LotView[] = [];
    for (const at of days.keys()) kept.push(await shelf.lot(`OLD-${at}`));
    expect(kept.map(({ cameOn, expiresOn, onHand }) => [cameOn, expiresOn, onHand])).toEqual([
      [today, '1970-01-01', 7],
      ['2026-03-01', '2199-12-31', 7],
      [today, null, 7],
      ['2026-03-01', '2199-12-31', 7],
    ]);
    await expect(app.database.query('update movement set done_on = done_on - 1')).rejects.toMatchObject({
      code: 'LW007',
    });
  });
});
