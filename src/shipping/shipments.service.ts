import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import type { ItemKind } from '../catalog/item.entity.js';
import { freeExcess } from '../orders/open-quantity.js';
import { fulfilIfDone } from '../orders/order-status.js';
import type { OrderStatus } from '../orders/orders.entity.js';
import { CustomerOrder } from '../orders/orders.entity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import { FLAMMABLE_NOTICE } from '../labels/label-text.js';
import { flammable } from './flammable.js';
import { refusePartOfComplete } from './sent-complete.js';
import { SetPackingService } from '../bench/set-packing.service.js';
import { dayOfAct, refuseBefore } from '../stock/day-of-act.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLots, refuseUnusable } from '../stock/locked-lot.js';
import { openPromises } from '../stock/promises.js';
import { StockService } from '../stock/stock.service.js';
import type { ShipmentCreate, ShipmentPage, ShipmentQuery, ShipmentView } from './shipping.schema.js';
import { amountText } from '../ui/amounts.js';

interface Line {
  id: number;
  code: string;
  occurrence: number;
  itemId: number;
  item: string;
  kind: ItemKind;
  /** Neither cancelled nor gone from the shelf; what a shop only reported as sent is among it. */
  onShelf: number;
  notBefore: string | null;
  owedDays: number;
}

/** A line of what is sent, with the lot it is of. */
type SentLine = Omit<ShipmentCreate['lines'][number], 'lot' | 'parts'> & { lot: string };

interface PackAct {
  body: ShipmentCreate;
  lines: readonly Line[];
  lots: Map<string, LockedLot>;
  day: string;
}

interface Sent {
  line: Line;
  lot: LockedLot;
  quantity: number;
}

/** What went out to customers. */
@Injectable()
export class ShipmentsService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly sets: SetPackingService,
    private readonly clock: Clock,
  ) {}

  list(query: ShipmentQuery): Promise<ShipmentPage> {
    return this.database.read(async (tx) => {
      const slash = query.order?.indexOf('/') ?? -1;
      const rows = await tx.query<ShipmentView[]>(
        `${SHIPMENTS} where s.id > $1 and ($2::text is null or (o.channel = $2 and o.number = $3)) order by s.id limit $4`,
        [
          query.after ?? 0,
          query.order?.slice(0, slash) ?? null,
          query.order?.slice(slash + 1) ?? null,
          query.limit + 1,
        ],
      );
      const shipments = rows.slice(0, query.limit);
      return { shipments, next: rows.length > query.limit ? shipments.at(-1)!.id : null };
    });
  }

  /**
   * Ships parts of an order, all of them or none. Each takes what is set aside for its line on that lot first, then what
   * is free; never what others were promised, never more than is still to go, never of a lot that does not last as long
   * as the customer is owed; of an order that is sent complete all that is open. What a shop reported as sent before goes from the shelf all the same.
   */
  ship(who: string, body: ShipmentCreate): Promise<ShipmentView> {
    return this.shipKnown(who, async () => body.lines, body);
  }

  /** As `ship`, of lines that are looked up in the same act. */
  async shipKnown(
    who: string,
    linesOf: (tx: EntityManager) => Promise<ShipmentCreate['lines']>,
    head: Omit<ShipmentCreate, 'lines'>,
  ): Promise<ShipmentView> {
    const day = dayOfAct(await this.clock.today(), head.on, '/on');
    return this.database.act({ who }, async (tx) => {
      const order = await lockOrder(tx, head);
      const body = { ...head, lines: await linesOf(tx) };
      const lines = await lockLines(tx, order.id);
      const lots = await lockLots(tx, namedLots(body), { orderLineIds: lines.map(({ id }) => id) });
      const packed = await this.packSets(tx, { body, lines, lots, day });
      const sent = sentOf(packed, lines, lots, day);
      const [shipment] = await tx.query<{ id: number }[]>(
        'insert into shipment (order_id, shipped_on) values ($1, $2) returning id',
        [order.id, day],
      );
      for (const one of sent) await this.take(tx, one, shipment!.id, day);
      await refusePartOfComplete(tx, { id: order.id, number: head.number });
      await freeExcess(tx, [order.id]);
      await fulfilIfDone(tx, order.id);
      return (await tx.query<ShipmentView[]>(`${SHIPMENTS} where s.id = $1`, [shipment!.id]))[0]!;
    });
  }

  /** Puts together the sets that come as parts; answers the lines with the lots they became. */
  private async packSets(tx: EntityManager, act: PackAct): Promise<SentLine[]> {
    const { body, lines, lots, day } = act;
    const packed: SentLine[] = [];
    for (const [at, row] of body.lines.entries()) {
      if (row.parts === undefined) {
        packed.push({ ...row, lot: row.lot! });
        continue;
      }
      const line = lineOf(lines, row, at);
      if (line.kind !== 'set') throw conflict('not-a-set', `${line.item} is no set, so it is not put together here.`);
      const parts = row.parts.map((part, n) => {
        const lot = lots.get(part.lot)!;
        return { lot, quantity: positiveAmountOf(part.quantity, lot, `/lines/${at}/parts/${n}/quantity`) };
      });
      const quantity = positiveAmountOf(row.quantity, { measure: 'counted' }, `/lines/${at}/quantity`);
      const set = { setId: line.itemId, set: line.item, orderLineId: line.id, quantity, parts, on: day, place: '' };
      const { lot: code } = await this.sets.pack(tx, set);
      for (const [made, lot] of await lockLots(tx, [{ code, pointer: `/lines/${at}` }])) lots.set(made, lot);
      packed.push({ ...row, lot: code });
    }
    return packed;
  }

  private async take(
    tx: EntityManager,
    { line, lot, quantity }: Sent,
    shipmentId: number,
    doneOn: string,
  ): Promise<void> {
    const promised = (await openPromises(tx, { lotIds: [lot.id] })).filter((row) => row.orderLineId === line.id);
    const own = promised.reduce((sum, row) => sum + row.quantity, 0);
    const free = own + lot.onHand - lot.reserved;
    if (quantity > free)
      throw conflict(
        'not-enough',
        `Lot ${lot.code} has ${amountText(free, lot.measure)} for this line, not ${amountText(quantity, lot.measure)}: the rest is promised to others.`,
      );
    const entry = { lotId: lot.id, cause: 'shipment' as const, doneOn, orderLineId: line.id, shipmentId };
    let left = quantity;
    for (const promise of promised) {
      const part = Math.min(left, promise.quantity);
      if (part === 0) break;
      await this.stock.moveLot(tx, { ...entry, quantity: -part, reservationId: promise.id });
      left -= part;
      lot.reserved -= part;
    }
    if (left > 0) await this.stock.moveLot(tx, { ...entry, quantity: -left });
    // the same lot may be named again, for another line
    lot.onHand -= quantity;
  }
}

