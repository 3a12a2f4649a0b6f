import { expect } from 'vitest';
import type { LotView, MovementPage } from '../../src/stock/stock.schema.js';
import type { Answer, TestApp } from './app.js';

export interface ProblemBody {
  code: string;
  detail: string;
  errors?: { pointer: string }[];
}

/** The shelf of a test, through the API. */
export interface ShelfUser {
  post<Body = ProblemBody>(url: string, body: unknown): Promise<Answer<Body>>;
  /** Posts what must succeed, with 201 or 200. */
  done<Body>(url: string, body: unknown): Promise<Body>;
  /** Posts what must be refused and answers its status and code: "409 not-enough". */
  refused(url: string, body: unknown): Promise<string>;
  get<Body>(url: string): Promise<Body>;
  item(code: string, rest?: Record<string, unknown>): Promise<void>;
  receive(item: string, quantity: number, rest?: Record<string, unknown>): Promise<string>;
  lot(code: string): Promise<LotView>;
  /** Cause, quantity and value of every movement, in order. */
  moves(code: string): Promise<[string, number, number][]>;
  /** Ids of a lot's movements, in order. */
  moveIds(code: string): Promise<number[]>;
  order(number: string, lines: Record<string, unknown>[]): Promise<void>;
}

export function shelfOf(app: TestApp): ShelfUser {
  const post = <Body>(url: string, body: unknown) => app.request<Body>('POST', url, body);
  const done = async <Body>(url: string, body: unknown): Promise<Body> => {
    const answer = await post<Body>(url, body);
    expect([200, 201], `${url} ${answer.text}`).toContain(answer.status);
    return answer.body;
  };
  const get = async <Body>(url: string): Promise<Body> => {
    const answer = await app.request<Body>('GET', url);
    expect(answer.status, `${url} ${answer.text}`).toBe(200);
    return answer.body;
  };
  const movements = async (code: string) => (await get<MovementPage>(`/api/lots/${code}/movements`)).movements;
  return {
    post,
    done,
    get,
    refused: async (url, body) => {
      const answer = await post<ProblemBody>(url, body);
      return `${answer.status} ${answer.body.code}`;
    },
    item: async (code, rest = {}) =>
      void (await done('/api/items', { code, name: code, kind: 'material', measure: 'counted', ...rest })),
    receive: async (item, quantity, rest = {}) => (await done<LotView>('/api/lots', { item, quantity, ...rest })).code,
    lot: (code) => get<LotView>(`/api/lots/${code}`),
    moves: async (code) => (await movements(code)).map(({ cause, quantity, valueE4 }) => [cause, quantity, valueE4]),
    moveIds: async (code) => (await movements(code)).map(({ id }) => id),
    order: async (number, lines) => void (await done('/api/orders', { channel: 'shop', number, lines })),
  };
}

/** A batch of one bulk with these inputs, straight into the tables: no plan is needed to weigh into it. */
export async function openBatch(
  app: TestApp,
  code: string,
  inputs: { item: string; quantity: number; step?: string; needOn?: string }[],
  status = 'reserved',
): Promise<void> {
  const { query } = app.database;
  await query(`insert into item (code, name, kind, measure) values ('BULK', 'Bulk', 'bulk', 'weighed')
    on conflict do nothing`);
  await query(`insert into formula (item_id, version, batch_min) select id, 1, 1 from item where code = 'BULK'
    on conflict do nothing`);
  await query(
    `insert into batch (code, formula_id, item_id, status, day, ready_on, emptied_on, output, put_in_mg, minutes)
     select $1, f.id, i.id, $2, '2026-03-02', '2026-03-09', '2026-03-09', 1000, 1000, 0
     from item i join formula f on f.item_id = i.id where i.code = 'BULK'`,
    [code, status],
  );
  // for the stock target: pegs sum to the output
  await query(`insert into peg (batch_id, position, quantity) select id, 1, output from batch where code = $1`, [code]);
  for (const [at, { item, quantity, step = 'make', needOn = '2026-03-04' }] of inputs.entries())
    await query(
      `insert into batch_input (batch_id, position, item_id, step, need_on, quantity)
       select b.id, $2, i.id, $3, $4, $5 from batch b, item i where b.code = $1 and i.code = $6`,
      [code, at + 1, step, needOn, quantity, item],
    );
}
