import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { largestRemainder } from '../kernel/formula/scaling.js';
import { OutboxService } from '../messages/outbox.service.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import { StockService } from '../stock/stock.service.js';
import { addDelivery, endDelivery } from './deliveries.service.js';
import { DeliveryLine } from './purchasing.entity.js';
import { type LockedOrder, lockOrder, orderByCode, withdrawLetter } from './purchase-order-rows.js';
import type { PurchaseOrderCancelled, PurchaseOrderConfirm, PurchaseOrderView } from './purchase-orders.schema.js';
import { takePrice } from './suppliers.service.js';

/** A line as it was sent. */
interface SentLine {
  id: number;
  line: number;
  packId: number;
  pack: string;
  item: string;
  packs: number;
  priceE4: number;
}

/** So many packs of a line that come on a day, with their cost before freight. */
interface Part {
  of: SentLine;
  packs: number;
  expectedOn: string;
  goodsE4: number;
}

/** What the supplier answers to an order: when it comes, at which price; and what is given up. */
@Injectable()
export class ConfirmingService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly outbox: OutboxService,
  ) {}

  /**
   * What is confirmed becomes expected: a delivery for each day on which something comes, the first under the order's own
   * code. The freight is shared over all that comes by its worth, exactly (largest remainder), so that it is in the cost of
   * the lots.
   */
  confirm(who: string, code: string, body: PurchaseOrderConfirm): Promise<PurchaseOrderView> {
    return this.database.act({ who }, async (tx) => {
      const order = await lockOrder(tx, code, 'sent');
      const lines = await sentLines(tx, order.id);
      const { parts, prices } = confirmed(lines, body);
      const freightE4 = body.freightE4 ?? order.freightE4;
      await expectParts(tx, order, parts, freightE4);
      for (const line of lines) {
        const priceE4 = prices.get(line.line) ?? line.priceE4;
        await tx.query('update purchase_line set confirmed_price_e4 = $2 where id = $1', [line.id, priceE4]);
        if (body.takePrices) await takePrice(tx, line.packId, line.packs, priceE4);
      }
      await tx.query(
        `update purchase_order set status = 'confirmed', freight_e4 = $2, reference = coalesce($3, reference) where id = $1`,
        [order.id, freightE4, body.reference ?? null],
      );
      return orderByCode(tx, code);
    });
  }

  /** The freight as it turned out, shared anew; only before anything came, since then it is in the cost of lots. */
  putFreight(who: string, code: string, freightE4: number): Promise<PurchaseOrderView> {
    return this.database.act({ who }, async (tx) => {
      const { id } = await lockOrder(tx, code, 'confirmed');
      const { status } = await orderByCode(tx, code);
      if (status !== 'confirmed')
        throw conflict('received', 'Something of it came already: add later freight to what its lots are worth.');
      const parts = await tx.query<{ lineId: number; packs: number; goodsE4: number }[]>(
        `select part.delivery_line_id as "lineId", part.packs, part.packs * coalesce(l.confirmed_price_e4, l.price_e4) as "goodsE4"
         from purchase_part part join purchase_line l on l.id = part.purchase_line_id
         where l.purchase_order_id = $1 order by part.delivery_line_id`,
        [id],
      );
      const shares = freightShares(parts, freightE4);
      for (const [index, { lineId, goodsE4 }] of parts.entries())
        await tx.update(DeliveryLine, { id: lineId }, { costE4: goodsE4 + shares[index]! });
      await tx.query('update purchase_order set freight_e4 = $2 where id = $1', [id, freightE4]);
      return orderByCode(tx, code);
    });
  }

  /** Gives up what has not come: its deliveries end, and promises on them are taken back and named. */
  cancel(who: string, code: string, why: string): Promise<PurchaseOrderCancelled> {
    return this.database.act({ who, why }, async (tx) => {
      const order = await lockOrder(tx, code, 'draft', 'sent', 'confirmed');
      await withdrawLetter(tx, this.outbox, order);
      const { status, deliveries } = await orderByCode(tx, code);
      if (status === 'received') throw conflict('wrong-status', `Purchase order ${code} is received.`);
      const broken: BrokenPromise[] = [];
      for (const delivery of deliveries)
        if (delivery.status === 'expected') broken.push(...(await endDelivery(tx, this.stock, delivery.code)));
      // what came of it came: then only the rest is given up, and the order is over
      if (status !== 'partly-received')
        await tx.query(`update purchase_order set status = 'cancelled' where id = $1`, [order.id]);
      return { order: await orderByCode(tx, code), broken };
    });
  }
}

