import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { AMOUNT_MAX, positiveAmountOf } from '../catalog/amount.js';
import type { Item } from '../catalog/item.entity.js';
import { itemsByCode } from '../catalog/items.service.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { addDays } from '../kernel/measure/day.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import type { BrokenPromise } from '../stock/stock.schema.js';
import { StockService } from '../stock/stock.service.js';
import { Delivery, DeliveryLine, Pack } from './purchasing.entity.js';
import type { Supplier } from './purchasing.entity.js';
import type {
  DeliveryCreate,
  DeliveryDate,
  DeliveryDated,
  DeliveryLineCreate,
  DeliveryPage,
  DeliveryQuery,
  DeliveryView,
} from './purchasing.schema.js';
import { supplierByCode } from './suppliers.service.js';

/** What is on its way, and when it comes. */
@Injectable()
export class DeliveriesService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
  ) {}

  list(query: DeliveryQuery): Promise<DeliveryPage> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<DeliveryView[]>(
        `${DELIVERY_ROWS} where ($1::text is null or d.status = $1) and d.code > $2 order by d.code limit $3`,
        [query.status ?? null, query.after ?? '', query.limit + 1],
      );
      const deliveries = rows.slice(0, query.limit);
      return { deliveries, next: rows.length > query.limit ? deliveries.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<DeliveryView> {
    return this.database.read((tx) => deliveryViewByCode(tx, code));
  }

  create(who: string, body: DeliveryCreate): Promise<DeliveryView> {
    return this.database.act({ who }, async (tx) => {
      await addDelivery(tx, body);
      return deliveryViewByCode(tx, body.code);
    });
  }

  /**
   * Expects a delivery on another day. Promises for a day before its goods can then be used are taken back and named,
   * so that the next plan sees those needs again.
   */
  redate(who: string, code: string, body: DeliveryDate): Promise<DeliveryDated> {
    return this.database.act({ who, why: body.why }, async (tx) => {
      const { delivery, lines } = await lockExpected(tx, code);
      await tx.update(Delivery, { id: delivery.id }, { expectedOn: body.expectedOn });
      const usableOn = addDays(body.expectedOn, (await workshopOf(tx)).receivingDays);
      const broken: BrokenPromise[] = [];
      for (const promise of await openPromises(tx, { deliveryLineIds: lines.map(({ id }) => id) }))
        if (promise.needOn < usableOn)
          broken.push(brokenOf(promise, await this.stock.freeReservation(tx, promise.id, promise.quantity)));
      return { delivery: await deliveryViewByCode(tx, code), broken };
    });
  }

  /** Nothing more of it comes. Promises on the rest are taken back and named, so that the next plan sees those needs again. */
  end(who: string, code: string, why: string): Promise<DeliveryDated> {
    return this.database.act({ who, why }, async (tx) => {
      const broken = await endDelivery(tx, this.stock, code);
      return { delivery: await deliveryViewByCode(tx, code), broken };
    });
  }
}

/**
 * Ends a delivery of which nothing more comes: received where something of it came, else cancelled. Promises on the rest
 * are taken back and named. Throws 404 and 409 problems.
 */
export async function endDelivery(tx: EntityManager, stock: StockService, code: string): Promise<BrokenPromise[]> {
  const { delivery, lines } = await lockExpected(tx, code);
  const broken: BrokenPromise[] = [];
  for (const promise of await openPromises(tx, { deliveryLineIds: lines.map(({ id }) => id) }))
    broken.push(brokenOf(promise, await stock.freeReservation(tx, promise.id, promise.quantity)));
  const status = lines.some(({ received }) => received > 0) ? 'received' : 'cancelled';
  await tx.update(Delivery, { id: delivery.id }, { status });
  return broken;
}

// Lines are numbered by their id: they are written once, in the order given.
const DELIVERY_ROWS = `
  select d.code, s.code as supplier, d.status, d.ordered_on as "orderedOn", d.expected_on as "expectedOn", (
    select coalesce(json_agg(json_build_object('line', l.line, 'item', l.item, 'pack', l.pack, 'packs', l.packs,
      'quantity', l.quantity, 'received', l.received, 'promised', l.promised, 'costE4', l.cost_e4,
      'expiresOn', l.expires_on) order by l.line), '[]')
    from (select row_number() over (order by dl.id) as line, i.code as item, p.code as pack, dl.packs, dl.quantity,
        dl.received, dl.promised, dl.cost_e4, dl.expires_on
      from delivery_line dl join item i on i.id = dl.item_id left join pack p on p.id = dl.pack_id
      where dl.delivery_id = d.id) l) as lines
  from delivery d join supplier s on s.id = d.supplier_id`;

