import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { Item } from '../catalog/item.entity.js';
import { itemsByCode } from '../catalog/items.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import { dayOfAct } from '../stock/day-of-act.js';
import { lockLots } from '../stock/locked-lot.js';
import { lotViewByCode } from '../stock/lots.service.js';
import { Lot } from '../stock/stock.entity.js';
import type { LotView } from '../stock/stock.schema.js';
import { StockService } from '../stock/stock.service.js';
import { customerIdOf } from '../orders/customers.js';
import { lockOrderLine } from '../orders/locked-line.js';
import type { EmptiesCreate, ReturnCreate } from './shipping.schema.js';
import { amountText } from '../ui/amounts.js';

/** Of one lot sent for one line and not yet back: how much, what it left with, and since when. */
interface Out {
  quantity: number;
  valueE4: number;
  since: string | null;
}

/** What came back from customers. */
@Injectable()
export class ReturnsService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Takes back some of what was shipped, as a held lot of its own under the lot it left. It is worth what it left with:
   * its share of the shipments of that lot for that line that are not back yet, rounded down, the last of them taking
   * the rest, so that no return ever brings in more than went out. Of a body product it can only be rejected.
   */
  async takeBack(who: string, body: ReturnCreate): Promise<LotView> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const line = await lockOrderLine(tx, body.orderLine);
      if (!line) throw invalid('/orderLine', 'There is no such order line.', 'unknown-order-line');
      // locked before a code is taken for the new lot, in the order in which a split does both
      await lockLots(tx, [{ code: body.lot, pointer: '/lot' }]);
      const lot = await tx.findOneByOrFail(Lot, { code: body.lot });
      const item = await tx.findOneByOrFail(Item, { id: line.itemId });
      const quantity = positiveAmountOf(body.quantity, item, '/quantity');
      const out = await outOf(tx, line.id, lot.id);
      if (quantity > out.quantity)
        throw conflict(
          'not-shipped',
          `Of lot ${lot.code} only ${amountText(out.quantity, item.measure)} was sent for this line and is not back.`,
        );
      if (day < out.since!) throw invalid('/on', `It was shipped on ${out.since}, after this day.`);
      const received = await this.stock.receive(tx, {
        item,
        quantity,
        cause: 'return',
        cameOn: day,
        expiresOn: lot.expiresOn,
        status: 'held',
        valueE4: Number((BigInt(out.valueE4) * BigInt(quantity)) / BigInt(out.quantity)),
        place: body.place,
        supplierId: lot.supplierId,
        supplierLot: lot.supplierLot,
        certificate: lot.certificate,
        reason: body.reason,
        orderLineId: line.id,
        parentLotId: lot.id,
      });
      return lotViewByCode(tx, received.code);
    });
  }

  /**
   * Empty containers that customers bring back: a lot of their own worth nothing, on hold until somebody has washed and
   * released it. Who brought them is kept as the number of a customer, never by name: a name in a reason would be kept when
   * they are erased. Throws a 422 problem for what is no container.
   */
  async takeEmpties(who: string, body: EmptiesCreate): Promise<LotView> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: 'came back empty: to be washed' }, async (tx) => {
      const customerId = body.from === undefined ? undefined : await customerIdOf(tx, body.from);
      const item = (await itemsByCode(tx, [{ code: body.item, pointer: '/item' }])).get(body.item)!;
      if (item.family !== 'container' || item.measure !== 'counted')
        throw invalid('/item', `${item.code} is no container.`, 'not-a-container');
      const { code } = await this.stock.receive(tx, {
        item,
        quantity: positiveAmountOf(body.quantity, item, '/quantity'),
        cause: 'receipt',
        cameOn: day,
        status: 'held',
        valueE4: 0,
        place: body.place,
        reason: `came back empty${customerId === undefined ? '' : ` from customer ${customerId}`}: to be washed`,
      });
      return lotViewByCode(tx, code);
    });
  }
}

async function outOf(tx: EntityManager, lineId: number, lotId: number): Promise<Out> {
  const rows = await tx.query<Out[]>(
    `select coalesce(-sum(m.quantity), 0)::bigint as quantity, coalesce(-sum(m.value_e4), 0)::bigint as "valueE4",
       min(m.done_on) filter (where m.cause = 'shipment') as since
     from standing_movement m join lot l on l.id = m.lot_id
     where m.order_line_id = $1 and ((l.id = $2 and m.cause = 'shipment') or (l.parent_lot_id = $2 and m.cause = 'return'))`,
    [lineId, lotId],
  );
  return rows[0]!;
}
