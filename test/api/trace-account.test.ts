import { describe, expect, it } from 'vitest';
import type { AccountView, LotAccount } from '../../src/trace/account.schema.js';
import { startTestApp, useTestApp } from '../support/app.js';
import type { TestApp } from '../support/app.js';
import { writeGenealogy } from '../support/genealogy.js';
import { openBatch, shelfOf } from '../support/shelf.js';

const accounted = async (app: TestApp, code: string, query = ''): Promise<AccountView> => {
  const answer = await app.request<AccountView>('GET', `/api/trace/lots/${code}/account${query}`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};

/** What came in, less everything it is now by the book: zero to the milligram. */
const left = (lot: LotAccount) =>
  lot.received +
  lot.made +
  lot.returned +
  lot.splitFrom +
  lot.found -
  lot.onShelf -
  lot.usedInBatches -
  lot.usedElsewhere -
  lot.shipped -
  lot.sampled -
  lot.scrapped -
  lot.sentToSupplier -
  lot.splitOff -
  lot.lost;

describe('the account of a random workshop', () => {
  it('is what was done with every lot, to the milligram', async () => {
    const app = await startTestApp();
    try {
      const known = await writeGenealogy(app.database, 21, 380);
      for (const { code } of known.lots.values()) {
        const { lots, reconciledPpb } = await accounted(app, code, '?direction=both');
        for (const lot of lots) {
          expect([lot.lot, left(lot), lot.bookDifference]).toEqual([lot.lot, 0, 0]);
          const { moved, left: onShelf } = known.lots.get(lot.lot)!;
          const of = (cause: string) => Math.abs(moved.get(cause) ?? 0);
          expect(lot).toMatchObject({
            onShelf,
            received: of('receipt'),
            made: of('production'),
            returned: of('return'),
            splitFrom: of('split from'),
            splitOff: of('split off'),
            usedInBatches: of('consumption'),
            usedElsewhere: 0,
            shipped: of('shipment'),
            sampled: of('sample'),
            scrapped: of('scrap'),
            lost: of('count'),
            found: 0,
          });
        }
        expect(reconciledPpb).toBe(lots.find(({ lot }) => lot === code)!.reconciledPpb);
      }
    } finally {
      await app.close();
    }
  }, 120_000);
});

describe('an account', () => {
  const api = useTestApp();
  const shelf = shelfOf(api);
  const own = (view: AccountView) => view.lots.find(({ lot }) => lot === view.lot)!;

  it('follows a count, a sample, a loss and a reservation', async () => {
    await shelf.item('OIL', { measure: 'weighed' });
    const lot = await shelf.receive('OIL', 1_000_000);
    await openBatch(api, 'B26061-01', [{ item: 'OIL', quantity: 400_000 }]);
    await shelf.done(`/api/lots/${lot}/reservations`, { batch: 'B26061-01', position: 1, quantity: 300_000 });
    await shelf.done(`/api/lots/${lot}/samples`, { quantity: 3_000, reason: 'kept' });
    const before = await accounted(api, lot);
    expect(own(before)).toMatchObject({
      received: 1_000_000,
      onShelf: 997_000,
      reserved: 300_000,
      sampled: 3_000,
      isCounted: false,
      unconfirmed: 997_000,
      reconciledPpb: 3_000_000,
    });
    await shelf.done('/api/counts', { reason: 'shelf', lots: [{ lot, counted: 990_000 }] });
    const after = await accounted(api, lot);
    expect(own(after)).toMatchObject({
      onShelf: 990_000,
      lost: 7_000,
      countedOn: '2026-03-02',
      isCounted: true,
      unconfirmed: 0,
      unexplained: -7_000,
      reconciledPpb: 993_000_000,
    });
    expect(after).toMatchObject({ reconciledPpb: 993_000_000, unexplainedLots: 1, madeReconciledPpb: null });
    // a count of last year confirms nothing of today's shelf
    expect(own(await accounted(api, lot, '?countedSince=2026-03-03')).isCounted).toBe(false);
  });

  it('is of a lot that is there', async () => {
    expect((await api.request('GET', '/api/trace/lots/NONE/account')).status).toBe(404);
    expect((await api.request('GET', '/api/trace/lots/NONE')).status).toBe(404);
    expect((await api.request('GET', '/api/trace/lots/NONE/shares')).status).toBe(404);
  });
});
