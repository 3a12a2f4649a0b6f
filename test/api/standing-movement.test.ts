import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeEach, describe, expect, it } from 'vitest';
import { SnapshotService } from '../../src/planning/snapshot.service.js';
import { Database } from '../../src/platform/database.js';
import type { LotActed } from '../../src/stock/acts.schema.js';
import type { ErasurePreview } from '../../src/trace/erasure.schema.js';
import { ShelfService } from '../../src/planning/shelf.service.js';
import { TODAY, useTestApp } from '../support/app.js';
import { openSmallShop } from '../support/small-shop.js';

const api = useTestApp();
let isOpen = false;
beforeEach(async () => {
  if (!isOpen) await openSmallShop(api);
  isOpen = true;
});

async function done<Body>(url: string, body: unknown): Promise<Body> {
  const answer = await api.request<Body>('POST', url, body);
  expect(answer.status, answer.text).toBeLessThan(300);
  return answer.body;
}

const useOf = async (item: string) => {
  const { snapshot } = await api.app.get(Database).read((tx) => api.app.get(SnapshotService).take(tx, TODAY, TODAY));
  return snapshot.use.find((use) => use.item === item)?.per28Days;
};
const wantedOf = async (item: string) =>
  (await api.app.get(ShelfService).list({})).rows.find(({ code }) => code === item)!.wanted;

describe('an entry that was corrected never happened', () => {
  it('as own use: neither the plan nor the shelf counts it', async () => {
    await api.database.query(
      `insert into movement (lot_id, cause, quantity, done_on) select id, 'own-use', -20000, date '${TODAY}' - 60
       from lot where code = 'ALC-1'`,
    );
    await done('/api/lots/ALC-1/own-use', { quantity: '5 g', reason: 'the workshop smells of it' });
    const before = await useOf('ALCOHOL');
    expect(before).toBe(5000);
    const { movement } = await done<LotActed>('/api/lots/ALC-1/own-use', { quantity: '50 g', reason: 'a slip' });
    expect(await useOf('ALCOHOL')).toBe(55_000);
    expect(await wantedOf('ALCOHOL')).toBe(55_000);
    await done(`/api/movements/${movement}/correct`, { reason: 'typed wrong' });
    expect(await useOf('ALCOHOL')).toBe(before);
    expect(await wantedOf('ALCOHOL')).toBe(before);
  });

  it('as all that was ever used: there is no history to plan from', async () => {
    const [old] = await api.database.query<{ id: number }>(
      `insert into movement (lot_id, cause, quantity, done_on) select id, 'own-use', -2, date '${TODAY}' - 60
       from lot where code = 'BOT-1' returning id`,
    );
    await done('/api/lots/BOT-1/own-use', { quantity: 3, reason: 'broken glass to look at' });
    expect(await useOf('BOTTLE')).toBe(3);
    await done(`/api/movements/${old!.id}/correct`, { reason: 'of another workshop' });
    expect(await useOf('BOTTLE')).toBeUndefined();
  });

  it('as a shipment: they were sent nothing', async () => {
    await done('/api/lots', { item: 'CEDAR-100', code: 'CEDAR-1', quantity: 20, expiresOn: '2027-03-01' });
    const [order] = await api.database.query<{ customer: number }>(
      `select customer_id as customer from customer_order where number = '1001'`,
    );
    const sent = await done<{ lines: { movements: number[] }[] }>('/api/shipments', {
      channel: 'shop',
      number: '1001',
      lines: [{ code: 'CEDAR-100', lot: 'CEDAR-1', quantity: 2 }],
    });
    const lastShippedOn = async () => {
      const { body } = await api.request<{ customers: { id: number; lastShippedOn: string }[] }>(
        'GET',
        '/api/customers',
      );
      return body.customers.find(({ id }) => id === order!.customer)!.lastShippedOn;
    };
    expect(await lastShippedOn()).toBe(TODAY);
    const at = `/api/customers/${order!.customer}`;
    const look = async () => (await api.request<ErasurePreview>('GET', `${at}/erasure`)).body;
    const erased = async () =>
      api.request('POST', `${at}/erase`, { seen: (await look()).seen, why: 'they asked for it' });
    const wasSent = expect.stringContaining('Something was sent to them on');
    expect((await look()).refusals).toContainEqual(wasSent);
    expect(await erased()).toMatchObject({ status: 409 });
    await done(`/api/movements/${sent.lines[0]!.movements[0]}/correct`, { reason: 'never left the shelf' });
    expect(await lastShippedOn()).toBeNull();
    expect((await look()).refusals).not.toContainEqual(wasSent);
    await done('/api/orders/shop/1001/cancel', undefined);
    expect(await erased()).toMatchObject({ status: 200 });
  });
});

describe('what stands in the ledger', () => {
  it('is everything but corrections and what they correct', async () => {
    const rows = await api.database.query<{ id: number }>('select id from standing_movement order by id');
    const all = await api.database.query<{ id: number; cause: string; reverses_id: number | null }>(
      'select id, cause, reverses_id from movement order by id',
    );
    const reversed = new Set(all.map(({ reverses_id: id }) => id));
    const standing = all.filter(({ id, cause }) => cause !== 'correction' && !reversed.has(id));
    expect(all.length - standing.length).toBe(2 * all.filter(({ cause }) => cause === 'correction').length);
    expect(standing.length).toBeLessThan(all.length);
    expect(rows.map(({ id }) => id)).toEqual(standing.map(({ id }) => id));
  });

  it('is looked up like the ledger itself: by index, and without a step of its own', async () => {
    const plan = async (sql: string) => {
      const rows = await api.app.get(Database).read(async (tx) => {
        // of a few rows all are read, whatever indexes there are
        await tx.query('set local enable_seqscan = off');
        return tx.query<{ 'QUERY PLAN': string }[]>(`explain (costs off) ${sql}`);
      });
      return rows.map((row) => row['QUERY PLAN']).join('\n');
    };
    for (const [where, index] of [
      ['m.lot_id = 1 and m.done_on = current_date', 'movement_lot_id_done_on_idx'],
      ['m.batch_id = 1', 'movement_batch_id_idx'],
      ['m.order_line_id = 1', 'movement_order_line_id_idx'],
      [`m.lot_id = 1 and m.cause = 'consumption'`, 'movement_used'],
    ] as const) {
      const steps = await plan(`select sum(m.quantity) from standing_movement m where ${where}`);
      expect(steps).toContain('Anti Join');
      expect(steps).toMatch(new RegExp(`Scan (using|on) ${index}`));
      expect(steps).not.toMatch(/Subquery Scan|CTE|SubPlan|Seq Scan/);
    }
  });

  it('is said in one place', () => {
    const files = readdirSync('src', { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
      .map((entry) => join(entry.parentPath, entry.name));
    const anew = files.filter((file) => /not exists \(select[^()]*reverses_id/.test(readFileSync(file, 'utf8')));
    expect(files.length).toBeGreaterThan(100);
    expect(anew).toEqual([]);
  });
});
