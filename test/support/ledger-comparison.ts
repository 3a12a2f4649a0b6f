import { deepStrictEqual, strictEqual } from 'node:assert/strict';
import type { LotPage } from '../../src/stock/stock.schema.js';
import type { Answer, TestApp } from './app.js';
import { LedgerModel, OK } from './ledger-model.js';
import type { ModelTarget } from './ledger-model.js';
import { openBatch, shelfOf } from './shelf.js';
import type { ShelfUser } from './shelf.js';

export const STEP_KINDS = [
  'receive',
  'set-aside',
  'set-aside',
  'set-aside',
  'set-aside',
  'give-back',
  'scrap',
  'scrap-and-correct',
  'count',
  'hold',
  'release',
  'release',
  'split',
  'ship',
  'ship',
  'take-back',
  'weigh',
  'weigh',
] as const;

/** One act; the numbers choose a lot, a target, a promise out of those there are, and how much. */
export interface Step {
  kind: (typeof STEP_KINDS)[number];
  lot: number;
  target: number;
  amount: number;
}

let serial = 0;

/** A model and, on the server, an item of its own with its orders and its batch, so that runs do not meet. */
export class Comparison {
  /** How often each kind of act came to each end, over all runs. */
  static readonly outcomes = new Map<string, number>();
  readonly model = new LedgerModel();
  private readonly shelf: ShelfUser;
  private readonly item = `MODEL-${++serial}`;
  private readonly lines = [
    { number: `${serial}-early`, quantity: 60, done: 0, needOn: '2026-03-05' },
    { number: `${serial}-late`, quantity: 50, done: 0, needOn: '2026-03-20' },
  ];
  private readonly inputs = [
    { position: 1, quantity: 70, done: 0, needOn: '2026-03-10' },
    { position: 2, quantity: 40, done: 0, needOn: '2026-03-05' },
  ];

  constructor(private readonly api: TestApp) {
    this.shelf = shelfOf(api);
  }

  async open(): Promise<this> {
    await this.shelf.item(this.item, { kind: 'product' });
    for (const { number, quantity, needOn } of this.lines)
      await this.shelf.order(number, [{ code: this.item, quantity, shipBy: needOn }]);
    const inputs = this.inputs.map(({ quantity, needOn }) => ({ item: this.item, quantity, needOn }));
    await openBatch(this.api, this.item, inputs);
    await this.receive(80, 1_000_003);
    await this.receive(60, 77);
    return this;
  }