/** What of the freight falls on each part, by its worth; where nothing costs anything, by packs. */
function freightShares(parts: readonly { goodsE4: number; packs: number }[], freightE4: number): number[] {
  const hasWorth = parts.some(({ goodsE4 }) => goodsE4 > 0);
  return largestRemainder(
    parts.map(({ goodsE4, packs }) => (hasWorth ? goodsE4 : packs)),
    freightE4,
  );
}

function sentLines(tx: EntityManager, orderId: number): Promise<SentLine[]> {
  return tx.query<SentLine[]>(
    `select l.id, l.position as line, l.pack_id as "packId", p.code as pack, i.code as item, l.packs,
       l.price_e4 as "priceE4"
     from purchase_line l join pack p on p.id = l.pack_id join item i on i.id = p.item_id
     where l.purchase_order_id = $1 order by l.position`,
    [orderId],
  );
}

/** What comes when, and the prices that differ. Throws 422 problems that point at the line. */
function confirmed(
  lines: readonly SentLine[],
  body: PurchaseOrderConfirm,
): { parts: Part[]; prices: Map<number, number> } {
  const said = new Map<number, NonNullable<PurchaseOrderConfirm['lines']>[number]>();
  for (const [index, row] of (body.lines ?? []).entries()) {
    if (!lines.some(({ line }) => line === row.line))
      throw invalid(`/lines/${index}/line`, `The order has ${lines.length} lines.`, 'unknown-line');
    if (said.has(row.line)) throw invalid(`/lines/${index}/line`, 'This line is said twice.', 'twice');
    said.set(row.line, row);
  }
  const prices = new Map<number, number>();
  const parts = lines.flatMap((of) => {
    const row = said.get(of.line);
    if (row?.priceE4 !== undefined) prices.set(of.line, row.priceE4);
    const priceE4 = row?.priceE4 ?? of.priceE4;
    return (row?.parts ?? [{ packs: of.packs, expectedOn: body.expectedOn }]).map((part) => {
      const goodsE4 = part.packs * priceE4;
      if (!Number.isSafeInteger(goodsE4)) throw invalid('/lines', 'They cost more than can be kept.', 'too-large');
      return { of, ...part, goodsE4 };
    });
  });
  if (parts.length === 0)
    throw invalid('/lines', 'Nothing of it comes: cancel the order instead.', 'nothing-confirmed');
  return { parts, prices };
}

async function expectParts(
  tx: EntityManager,
  order: LockedOrder,
  parts: readonly Part[],
  freightE4: number,
): Promise<void> {
  const shares = freightShares(parts, freightE4);
  const days = [...new Set(parts.map(({ expectedOn }) => expectedOn))].sort();
  for (const [index, expectedOn] of days.entries()) {
    const coming = parts
      .map((part, n) => ({ ...part, costE4: part.goodsE4 + shares[n]! }))
      .filter((part) => part.expectedOn === expectedOn);
    const delivery = await addDelivery(tx, {
      code: index === 0 ? order.code : `${order.code}.${index + 1}`,
      supplier: order.supplier,
      ...(order.sentOn === null ? {} : { orderedOn: order.sentOn }),
      expectedOn,
      lines: coming.map(({ of, packs, costE4 }) => ({ item: of.item, pack: of.pack, packs, costE4 })),
    });
    await tx.query(
      `insert into purchase_part (purchase_line_id, delivery_line_id, packs)
       select x.line_id, dl.id, x.packs
       from (select id, row_number() over (order by id) as n from delivery_line where delivery_id = $1) dl
         join rows from (jsonb_to_recordset($2::jsonb) as (line_id bigint, packs int)) with ordinality
           as x (line_id, packs, n) on x.n = dl.n`,
      [delivery.id, JSON.stringify(coming.map(({ of, packs }) => ({ line_id: of.id, packs })))],
    );
  }
}
