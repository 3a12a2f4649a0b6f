import { expect } from 'vitest';
import type { CustomerList } from '../../src/trace/contacts.schema.js';
import type { HoldEffects, Lifted, RecallListView, RecallView } from '../../src/trace/recall.schema.js';
import type { TestApp } from './app.js';
import { closeOrdersOf, eraseCustomer } from './erasing.js';
import { shelfOf } from './shelf.js';

/** A recall of something that was sent, held, answered and lifted again; a drill; a customer nobody sent anything, erased. */
export async function recallOnce(app: TestApp): Promise<void> {
  const shelf = shelfOf(app);
  const [sent] = await app.database.query<{ lot: string }>(
    `select l.code as lot from movement m join lot l on l.id = m.lot_id where m.cause = 'shipment' and l.status = 'released'
       and l.on_hand > 0 order by m.id limit 1`,
  );
  const { code } = await shelf.done<RecallView>('/api/recalls', { lot: sent!.lot, why: 'smells odd' });
  expect((await shelf.done<HoldEffects>(`/api/recalls/${code}/hold`, {})).lots.length).toBeGreaterThan(0);
  const [recipient] = (await shelf.get<RecallListView>(`/api/recalls/${code}/list`)).recipients;
  const [channel = '', ...number] = recipient!.order.split('/');
  await shelf.done(`/api/recalls/${code}/answers`, {
    order: { channel, number: number.join('/') },
    lot: sent!.lot,
    received: recipient!.sent,
    used: recipient!.sent,
  });
  expect((await shelf.done<Lifted>(`/api/recalls/${code}/lift`, { why: 'it was the box' })).lots).toContain(sent!.lot);
  await shelf.done('/api/drills', { seed: 1 });
  const { customers } = await shelf.get<CustomerList>('/api/customers?limit=1000');
  const unknown = customers.find(({ lastShippedOn }) => lastShippedOn === null)!;
  await closeOrdersOf(app, unknown.id);
  await eraseCustomer(app, unknown.id);
}
