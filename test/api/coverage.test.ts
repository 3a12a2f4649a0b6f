import { beforeEach, describe, expect, it } from 'vitest';
import { type CoveredOrder, CoverageService } from '../../src/planning/coverage.service.js';
import type { CoveredLine } from '../../src/planning/covered-line.js';
import type { Committed, RunView } from '../../src/planning/planning.schema.js';
import { startTestApp, type TestApp } from '../support/app.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { order, SMALL_SHOP } from '../support/small-shop.js';

let app: TestApp;
const plan = async (weekStart?: string): Promise<number> => {
  const answer = await app.request<RunView>('POST', '/api/runs', { weekStart });
  expect(answer.status, answer.text).toBe(201);
  return answer.body.id;
};
const commit = async (id: number): Promise<Committed> => {
  const answer = await app.request<Committed>('POST', `/api/runs/${id}/commit`);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
};
const coverage = () => app.app.get(CoverageService);
const line = async (number: string): Promise<CoveredLine> =>
  (await coverage().order({ channel: 'shop', number })).coverage[0]!;
const page = (trouble = false) => coverage().page({ limit: 1000, trouble });

describe('how a line is covered', () => {
  beforeEach(async () => {
    app = await startTestApp({ filled: SMALL_SHOP });
    return () => app.close();
  });

  it('is not known before anything is planned', async () => {
    expect(await line('1001')).toMatchObject({
      item: 'CEDAR-100',
      open: 10,
      sources: [],
      missing: 0,
      unplanned: 10,
      readyOn: null,
      lateDays: 0,
      isOverdue: false,
    });
    expect((await page(true)).orders.map(({ number }) => number)).toEqual(['1001']);
  });

  it('is what the newest plan means to make, and what its lots are set aside', async () => {
    const id = await plan('2026-03-09');
    // poured on the 12th, matured seven days, filled on the 19th: the day before its ship-by
    const proposed = {
      from: 'batch',
      code: 'CEDAR-100/1',
      runId: id,
      quantity: 10,
      on: '2026-03-19',
      isSetAside: false,
    };
    expect(await line('1001')).toMatchObject({ sources: [proposed], unplanned: 0, missing: 0, readyOn: '2026-03-19' });
    expect((await page(true)).orders).toEqual([]);
    await commit(id);
    // the filling is a week later, so that nothing of it is set aside yet: the plan still means it
    expect(await line('1001')).toMatchObject({ sources: [proposed], unplanned: 0 });
  });

  it('is set aside from the shelf, and counted once', async () => {
    await app.request('POST', '/api/lots', { item: 'CEDAR-100', code: 'SHELF-1', quantity: 4 });
    await order(app, '1002', 6, '2026-03-06');
    const id = await plan('2026-03-02');
    const lot = { from: 'lot', code: 'SHELF-1', runId: null, quantity: 4, on: null };
    const before = await line('1002');
    expect(before.sources[0]).toEqual({ ...lot, isSetAside: false });
    expect(before.open).toBe(6);
    await commit(id);
    const after = await line('1002');
    expect(after.sources[0]).toEqual({ ...lot, isSetAside: true });
    expect(after.sources.reduce((sum, source) => sum + source.quantity, 0) + after.missing + after.unplanned).toBe(6);
    // nothing matures by the 6th: what is not on the shelf is late
    expect(after.lateDays).toBeGreaterThan(0);
    expect((await page(true)).orders.map(({ number }) => number)).toEqual(['1002']);
  });

  it('is short where the materials are, and says so', async () => {
    await order(app, '1003', 900, '2026-03-27');
    await plan('2026-03-09');
    const short = await line('1003');
    expect(short.missing).toBeGreaterThan(0);
    expect(short.unplanned).toBe(0);
    expect(short.because).toBe('short');
  });

  it('waits with an order that waits for payment, and ends with one that is cancelled', async () => {
    await plan('2026-03-09');
    await app.request('POST', '/api/orders/shop/1001/cancel');
    expect(await line('1001')).toMatchObject({ open: 0, sources: [], missing: 0, unplanned: 0 });
    expect((await page(true)).orders).toEqual([]);
  });

  it('of a plan that was thrown away is not known again', async () => {
    const id = await plan('2026-03-09');
    await app.request('DELETE', `/api/runs/${id}`);
    expect(await line('1001')).toMatchObject({ sources: [], unplanned: 10 });
  });
});

const isInTrouble = ({ status, coverage: lines }: CoveredOrder): boolean =>
  status === 'confirmed' &&
  lines.some((one) => one.open > 0 && (one.missing + one.unplanned > 0 || one.lateDays > 0 || one.isOverdue));

it('is judged alike in the list and in the search for trouble, before and after the lots are set aside', async () => {
  app = await startTestApp({ today: '2026-11-25', filled: DEMONSTRATION });
  try {
    const judged = async () => {
      const all = (await page()).orders;
      for (const one of all.flatMap((row) => row.coverage)) {
        const covered = one.sources.reduce((sum, source) => sum + source.quantity, 0);
        expect(covered + one.missing + one.unplanned).toBe(one.open);
      }
      const found = (await page(true)).orders.map(({ number }) => number);
      expect(found).toEqual(all.filter(isInTrouble).map(({ number }) => number));
      return { all: all.length, found };
    };
    expect((await judged()).found.length).toBeGreaterThan(30);
    const id = await plan();
    expect((await judged()).found).toEqual(['W-2301', 'W-2302']);
    await commit(id);
    expect((await judged()).found).toEqual(['W-2301', 'W-2302']);
    const setAside = (await page()).orders.flatMap((row) => row.coverage.flatMap((one) => one.sources));
    expect(setAside.filter((source) => source.isSetAside).length).toBeGreaterThan(20);
    await app.request('POST', `/api/runs/${id}/undo`, { why: 'for a test' });
    expect((await judged()).found.length).toBeGreaterThan(30);
  } finally {
    await app.close();
  }
});
