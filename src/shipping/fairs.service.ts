import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { freeExcess } from '../orders/open-quantity.js';
import { cancelOpen, setStatus } from '../orders/order-status.js';
import { CustomerOrder } from '../orders/orders.entity.js';
import { addLine, openWalkInOrder } from '../orders/walk-in-order.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { dayOfAct, refuseBefore } from '../stock/day-of-act.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLots, putBack, refuseMoreThanFree, refuseUnusable } from '../stock/locked-lot.js';
import { openPart } from '../stock/split.service.js';
import { StockService } from '../stock/stock.service.js';
import { flammable } from './flammable.js';
import { FAIR_CHANNEL } from './fair-channel.js';
import type { BringBack, FairList, FairSale, FairView, TakeAlong } from './fairs.schema.js';
import { ShipmentsService } from './shipments.service.js';
import type { ShipmentView } from './shipping.schema.js';

/**
 * Goods taken to a fair. They stay the workshop's: parts of lots in another place, set aside for an order of whoever walks
 * in, so that no plan uses them. A sale ships to that order; what comes home is free again.
 */
@Injectable()
export class FairsService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly shipments: ShipmentsService,
    private readonly clock: Clock,
  ) {}

  list(): Promise<FairList> {
    return this.database.read(async (tx) => ({
      fairs: await tx.query<FairList['fairs']>(
        `select o.number as name, max(ol.ship_by) as until, bool_and(ol.quantity = ol.shipped + ol.cancelled) as "isOver"
         from customer_order o join order_line ol on ol.order_id = o.id where o.channel = $1
         group by o.id order by max(ol.ship_by) desc, o.id desc limit 100`,
        [FAIR_CHANNEL],
      ),
    }));
  }

  fair(name: string): Promise<FairView> {
    return this.database.read((tx) => fairViewOf(tx, name));
  }

  /** Takes free stock along, as lots of its own in its place. Throws 409 for what is promised to others. */
  async takeAlong(who: string, name: string, body: TakeAlong): Promise<FairView> {
    const today = await this.clock.today();
    const day = dayOfAct(today, body.on, '/on');
    if (body.until < today) throw invalid('/until', 'Its last day is over.');
    return this.database.act({ who, why: `to ${name}` }, async (tx) => {
      const orderId = await openOrder(tx, name, day);
      const named = body.lots.map(({ lot }, at) => ({ code: lot, pointer: `/lots/${at}/lot` }));
      const lots = await lockLots(tx, named);
      for (const [at, { lot: code, quantity: input }] of body.lots.entries()) {
        const lot = lots.get(code)!;
        const quantity = positiveAmountOf(input, lot, `/lots/${at}/quantity`);
        refuseUnusable(lot, body.until);
        refuseBefore(lot, day, '/on');
        refuseMoreThanFree(lot, quantity);
        await this.takePart(tx, { lot, quantity, orderId, name, day, body });
        lot.onHand -= quantity;
      }
      return fairViewOf(tx, name);
    });
  }

  /** Sells to whoever walked in: a shipment to the fair's order, with its lots. */
  sell(who: string, name: string, body: FairSale): Promise<ShipmentView> {
    return this.shipments.shipKnown(
      who,
      async (tx) => {
        const { lots } = await fairViewOf(tx, name);
        const rows = await tx.query<{ lot: string; code: string; occurrence: number }[]>(
          `select l.code as lot, ol.shop_code as code, ol.occurrence ${TAKEN}`,
          [FAIR_CHANNEL, name],
        );
        return body.lots.map(({ lot, quantity }, at) => {
          const line = rows.find((row) => row.lot === lot);
          if (!line || !lots.some((row) => row.lot === lot))
            throw invalid(`/lots/${at}/lot`, `Lot ${lot} was not taken to ${name}.`, 'unknown-lot');
          return { code: line.code, occurrence: line.occurrence, lot, quantity };
        });
      },
      { channel: FAIR_CHANNEL, number: name, on: body.on },
    );
  }

  /** Everything that was not sold is back where it came from, and free. */
  bringBack(who: string, name: string, body: BringBack): Promise<FairView> {
    return this.database.act({ who, why: `back from ${name}` }, async (tx) => {
      const order = await lockFair(tx, name);
      await tx.query('select from order_line where order_id = $1 order by id for update', [order.id]);
      const taken = await tx.query<{ id: number }[]>(`select l.id ${TAKEN}`, [FAIR_CHANNEL, name]);
      await putBack(
        tx,
        taken.map(({ id }) => id),
        body.place ?? null,
      );
      await cancelOpen(tx, order.id);
      await freeExcess(tx, [order.id]);
      if (order.status === 'confirmed') await setStatus(tx, order, 'fulfilled');
      return fairViewOf(tx, name);
    });
  }

  private async takePart(
    tx: EntityManager,
    act: { lot: LockedLot; quantity: number; orderId: number; name: string; day: string; body: TakeAlong },
  ): Promise<void> {
    const { lot, quantity, orderId, name, day, body } = act;
    const part = await openPart(tx, lot, lot.status, body.place, day);
    const split = { cause: 'split' as const, doneOn: day, reason: `to ${name}` };
    await this.stock.moveLot(tx, { ...split, lotId: lot.id, otherLotId: part.id, quantity: -quantity });
    await this.stock.moveLot(tx, { ...split, lotId: part.id, otherLotId: lot.id, quantity });
    const line = { item: lot.item, itemId: lot.itemId, quantity, shipBy: body.until };
    const orderLineId = await addLine(tx, orderId, line);
    await this.stock.reserve(tx, [{ lotId: part.id, orderLineId, quantity, needOn: body.until }]);
  }
}