async function lockOrder(
  tx: EntityManager,
  body: Omit<ShipmentCreate, 'lines'>,
): Promise<{ id: number; status: OrderStatus }> {
  const order = await tx.findOne(CustomerOrder, {
    where: { channel: body.channel, number: body.number },
    lock: { mode: 'pessimistic_write' },
  });
  if (!order) throw invalid('/number', `There is no order ${body.number} of ${body.channel}.`, 'unknown-order');
  if (order.status !== 'confirmed' && order.status !== 'fulfilled')
    throw conflict('wrong-state', `Order ${body.number} is ${order.status}, so nothing of it is shipped.`);
  return order;
}

function lockLines(tx: EntityManager, orderId: number): Promise<Line[]> {
  return tx.query<Line[]>(
    `select ol.id, ol.shop_code as code, ol.occurrence, ol.item_id as "itemId", i.code as item, i.kind,
       ol.quantity - ol.cancelled - ol.from_stock as "onShelf", ol.not_before as "notBefore", i.owed_life_days as "owedDays"
     from order_line ol join item i on i.id = ol.item_id where ol.order_id = $1 order by ol.id for update of ol`,
    [orderId],
  );
}

/** Every lot that is named, whatever for, and where. */
function namedLots(body: ShipmentCreate): { code: string; pointer: string }[] {
  return body.lines.flatMap(({ lot, parts }, at) =>
    lot === undefined
      ? (parts ?? []).map((part, n) => ({ code: part.lot, pointer: `/lines/${at}/parts/${n}/lot` }))
      : [{ code: lot, pointer: `/lines/${at}/lot` }],
  );
}

function lineOf(lines: readonly Line[], row: { code: string; occurrence: number }, at: number): Line {
  const line = lines.find(({ code, occurrence }) => code === row.code && occurrence === row.occurrence);
  if (line) return line;
  throw invalid(`/lines/${at}/code`, `The order has no line ${row.code} (${row.occurrence}).`, 'unknown-line');
}

/** What is sent, in ascending order of the lots' ids. Throws 422 for what is not in the order, 409 for what may not go. */
function sentOf(rows: readonly SentLine[], lines: readonly Line[], lots: Map<string, LockedLot>, day: string): Sent[] {
  const onShelf = new Map(lines.map((line) => [line.id, line.onShelf]));
  return rows
    .map((row, at) => {
      const line = lineOf(lines, row, at);
      const lot = lots.get(row.lot)!;
      const quantity = positiveAmountOf(row.quantity, lot, `/lines/${at}/quantity`);
      if (lot.itemId !== line.itemId)
        throw conflict('other-item', `Lot ${lot.code} is of ${lot.item}; ${row.code} is ${line.item}.`);
      refuseUnusable(lot, day, line.owedDays);
      refuseBefore(lot, day, '/on');
      if (line.notBefore !== null && day < line.notBefore)
        throw conflict('too-early', `${row.code} is wanted from ${line.notBefore}, not on ${day}.`);
      const left = onShelf.get(line.id)! - quantity;
      if (left < 0) {
        const open = amountText(onShelf.get(line.id)!, lot.measure);
        throw conflict(
          'not-open',
          `Of ${row.code} only ${open} is still to go, not ${amountText(quantity, lot.measure)}.`,
        );
      }
      onShelf.set(line.id, left);
      return { line, lot, quantity };
    })
    .sort((a, b) => a.lot.id - b.lot.id);
}

/* A correction of an entry bears its shipment too, so the sums are what really left. */
const SHIPMENTS = `
  select s.id, o.channel, o.number, o.status as "orderStatus", s.shipped_on as "shippedOn", s.created_by as "createdBy",
    (select coalesce(json_agg(json_build_object('code', l.code, 'occurrence', l.occurrence, 'item', l.item,
        'lot', l.lot, 'quantity', l.quantity, 'movements', l.movements) order by l.id, l.lot), '[]')
      from (select ol.id, ol.shop_code as code, ol.occurrence, i.code as item, lot.code as lot,
          -sum(m.quantity)::bigint as quantity,
          json_agg(m.id order by m.id) filter (where m.cause = 'shipment') as movements
        from movement m join order_line ol on ol.id = m.order_line_id join item i on i.id = ol.item_id
          join lot on lot.id = m.lot_id
        where m.shipment_id = s.id group by ol.id, i.code, lot.code) l) as lines,
    case when exists (select from standing_movement m join lot on lot.id = m.lot_id join item i on i.id = lot.item_id
      where m.shipment_id = s.id and ${flammable('i')}) then array['${FLAMMABLE_NOTICE}'] else '{}' end as notices
  from shipment s join customer_order o on o.id = s.order_id`;