  async act(chosen: Step): Promise<void> {
    const { model } = this;
    const lot = model.lots[chosen.lot % model.lots.length]!;
    const { amount } = chosen;
    const line = this.lines[chosen.target % this.lines.length]!;
    const input = this.inputs[chosen.target % this.inputs.length]!;
    const of = `/api/lots/${lot.code}`;
    const orderLine = { channel: 'shop', number: line.number, code: this.item };
    switch (chosen.kind) {
      case 'receive':
        return this.receive(amount, amount * 333_331);
      case 'set-aside': {
        const targets: [ModelTarget, object][] = [
          [line, { orderLine }],
          [input, { batch: this.item, position: input.position }],
        ];
        const [target, named] = targets[amount % 2]!;
        // little, so that a lot is promised to several, and a loss has to choose among them
        const quantity = Math.ceil(amount / 3);
        const answer = await this.shelf.post<{ id: number }>(`${of}/reservations`, { quantity, ...named });
        this.same(chosen, answer, model.setAside(lot, target, quantity));
        if (answer.status === 201) model.promise(answer.body.id, lot, target, quantity);
        return;
      }
      case 'give-back': {
        const promise = model.promises[chosen.target % model.promises.length];
        if (!promise) return;
        // mostly a part of what is open, so that the rest of it is still there for other acts
        const quantity = amount > 8 ? Math.ceil(Math.max(1, promise.open) / 3) : amount;
        const answer = await this.shelf.post(`/api/reservations/${promise.id}/free`, { quantity });
        return this.same(chosen, answer, model.giveBack(promise, quantity));
      }
      case 'scrap':
      case 'scrap-and-correct': {
        const answer = await this.shelf.post<{ movement: number }>(`${of}/scrap`, {
          quantity: amount,
          reason: 'spilt',
        });
        const { code, valueE4 } = model.issue(lot, amount);
        this.same(chosen, answer, code);
        if (code !== OK || chosen.kind === 'scrap') return;
        await this.shelf.done(`/api/movements/${answer.body.movement}/correct`, { reason: 'another lot' });
        return model.takeBackIssue(lot, amount, valueE4);
      }
      case 'count': {
        const counted = Math.max(0, lot.onHand + 20 - amount);
        await this.shelf.done('/api/counts', { reason: 'month end', lots: [{ lot: lot.code, counted }] });
        return model.count(lot, counted);
      }
      case 'hold':
        return this.changeStatus(chosen, lot.code, lot.status === 'held' && amount > 30 ? 'rejected' : 'held');
      case 'release':
        return this.changeStatus(chosen, lot.code, 'released');
      case 'split': {
        const status = lot.status === 'rejected' || chosen.target % 2 === 0 ? 'same' : 'held';
        const body = { quantity: amount, place: 'fair', reason: 'market', status };
        const answer = await this.shelf.post<{ part: { code: string } }>(`${of}/split`, body);
        const become = status === 'same' ? lot.status : 'held';
        return this.same(
          chosen,
          answer,
          model.split(lot, amount, become, () => answer.body.part.code),
        );
      }
      case 'ship': {
        const lines = [{ code: this.item, lot: lot.code, quantity: amount }];
        const answer = await this.shelf.post('/api/shipments', { channel: 'shop', number: line.number, lines });
        return this.same(chosen, answer, model.ship(line, lot, amount));
      }
      case 'take-back': {
        const out = model.outs[chosen.target % model.outs.length];
        if (!out) return;
        const { number } = out.line as (typeof this.lines)[number];
        const quantity = Math.ceil(amount / 4);
        const body = { orderLine: { ...orderLine, number }, lot: out.lot.code, quantity, reason: 'broken' };
        const answer = await this.shelf.post<{ code: string }>('/api/returns', body);
        return this.same(
          chosen,
          answer,
          model.takeBack(out.line, out.lot, quantity, () => answer.body.code),
        );
      }
      case 'weigh': {
        const found = chosen.target % 3 !== 0;
        const body = { position: input.position, lot: lot.code, quantity: amount, further: true, off: true, found };
        const answer = await this.shelf.post(`/api/batches/${this.item}/weighings`, body);
        return this.same(chosen, answer, model.weigh(input, lot, amount, found));
      }
    }
  }

  /** Every lot and every promise of the item, as the server and as the model have them. */
  async compare(): Promise<void> {
    const { lots } = await this.shelf.get<LotPage>(`/api/lots?item=${this.item}&limit=1000`);
    const seen = lots.map(({ code, onHand, reserved, free, valueE4, status }) => ({
      code,
      onHand,
      reserved,
      free,
      valueE4,
      status,
    }));
    const expected = this.model.lots.map((lot) => ({
      ...lot,
      reserved: this.model.reserved(lot),
      free: this.model.free(lot),
    }));
    deepStrictEqual(new Map(seen.map((lot) => [lot.code, lot])), new Map(expected.map((lot) => [lot.code, lot])));
    const open = await this.api.database.query<{ id: number; open: number }>(
      `select r.id, r.open from reservation r join lot l on l.id = r.lot_id join item i on i.id = l.item_id
       where i.code = $1 order by r.id`,
      [this.item],
    );
    deepStrictEqual(
      open.map(({ id, open: left }) => ({ id, open: left })),
      this.model.promises.map(({ id, open: left }) => ({ id, open: left })),
    );
  }

  private async receive(quantity: number, costE4: number): Promise<void> {
    this.model.receive(await this.shelf.receive(this.item, quantity, { costE4 }), quantity, costE4);
  }

  private async changeStatus({ kind, lot }: Step, code: string, to: 'released' | 'held' | 'rejected'): Promise<void> {
    const answer = await this.shelf.post(`/api/lots/${code}/status`, { to, why: 'looked at' });
    const { lots } = this.model;
    this.same({ kind }, answer, this.model.changeStatus(lots[lot % lots.length]!, to));
  }

  private same({ kind }: Pick<Step, 'kind'>, answer: Answer<unknown>, expected: string): void {
    const code = answer.status < 300 ? OK : (answer.body as { code: string }).code;
    strictEqual(`${kind}: ${code}`, `${kind}: ${expected}`, `the model says ${expected}: ${answer.text}`);
    Comparison.outcomes.set(`${kind}: ${code}`, (Comparison.outcomes.get(`${kind}: ${code}`) ?? 0) + 1);
  }
}
