import { expect } from 'vitest';
import type { Finished, Rejected, Released } from '../../src/bench/finish.schema.js';
import type { CheckKindPut, ChecksView } from '../../src/checks/checks.schema.js';
import type { BatchView, Weighed } from '../../src/bench/bench.schema.js';
import type { LotView } from '../../src/stock/stock.schema.js';
import type { TestApp } from './app.js';
import { openSmallShop } from './small-shop.js';

/** The bench of a test, through the API. */
export interface Bench {
  done<Body>(url: string, body?: unknown): Promise<Body>;
  /** Posts what must be refused: its status and code, "409 not-weighed". */
  refused(url: string, body?: unknown): Promise<string>;
  batch(code: string): Promise<BatchView>;
  lot(code: string): Promise<LotView>;
  weigh(batch: string, position: number, lot: string, quantity: number | string, rest?: object): Promise<Weighed>;
  finish(batch: string, made: number | string, rest?: object): Promise<Finished>;
  release(batch: string, rest?: object): Promise<Released>;
  reject(batch: string, rest?: object): Promise<Rejected>;
  /** Answers everything that is checked before its release with what is good; nothing is weighed for it. */
  check(batch: string): Promise<void>;
  /** Code of the batch that makes an item. */
  batchOf(item: string): Promise<string>;
}

export function benchOf(app: TestApp): Bench {
  const done = async <Body>(url: string, body: unknown = {}): Promise<Body> => {
    const answer = await app.request<Body>('POST', url, body);
    expect([200, 201], `${url} ${answer.text}`).toContain(answer.status);
    return answer.body;
  };
  const get = async <Body>(url: string): Promise<Body> => {
    const answer = await app.request<Body>('GET', url);
    expect(answer.status, `${url} ${answer.text}`).toBe(200);
    return answer.body;
  };
  return {
    done,
    refused: async (url, body = {}) => {
      const answer = await app.request<{ code: string }>('POST', url, body);
      return `${answer.status} ${answer.body.code}`;
    },
    batch: (code) => get(`/api/batches/${code}`),
    lot: (code) => get(`/api/lots/${code}`),
    weigh: (batch, position, lot, quantity, rest = {}) =>
      done(`/api/batches/${batch}/weighings`, { position, lot, quantity, ...rest }),
    finish: (batch, made, rest = {}) => done(`/api/batches/${batch}/finish`, { made, ...rest }),
    release: (batch, rest = {}) => done(`/api/batches/${batch}/release`, rest),
    reject: (batch, rest = {}) => done(`/api/batches/${batch}/reject`, { why: 'cloudy', ...rest }),
    check: async (batch) => {
      const { checks } = await get<ChecksView>(`/api/batches/${batch}/checks`);
      for (const { code: kind, measure, choices, good, lowestE3, highestE3, state, ...rest } of checks) {
        if (state === 'good') continue;
        if (measure === 'weights') {
          const { family, made, position, name, how, unit, unitsLeast, oneOf } = rest;
          const body = { family, made, position, name, how, unit, unitsLeast, oneOf, measure, choices, good };
          const put: Partial<CheckKindPut> = { ...body, isRequired: false };
          expect((await app.request('PUT', `/api/check-kinds/${kind}`, put)).status).toBe(200);
        } else {
          const value = (lowestE3 ?? highestE3 ?? 0) / 1000;
          await done(`/api/batches/${batch}/checks`, {
            kind,
            ...(measure === 'choice' ? { choice: good[0] } : { value }),
          });
        }
      }
    },
    batchOf: async (item) => {
      const rows = await app.database.query<{ code: string }>(
        `select b.code from batch b join item i on i.id = b.item_id where i.code = $1 order by b.id desc limit 1`,
        [item],
      );
      return rows[0]!.code;
    },
  };
}

/**
 * The small shop with its week committed: one pour of 1 kg of cedar spray (950 g alcohol base, 50 g cedar, grossed up)
 * that rests seven days, and ten bottles filled from it. Its materials cost: alcohol 8 000 for 8 kg, cedar 600 for the
 * old lot of 30 g and 2 000 for the new one of 100 g, 48 bottles 480.
 */
export async function commitSmallShop(app: TestApp): Promise<{ pour: string; fill: string }> {
  await openSmallShop(app);
  const bench = benchOf(app);
  const costs: [string, number][] = [
    ['ALC-1', 8000],
    ['CED-OLD', 600],
    ['CED-NEW', 2000],
    ['BOT-1', 480],
  ];
  for (const [lot, amountE4] of costs) await bench.done(`/api/lots/${lot}/revaluation`, { amountE4, reason: 'price' });
  for (const weekStart of ['2026-03-02', '2026-03-09', '2026-03-16']) {
    const run = await bench.done<{ id: number }>('/api/runs', { weekStart });
    await bench.done(`/api/runs/${run.id}/commit`);
  }
  return { pour: await bench.batchOf('CEDAR-BULK'), fill: await bench.batchOf('CEDAR-100') };
}
