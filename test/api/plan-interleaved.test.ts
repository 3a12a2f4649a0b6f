import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Committed, RunView } from '../../src/planning/planning.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { type Other, otherConnection } from '../support/interleaved.js';
import { openSmallShop } from '../support/small-shop.js';

let app: TestApp;
let other: Other;

beforeEach(async () => {
  app = await startTestApp();
  await openSmallShop(app);
  other = await otherConnection(app);
});

afterEach(async () => {
  await other.end();
  await app.close();
});

const draft = async (weekStart: string): Promise<RunView> => {
  const answer = await app.request<RunView>('POST', '/api/runs', { weekStart });
  expect(answer.status, answer.text).toBe(201);
  return answer.body;
};
const commit = (id: number) => app.request<Committed & { code?: string }>('POST', `/api/runs/${id}/commit`);

describe('an order that changes while a plan is committed', () => {
  /** What the customer takes back of the ten that were ordered. */
  const CANCELLED = 'update order_line set cancelled = cancelled + 4';
  const promised = () =>
    app.database.query<{ open: number }>('select open from reservation where order_line_id is not null and open > 0');

  beforeEach(async () => {
    const made = { item: 'CEDAR-100', code: 'CED-100-1', quantity: 10, expiresOn: '2026-12-31' };
    const { status, text } = await app.request('POST', '/api/lots', made);
    if (status !== 201) throw new Error(text);
  });

  it('is never promised more than it still wants', async () => {
    const run = await draft('2026-03-16');
    const answer = await other.meeting(CANCELLED, [], () => commit(run.id));
    expect(answer).toMatchObject({ status: 409, body: { code: 'stale' } });
    expect(await promised()).toEqual([]);
  });

  it('has what it wants where the change is given up', async () => {
    const run = await draft('2026-03-16');
    expect((await other.meeting(CANCELLED, [], () => commit(run.id), 'rollback')).status).toBe(200);
    expect(await promised()).toEqual([{ open: 10 }]);
  });
});

describe('the codes of batches', () => {
  /** Somebody makes the day's first batch, holding what every act holds that gives one a code. */
  const MADE = `
    with held as (select pg_advisory_xact_lock(hashtext('lotwright.batch-code'), hashtext('B26071-'))), made as (
      insert into batch (code, formula_id, item_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
      select 'B26071-01', f.id, i.id, 'planned', '2026-03-12', '2026-03-19', '2026-03-19', 1000, 1000, 0
      from item i join formula f on f.item_id = i.id cross join held where i.code = 'CEDAR-BULK' returning id, output)
    insert into peg (batch_id, position, quantity) select id, 1, output from made`;
  const codes = async (answer: Awaited<ReturnType<typeof commit>>) => answer.body.batches.map(({ code }) => code);

  it('go on after the one another act has just given', async () => {
    const run = await draft('2026-03-09');
    const answer = await other.meeting(MADE, [], () => commit(run.id));
    expect(answer.status, answer.text).toBe(200);
    expect(await codes(answer)).toEqual(['B26071-02']);
  });

  it('leave no gap where the other act came to nothing', async () => {
    const run = await draft('2026-03-09');
    expect(await codes(await other.meeting(MADE, [], () => commit(run.id), 'rollback'))).toEqual(['B26071-01']);
  });
});
