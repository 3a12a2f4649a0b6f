import { addDays } from '../../../src/kernel/measure/day.js';
import type { BatchView } from '../../../src/bench/bench.schema.js';
import type { LotView } from '../../../src/stock/stock.schema.js';
import type { Wire } from './client.js';
import type { Answer, Kind, Operation } from './operation.js';
import { codeOf } from './operation.js';
import type { Shelf } from './workshop.js';
import { orderLines } from './workshop.js';
import { distinct, HOT_LOTS, HOT_ONE_IN, KINDS, nameOf, REMEMBERED_MAX, taken, WEIGHT_SUM } from './known.js';
import type { KnownInput, KnownLine, KnownLot, KnownReservation, Named, Pick, SetAsideAnswer } from './known.js';

/** What all clients together know of the workshop, and what they do next. */
export class World {
  private readonly lots: KnownLot[] = [];
  private readonly byItem = new Map<string, KnownLot[]>();
  private readonly byCode = new Map<string, KnownLot>();
  private readonly lines: KnownLine[] = [];
  private readonly reservations: KnownReservation[] = [];
  private readonly inputs: KnownInput[] = [];
  private readonly held: KnownLot[] = [];
  private readonly about = new Map<string, () => void>();
  private readonly lotOf: Map<string, number>;

  constructor(
    private readonly wire: Wire,
    private readonly today: string,
    private readonly shelf: Shelf,
  ) {
    this.lotOf = new Map(shelf.items.map(({ code, lotOf }) => [code, lotOf]));
  }

  async look(): Promise<void> {
    for (const code of this.shelf.lots) this.meetLot(await this.lotNow(code));
  }

  /**
   * A new operation under this id. Customers order first where there is one open order line for two lots or fewer, and
   * where there is nothing to do of the kind that was drawn.
   */
  next(id: string, pick: Pick): Operation {
    if (this.lines.length < this.shelf.lots.length / 2) return this.make('order', id, pick)!;
    if (this.inputs.length === 0 && pick(100) === 0) return this.make('draft', id, pick)!;
    let at = pick(WEIGHT_SUM);
    for (const [kind, weight] of KINDS) {
      if (at < weight) return this.make(kind, id, pick) ?? this.make('order', id, pick)!;
      at -= weight;
    }
    throw new Error('the weights do not sum up');
  }

  private make(kind: Kind, id: string, pick: Pick): Operation | undefined {
    const made = (path: string, body: unknown) => ({ id, kind, path, body });
    switch (kind) {
      case 'receive': {
        const { code: item, lotOf } = this.shelf.items[pick(this.shelf.items.length)]!;
        // half of them leave the code to the server, which counts them one after the other
        const own = pick(2) === 0 ? { code: id.toUpperCase() } : {};
        const expiresOn = addDays(this.today, 100 + pick(400));
        return made('/api/lots', { item, quantity: lotOf, costE4: pick(5_000_000), expiresOn, reason: id, ...own });
      }
      case 'set-aside':
        return this.setAside(made, pick);
      case 'free': {
        const reservation = taken(this.reservations, pick);
        if (!reservation) return undefined;
        this.about.set(id, () => {
          reservation.lot.free += reservation.quantity;
          if (reservation.line) reservation.line.lacking += reservation.quantity;
        });
        return made(`/api/reservations/${reservation.id}/free`, {});
      }
      case 'ship':
        return this.ship(made, pick);
      case 'weigh': {
        const input = this.inputs[pick(this.inputs.length)];
        const lot = input && this.lotOfItem(input.item, pick);
        if (!lot) return undefined;
        const quantity = Math.max(1, Math.floor(input.quantity / (20 + pick(40))));
        this.about.set(id, () => this.take(lot, quantity));
        return made(`/api/batches/${input.batch}/weighings`, {
          position: input.position,
          lot: lot.code,
          quantity,
          // what many portions come to, and what a lot holds that others drew on meanwhile, is not known here
          further: true,
          off: true,
          found: true,
        });
      }
      case 'count': {
        const lots = distinct([this.anyLot(pick), ...(pick(4) === 0 ? [this.anyLot(pick), this.anyLot(pick)] : [])]);
        // a shelf is filled up now and then, so that a long run does not end with empty lots
        const counted = lots.map((lot) => ({
          lot: lot.code,
          counted: pick(3) === 0 ? lot.lotOf : Math.max(0, lot.onHand - pick(Math.ceil(lot.lotOf / 100))),
        }));
        return made('/api/counts', { reason: id, lots: counted });
      }
      case 'hold':
        return made(`/api/lots/${this.anyLot(pick).code}/status`, { to: 'held', why: id });
      case 'release': {
        const lot = taken(this.held, pick);
        return lot && made(`/api/lots/${lot.code}/status`, { to: 'released', why: id });
      }
      case 'scrap': {
        const lot = this.anyLot(pick);
        return made(`/api/lots/${lot.code}/scrap`, { quantity: 1 + pick(Math.ceil(lot.lotOf / 200)), reason: id });
      }
      case 'order':
        return made('/api/orders', { channel: 'shop', number: id, lines: orderLines(pick, this.today) });
      case 'draft':
        return made('/api/runs', { weekStart: addDays(this.today, pick(21)) });
      case 'commit':
        return undefined;
    }
  }