export async function deliveryViewByCode(tx: EntityManager, code: string): Promise<DeliveryView> {
  const rows = await tx.query<DeliveryView[]>(`${DELIVERY_ROWS} where d.code = $1`, [code]);
  if (!rows[0]) throw notFound('delivery', code);
  return rows[0];
}

/** A delivery that is still to come, and its lines in order, all locked. Throws 404 and 409 problems. */
export async function lockExpected(
  tx: EntityManager,
  code: string,
): Promise<{ delivery: Delivery; lines: DeliveryLine[] }> {
  const delivery = await tx.findOne(Delivery, { where: { code }, lock: { mode: 'pessimistic_write' } });
  if (!delivery) throw notFound('delivery', code);
  if (delivery.status !== 'expected') throw conflict('not-expected', `Delivery ${code} is ${delivery.status}.`);
  const lines = await tx.find(DeliveryLine, {
    where: { deliveryId: delivery.id },
    order: { id: 'ASC' },
    lock: { mode: 'pessimistic_write' },
  });
  return { delivery, lines };
}

/** Adds an expected delivery. Throws 422 problems that point at the line. */
export async function addDelivery(tx: EntityManager, body: DeliveryCreate): Promise<Delivery> {
  const supplier = await supplierByCode(tx, body.supplier);
  const items = await itemsByCode(
    tx,
    body.lines.map(({ item }, index) => ({ code: item, pointer: `/lines/${index}/item` })),
  );
  const lines: Omit<DeliveryLine, 'id' | 'deliveryId' | 'promised'>[] = [];
  for (const [index, line] of body.lines.entries())
    lines.push(await readLine(tx, supplier, items.get(line.item)!, line, `/lines/${index}`));
  const delivery = tx.create(Delivery, {
    code: body.code,
    supplierId: supplier.id,
    status: 'expected',
    orderedOn: body.orderedOn ?? null,
    expectedOn: body.expectedOn,
  });
  await tx.insert(Delivery, delivery);
  await tx.insert(
    DeliveryLine,
    lines.map((line) => ({ ...line, deliveryId: delivery.id })),
  );
  return delivery;
}

async function readLine(
  tx: EntityManager,
  supplier: Supplier,
  item: Item,
  line: DeliveryLineCreate,
  at: string,
): Promise<Omit<DeliveryLine, 'id' | 'deliveryId' | 'promised'>> {
  if (!item.stocked) throw invalid(`${at}/item`, `${item.code} is not kept in stock.`, 'not-stocked');
  const rest = { itemId: item.id, received: 0, expiresOn: line.expiresOn ?? null };
  if (line.pack === undefined) {
    const quantity = positiveAmountOf(line.quantity!, item, `${at}/quantity`);
    return { ...rest, packId: null, packs: null, quantity, costE4: line.costE4 ?? 0 };
  }
  const pack = await tx.findOneBy(Pack, { supplierId: supplier.id, code: line.pack, itemId: item.id });
  if (!pack) throw invalid(`${at}/pack`, `${supplier.code} has no pack ${line.pack} of ${item.code}.`, 'unknown-pack');
  const packs = line.packs!;
  const quantity = packs * pack.size;
  if (quantity > AMOUNT_MAX) throw invalid(`${at}/packs`, 'This is more than any amount kept here.', 'too-large');
  const costE4 = line.costE4 ?? packs * pack.priceE4;
  if (!Number.isSafeInteger(costE4)) throw invalid(`${at}/packs`, 'They cost more than can be kept.', 'too-large');
  return { ...rest, packId: pack.id, packs, quantity, costE4 };
}

/** Until when what comes on these lines of a delivery will keep, as its supplier says. */
export async function setKeepsUntil(
  tx: EntityManager,
  deliveryId: number,
  lines: readonly { lineId: number; until: string }[],
): Promise<void> {
  await tx.query(
    `update delivery_line dl set expires_on = said.until
     from unnest($2::bigint[], $3::date[]) as said (id, until) where dl.id = said.id and dl.delivery_id = $1`,
    [deliveryId, lines.map(({ lineId }) => lineId), lines.map(({ until }) => until)],
  );
}
