import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { AMOUNT_MAX, positiveAmountOf } from '../catalog/amount.js';
import { Item } from '../catalog/item.entity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import type { OpenPromise } from '../stock/promises.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import type { NewReservation, ReceivedLot } from '../stock/stock.service.js';
import { StockService } from '../stock/stock.service.js';
import { deliveryViewByCode, lockExpected } from './deliveries.service.js';
import { Delivery, DeliveryLine } from './purchasing.entity.js';
import type { DeliveryReceive, DeliveryReceived } from './purchasing.schema.js';

/** A lot that came on a line, and what of it is not promised yet. */
interface Arrived extends ReceivedLot {
  lineId: number;
  line: number;
  quantity: number;
  free: number;
}

/** A delivery comes in: its lots, and the promises that were made on it. */
@Injectable()
export class ReceivingService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Takes in what came of a delivery and turns the promises on it into promises on the new lots, the one needed first
   * first, then by id. What came may be less than expected, or keep too short: promises that no longer fit stay on the
   * rest of the delivery where that still comes, and are otherwise taken back and named.
   */
  async receive(who: string, code: string, body: DeliveryReceive): Promise<DeliveryReceived> {
    const today = await this.clock.today();
    const cameOn = body.receivedOn ?? today;
    if (cameOn > today) throw invalid('/receivedOn', `This day is still to come; today is ${today}.`);
    return this.database.act({ who }, async (tx) => {
      const { delivery, lines } = await lockExpected(tx, code);
      const promises = await openPromises(tx, { deliveryLineIds: lines.map(({ id }) => id) });
      // all are freed first, so that the lines may shrink under them
      for (const { id, quantity } of promises) await this.stock.freeReservation(tx, id, quantity);
      const arrived = await this.takeIn(tx, { delivery, lines, cameOn, body });
      const missing = lines.map((line) => Math.max(line.quantity - line.received, 0));
      const isOpen = (body.restStillComes ?? false) && missing.some((quantity) => quantity > 0);
      const rest = new Map(lines.map(({ id }, index) => [id, isOpen ? missing[index]! : 0]));
      const { kept, broken } = await this.promiseAnew(tx, promises, arrived, rest);
      if (!isOpen) await tx.update(Delivery, { id: delivery.id }, { status: 'received' });
      const lots = arrived.map(({ line, code: lot, quantity, status }) => ({ line, lot, quantity, status }));
      return { delivery: await deliveryViewByCode(tx, code), lots, kept, broken };
    });
  }

  private async takeIn(
    tx: EntityManager,
    act: { delivery: Delivery; lines: DeliveryLine[]; cameOn: string; body: DeliveryReceive },
  ): Promise<Arrived[]> {
    const arrived: Arrived[] = [];
    for (const [index, came] of act.body.lines.entries()) {
      const at = `/lines/${index}`;
      const line = act.lines[came.line - 1];
      if (!line) throw invalid(`${at}/line`, `The delivery has ${act.lines.length} lines.`, 'unknown-line');
      const item = await tx.findOneByOrFail(Item, { id: line.itemId });
      const quantities = came.lots.map((lot, n) => positiveAmountOf(lot.quantity, item, `${at}/lots/${n}/quantity`));
      const total = quantities.reduce((sum, quantity) => sum + quantity, 0);
      if (line.received + total > AMOUNT_MAX) throw invalid(`${at}/lots`, 'This is more than any amount kept here.');
      const costsE4 = shared(came.costE4 ?? costOfPart(line, total), quantities);
      for (const [n, lot] of came.lots.entries()) {
        const received = await this.stock.receive(tx, {
          item,
          quantity: quantities[n]!,
          cause: 'receipt',
          cameOn: act.cameOn,
          code: lot.code,
          expiresOn: lot.expiresOn === undefined ? (line.expiresOn ?? undefined) : lot.expiresOn,
          valueE4: costsE4[n]!,
          place: lot.place,
          supplierId: act.delivery.supplierId,
          supplierLot: lot.supplierLot,
          certificate: lot.certificate,
          deliveryLineId: line.id,
          reason: `delivery ${act.delivery.code}`,
        });
        const free = received.status === 'released' ? quantities[n]! : 0;
        arrived.push({ ...received, lineId: line.id, line: came.line, quantity: quantities[n]!, free });
      }
      line.received += total;
      await tx.update(DeliveryLine, { id: line.id }, { received: line.received });
    }
    return arrived;
  }

  private async promiseAnew(
    tx: EntityManager,
    promises: readonly OpenPromise[],
    arrived: readonly Arrived[],
    rest: Map<number, number>,
  ): Promise<{ kept: number; broken: BrokenPromise[] }> {
    const anew: NewReservation[] = [];
    const broken: BrokenPromise[] = [];
    let kept = 0;
    for (const promise of promises) {
      const { runId, batchInputId, orderLineId, needOn } = promise;
      const target = { runId, batchInputId, orderLineId, needOn };
      let wanted = promise.quantity;
      for (const lot of arrived) {
        const lasts = lot.expiresOn === null || lot.expiresOn >= needOn;
        const quantity = lot.lineId === promise.deliveryLineId && lasts ? Math.min(wanted, lot.free) : 0;
        if (quantity === 0) continue;
        anew.push({ ...target, lotId: lot.id, quantity });
        lot.free -= quantity;
        wanted -= quantity;
      }
      if (wanted < promise.quantity) kept++;
      const toCome = Math.min(wanted, rest.get(promise.deliveryLineId!) ?? 0);
      if (toCome > 0) {
        anew.push({ ...target, deliveryLineId: promise.deliveryLineId, quantity: toCome });
        rest.set(promise.deliveryLineId!, rest.get(promise.deliveryLineId!)! - toCome);
        wanted -= toCome;
      }
      if (wanted > 0) broken.push(brokenOf(promise, wanted));
    }
    await this.stock.reserve(tx, anew);
    return { kept, broken };
  }
}

/** The share of the line's cost that falls on `total` more of it; all parts together are the cost exactly. */
function costOfPart(line: DeliveryLine, total: number): number {
  const upTo = (quantity: number) =>
    Number((BigInt(line.costE4) * BigInt(Math.min(quantity, line.quantity))) / BigInt(line.quantity));
  return upTo(line.received + total) - upTo(line.received);
}

/** `costE4` over the quantities, rounded down, the last taking the rest. */
function shared(costE4: number, quantities: readonly number[]): number[] {
  const total = quantities.reduce((sum, quantity) => sum + quantity, 0);
  let spent = 0;
  let seen = 0;
  return quantities.map((quantity) => {
    seen += quantity;
    const upTo = Number((BigInt(costE4) * BigInt(seen)) / BigInt(total));
    const share = upTo - spent;
    spent = upTo;
    return share;
  });
}