  private setAside(made: (path: string, body: unknown) => Operation, pick: Pick): Operation | undefined {
    if (pick(20) === 0 && this.inputs.length > 0) {
      const input = this.inputs[pick(this.inputs.length)]!;
      const lot = this.lotOfItem(input.item, pick);
      const quantity = Math.max(1, Math.floor(input.quantity / (10 + pick(40))));
      const { batch, position } = input;
      return lot && this.reserving(made, lot, quantity, { batch, position });
    }
    const lacking = this.lines.filter((one) => one.lacking > 0);
    const line = lacking[pick(lacking.length)];
    const lot = line && this.lotOfItem(line.code, pick);
    if (!lot) return undefined;
    const quantity = Math.max(1, Math.min(1 + pick(4), line.lacking));
    return this.reserving(made, lot, quantity, { orderLine: nameOf(line) }, line);
  }

  private reserving(
    made: (path: string, body: unknown) => Operation,
    lot: KnownLot,
    quantity: number,
    target: Record<string, unknown>,
    line?: KnownLine,
  ): Operation {
    const operation = made(`/api/lots/${lot.code}/reservations`, { quantity, ...target });
    this.about.set(operation.id, () => {
      lot.free -= quantity;
      if (line) line.lacking -= quantity;
    });
    return operation;
  }

  private ship(made: (path: string, body: unknown) => Operation, pick: Pick): Operation | undefined {
    const promised = pick(3) === 0 ? undefined : taken(this.reservations, pick);
    const line = promised?.line ?? this.lines[pick(this.lines.length)];
    const lot = promised?.line ? promised.lot : line && this.lotOfItem(line.code, pick);
    if (!line || !lot || line.open <= 0) return undefined;
    const quantity = Math.min(line.open, promised?.line ? promised.quantity : 1 + pick(3));
    const { number, code, occurrence } = nameOf(line);
    const operation = made('/api/shipments', {
      channel: 'shop',
      number,
      lines: [{ code, occurrence, lot: lot.code, quantity }],
    });
    this.about.set(operation.id, () => {
      line.open -= quantity;
      if (!promised?.line) line.lacking -= quantity;
      if (line.open <= 0) this.lines.splice(this.lines.indexOf(line), 1);
      this.take(lot, quantity);
    });
    return operation;
  }