/** The fair's order, open for more: made where there is none. */
async function openOrder(tx: EntityManager, name: string, day: string): Promise<number> {
  await openWalkInOrder(tx, { channel: FAIR_CHANNEL, name: 'Fairs', number: name, day });
  const order = await lockFair(tx, name);
  if (order.status === 'cancelled' || order.status === 'waiting')
    throw conflict('wrong-state', `Order ${name} of the fairs is ${order.status}. Take another name.`);
  if (order.status === 'fulfilled') await setStatus(tx, order, 'confirmed');
  return order.id;
}

function lotOf(row: FairView['lots'][number]): FairView['lots'][number] {
  const { lot, from, item, name, place, taken, sold, left, expiresOn, isFlammable } = row;
  return { lot, from, item, name, place, taken, sold, left, expiresOn, isFlammable };
}

/** Throws a 404 problem. */
async function lockFair(tx: EntityManager, name: string): Promise<CustomerOrder> {
  const order = await tx.findOne(CustomerOrder, {
    where: { channel: FAIR_CHANNEL, number: name },
    lock: { mode: 'pessimistic_write' },
  });
  if (!order) throw notFound('fair', name);
  return order;
}

/* What was taken along: each line with the lot that was split off for it, which is set aside for no other. */
const TAKEN = `
  from customer_order o join order_line ol on ol.order_id = o.id
    join (select distinct order_line_id, lot_id from reservation where lot_id is not null) r on r.order_line_id = ol.id
    join lot l on l.id = r.lot_id and l.item_id = ol.item_id
  where o.channel = $1 and o.number = $2`;

async function fairViewOf(tx: EntityManager, name: string): Promise<FairView> {
  const rows = await tx.query<(FairView['lots'][number] & { until: string; isOpen: boolean })[]>(
    `select l.code as lot, p.code as from, i.code as item, i.name, l.place, ol.quantity as taken, ol.shipped as sold,
       ol.quantity - ol.shipped - ol.cancelled as left, l.expires_on as "expiresOn", ${flammable('i')} as "isFlammable",
       ol.ship_by as until, ol.quantity > ol.shipped + ol.cancelled as "isOpen"
     from (select ol.id as line_id, l.id as lot_id ${TAKEN}) t join order_line ol on ol.id = t.line_id
       join lot l on l.id = t.lot_id left join lot p on p.id = l.parent_lot_id join item i on i.id = l.item_id
     order by i.code, l.id`,
    [FAIR_CHANNEL, name],
  );
  if (rows.length === 0) throw notFound('fair', name);
  return {
    name,
    until: rows.reduce((last, { until }) => (until > last ? until : last), ''),
    isOver: rows.every(({ isOpen }) => !isOpen),
    lots: rows.map(lotOf),
  };
}
