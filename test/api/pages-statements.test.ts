import { Client } from 'pg';
import { beforeAll, describe, expect, it } from 'vitest';
import { DemoService } from '../../src/demo/demo.service.js';
import { useTestApp } from '../support/app.js';

const TODAY = '2026-11-25';
const app = useTestApp({ today: TODAY });
const PAGES = [
  // the first look at the jobs writes down that there is a queue, after which what pages remember is read anew
  '/reminders/settings',
  '/week/2026-11-30',
  '/orders',
  '/bench',
  '/bench/settings',
  '/orders?only=late',
  '/orders/webshop/GROWN',
  '/orders/new',
  '/find?q=fig',
  '/shelf',
  '/shelf/items/FO-CEDAR',
  '/formulas',
  '/reorder',
  '/purchase-orders',
  '/purchase-orders/PO26-0001',
  '/pick',
  '/labels/26307-001',
  '/suppliers',
  '/fairs',
  '/why/bench/2026-11-30',
  '/why/need/1/FO-CEDAR',
  '/why/reorder/FO-CEDAR',
  '/complaints',
  '/recalls',
  '/trace/26307-001',
  '/reminders',
  '/start',
];

/** More of everything a page lists: orders, lines of one order, lots, items, channels. */
const GROW = `
  insert into channel (code, name) select 'channel-' || n, 'Channel ' || n from generate_series(1, 40) n;
  insert into item (code, name, kind, measure) select 'FIG-' || n, 'Fig ' || n, 'material', 'weighed' from generate_series(1, 60) n;
  insert into customer_order (channel, number, placed_on, status)
    select 'webshop', 'G-' || n, date '${TODAY}', 'confirmed' from generate_series(1, 200) n;
  insert into order_line (order_id, shop_code, item_id, quantity, ship_by)
    select o.id, i.code, i.id, 1, date '${TODAY}' + 20 from customer_order o, item i
    where i.kind = 'product' and (o.number = 'GROWN' or (o.number like 'G-%' and i.code like 'SP-%'))
    on conflict do nothing;
  insert into lot (code, item_id, status, came_on)
    select 'G-' || n, (select id from item where code = 'FO-CEDAR'), 'released', date '${TODAY}' from generate_series(1, 60) n;
  insert into purchase_order (code, supplier_id)
    select 'G-' || n, supplier_id from purchase_order, generate_series(1, 40) n where code = 'PO26-0001';
  insert into purchase_line (purchase_order_id, position, pack_id, packs, price_e4)
    select o.id, 1, l.pack_id, 1, 1 from purchase_order o, purchase_line l where o.code like 'G-%' and l.position = 1;
  insert into movement (lot_id, cause, quantity, value_e4, done_on)
    select id, 'receipt', 1000, 10, came_on from lot where code like 'G-%'`;

let sent = 0;
beforeAll(async () => {
  const send = Client.prototype.query as (...args: unknown[]) => unknown;
  Client.prototype.query = function (this: Client, ...args: unknown[]): unknown {
    sent++;
    return send.apply(this, args);
  } as typeof Client.prototype.query;
  await app.app.get(DemoService).load(TODAY, 'demo');
  await app.request('POST', '/api/orders', {
    channel: 'webshop',
    number: 'GROWN',
    lines: [{ code: 'SP-FIG-100', quantity: 1 }],
  });
  await app.request('POST', '/api/reorder/drafts', { supplier: 'BRINDLE' });
  await app.request('POST', '/api/purchase-orders/PO26-0001/send', { sentBy: 'web' });
  await app.request('POST', '/api/purchase-orders/PO26-0001/confirm', { expectedOn: '2026-12-01' });
  return () => void (Client.prototype.query = send as typeof Client.prototype.query);
});

async function statements(): Promise<Record<string, number>> {
  const made: Record<string, number> = {};
  for (const page of PAGES) {
    // what is kept of a moment is read anew once any transaction of the server ended: here, each time
    await app.database.query('select pg_current_xact_id()');
    const before = sent;
    const answer = await app.request('GET', page, undefined, { accept: 'text/html' });
    expect(answer.status, page).toBe(200);
    made[page] = sent - before;
  }
  return made;
}

describe('a page', () => {
  it('asks the database no more often, however much it shows', async () => {
    await app.request('POST', '/api/runs', {});
    // of a new plan the first look reads what is then kept
    await statements();
    const few = await statements();
    await app.database.query(GROW);
    await app.request('POST', '/api/runs', {});
    await statements();
    expect(await statements()).toEqual(few);
    expect(Math.max(...Object.values(few))).toBeLessThan(40);
  });
});