  /** What the answer tells everybody, and what its client does next because of it. */
  async learn(operation: Operation, answer: Answer): Promise<Omit<Operation, 'id'> | undefined> {
    const change = this.about.get(operation.id);
    this.about.delete(operation.id);
    if (answer.status >= 400) return this.learnRefusal(operation, answer);
    change?.();
    const { body } = answer;
    switch (operation.kind) {
      case 'receive':
      case 'scrap':
      case 'hold':
      case 'release':
        this.meetLot(body as unknown as LotView);
        return undefined;
      case 'count':
        for (const row of body['lots'] as { lot: string; counted: number; difference: number }[]) {
          const lot = this.byCode.get(row.lot)!;
          lot.onHand = row.counted;
          lot.free = Math.max(0, lot.free + row.difference);
        }
        return undefined;
      case 'set-aside':
        this.learnReservation(body as unknown as SetAsideAnswer);
        return undefined;
      case 'order':
        for (const { code, quantity } of body['lines'] as { code: string; quantity: number }[])
          if (this.byItem.has(code)) this.lines.push({ number: operation.id, code, open: quantity, lacking: quantity });
        return undefined;
      case 'draft':
        return { kind: 'commit', path: `/api/runs/${String(body['id'])}/commit?replan=true`, body: undefined };
      case 'commit':
        for (const { code } of (body['batches'] as { code: string }[]).slice(-40)) await this.meetBatch(code);
        return undefined;
      default:
        return undefined;
    }
  }

  private async learnRefusal(operation: Operation, answer: Answer): Promise<undefined> {
    const body = operation.body as Named | undefined;
    const code = /^\/api\/lots\/([^/]+)\//.exec(operation.path)?.[1] ?? body?.lines?.[0]?.lot;
    if (code && this.byCode.has(code)) this.meetLot(await this.lotNow(code));
    const name = body?.orderLine ?? { number: body?.number, code: body?.lines?.[0]?.code };
    const line = this.lines.find(({ number, code: of }) => number === name.number && of === name.code);
    if (line && codeOf(answer) === 'not-needed') line.lacking = 0;
    if (line && operation.kind === 'ship' && ['not-open', 'wrong-state'].includes(codeOf(answer)))
      this.lines.splice(this.lines.indexOf(line), 1);
  }

  private learnReservation(made: SetAsideAnswer): void {
    const lot = this.byCode.get(made.lot)!;
    const line = this.lines.find(({ number, code }) => made.order === `shop ${number}` && code === made.item);
    this.reservations.push({ id: made.id, lot, line, quantity: made.quantity });
    if (this.reservations.length > REMEMBERED_MAX) this.reservations.shift();
  }

  private meetLot(view: LotView): void {
    const lotOf = this.lotOf.get(view.item)!;
    const { code, item, onHand, free, status } = view;
    const known = this.byCode.get(code);
    const lot = Object.assign(known ?? {}, { code, item, lotOf, onHand, free, status });
    if (status === 'held' && !this.held.includes(lot)) this.held.push(lot);
    if (known) return;
    this.lots.push(lot);
    this.byCode.set(code, lot);
    this.byItem.set(item, [...(this.byItem.get(item) ?? []), lot]);
  }

  private async meetBatch(code: string): Promise<void> {
    const batch = await this.wire.get<BatchView>(`/api/batches/${code}`);
    for (const { position, item, quantity } of batch.inputs)
      if (this.byItem.has(item)) this.inputs.push({ batch: code, position, item, quantity });
  }

  private lotNow(code: string): Promise<LotView> {
    return this.wire.get<LotView>(`/api/lots/${code}`);
  }

  private take(lot: KnownLot, quantity: number): void {
    lot.onHand = Math.max(0, lot.onHand - quantity);
    lot.free = Math.max(0, lot.free - quantity);
  }

  private anyLot(pick: Pick): KnownLot {
    return this.lots[pick(pick(HOT_ONE_IN) === 0 ? 10 * HOT_LOTS : this.lots.length)]!;
  }

  /** One of the item that is believed to be usable; the believed may be wrong. */
  private lotOfItem(item: string, pick: Pick): KnownLot | undefined {
    const lots = this.byItem.get(item) ?? [];
    const usable = lots.filter(({ status, free }) => status === 'released' && free > 0);
    if (usable.length === 0) return lots[0];
    return usable[pick(pick(HOT_ONE_IN) === 0 ? Math.min(HOT_LOTS, usable.length) : usable.length)];
  }
}
