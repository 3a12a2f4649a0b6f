import { Client } from 'pg';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { DemoService } from '../../src/demo/demo.service.js';
import { Problem } from '../../src/platform/problem.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { openSmallShop } from '../support/small-shop.js';

const TODAY = '2026-11-25';
/** What belongs to the schema and not to a workshop. */
const KEPT = ['migrations', 'transition', 'database_function', 'served_by'];

let app: TestApp;
const demo = () => app.app.get(DemoService);
beforeEach(async () => void (app = await startTestApp({ today: TODAY })));
afterEach(() => app.close());

const tables = async (): Promise<string[]> => {
  const rows = await app.database.query<{ name: string }>(
    `select relname as name from pg_class where relnamespace = 'public'::regnamespace and relkind in ('r', 'p') order by 1`,
  );
  return rows.map(({ name }) => name).filter((name) => !KEPT.includes(name));
};
const filled = async (): Promise<Record<string, number>> => {
  const counts: Record<string, number> = {};
  for (const table of await tables()) {
    const [row] = await app.database.query<{ rows: number }>(`select count(*) as rows from ${table}`);
    if (row!.rows > 0) counts[table] = row!.rows;
  }
  return counts;
};

/** Runs SQL as the role the application serves as; answers the SQLSTATE of a refusal. */
async function asApplication(sql: string): Promise<string | undefined> {
  const client = new Client({ connectionString: app.database.url });
  await client.connect();
  try {
    await client.query(`set lotwright.who = 'somebody'`);
    await client.query(sql);
    return undefined;
  } catch (error) {
    return (error as { code: string }).code;
  } finally {
    await client.end();
  }
}

async function useDemo(): Promise<void> {
  await demo().load(TODAY, 'demo');
  const run = await app.request<{ id: number }>('POST', '/api/runs', {});
  expect((await app.request('POST', `/api/runs/${run.body.id}/commit`)).status).toBe(200);
  const csv = 'order,sku,qty,date\nX-1,SP-FIG-100,2,2026-11-20\n';
  const imported = await app.request('POST', '/api/orders/import?channel=webshop', csv, { 'content-type': 'text/csv' });
  expect(imported.status, imported.text).toBe(200);
}

describe('the demonstration', () => {
  it('is taken away whole, with all that was done in it, and does not come back by itself', async () => {
    await useDemo();
    expect(Object.keys(await filled())).toEqual(
      expect.arrayContaining(['movement', 'reservation', 'batch', 'idempotency']),
    );
    await demo().remove('a person');
    expect(await filled()).toEqual({ workshop: 1 });
    const workshop = await app.request('GET', '/api/workshop');
    expect(workshop.body).toMatchObject({ name: 'Workshop', isDemo: false });
    expect(await demo().load(TODAY, 'start')).toBe(false);
  });

  it('knows every table there is', async () => {
    const [row] = await app.database.query<{ names: string[] }>(
      `select array(select unnest(demo_tables())::text order by 1) as names`,
    );
    expect(row!.names).toEqual(await tables());
  });

  it('leaves every guard on', async () => {
    await useDemo();
    await demo().remove('a person');
    const off = await app.database.query(`select tgrelid::regclass, tgname from pg_trigger where tgenabled <> 'O'`);
    expect(off).toEqual([]);
    await expect(app.database.query('truncate movement cascade')).rejects.toMatchObject({ code: 'LW007' });
  });

  it('can be asked for again, and removed again', async () => {
    await useDemo();
    await demo().remove('a person');
    await demo().loadAsked(TODAY, 'a person');
    expect((await app.request('GET', '/api/workshop')).body).toMatchObject({ isDemo: true });
    await demo().remove('a person');
    expect(await filled()).toEqual({ workshop: 1 });
  });

  it('keeps its mark when its settings change', async () => {
    await demo().load(TODAY, 'demo');
    const { body } = await app.request('GET', '/api/workshop');
    const { isDemo: _, ...settings } = body;
    const put = await app.request('PUT', '/api/workshop', { ...settings, name: 'Renamed' });
    expect(put.status, put.text).toBe(200);
    expect(put.body).toMatchObject({ name: 'Renamed', isDemo: true });
    await demo().remove('a person');
  });
});

describe('a real workshop', () => {
  beforeEach(() => openSmallShop(app));

  it('is never taken away', async () => {
    const before = await filled();
    await expect(demo().remove('a person')).rejects.toMatchObject({ code: 'LW008' });
    await expect(demo().loadAsked(TODAY, 'a person')).rejects.toThrow(Problem);
    expect(await demo().load(TODAY, 'start')).toBe(false);
    expect(await filled()).toEqual(before);
  });

  it.each([
    ['a mark on a new row', `insert into workshop (name, is_demo) values ('W', true)`, 'LW008'],
    ['a mark set later', `insert into workshop (name) values ('W'); update workshop set is_demo = true`, 'LW008'],
    [
      'a row thrown away and written anew',
      `delete from workshop; insert into workshop (name, is_demo) values ('W', true)`,
      'LW008',
    ],
    ['the act itself', 'select remove_demo()', 'LW008'],
    ['emptying a table', 'truncate movement', '42501'],
    ['a guard switched off', 'alter table movement disable trigger no_truncate', '42501'],
  ])('is not opened to it by %s', async (_, sql, state) => {
    expect(await asApplication(sql)).toBe(state);
  });
});
