import { Injectable } from '@nestjs/common';
import { cancelOpen, setStatus } from './order-status.js';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { addDays } from '../kernel/measure/day.js';
import { conflict, invalid, notFound, Problem } from '../platform/problem.js';
import type { ProblemPart } from '../platform/problem.js';
import { likePart } from '../platform/like-part.js';
import { itemsOfCodes } from './codes.js';
import type { CodeMeaning } from './codes.js';
import { freeExcess } from './open-quantity.js';
import { Channel, Customer, CustomerOrder, OrderLine } from './orders.entity.js';
import type { OrderChange, OrderCreate, OrderPage, OrderPath, OrderQuery, OrderView } from './orders.schema.js';
import { ASKED_FOR, OPEN_OF_ORDER, SUMMARY_COLUMNS, summaryOf, type SummaryRow } from './order-summary.js';
import { sayPrecedence, saysPrecedence } from './precedence.js';
import { QUANTITY_MAX } from './rows.js';
import type { Sends } from './sends.js';

/**
 * One page of orders, the newest first. `next` is the place in that order, not a number of the shop's.
 */
async function listOrders(tx: EntityManager, query: OrderQuery): Promise<OrderPage> {
  const rows = await tx.query<SummaryRow[]>(LIST, [
    afterId(query.after),
    query.status ?? null,
    likePart(query.search),
    query.limit + 1,
    query.channel ?? null,
  ]);
  const page = rows.slice(0, query.limit);
  return {
    orders: page.map(summaryOf),
    next: rows.length > query.limit ? String(page.at(-1)!.id) : null,
  };
}

/** What customers asked for. */
@Injectable()
export class OrdersService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  list(query: OrderQuery): Promise<OrderPage> {
    return this.database.read((tx) => listOrders(tx, query));
  }

  get(path: OrderPath): Promise<OrderView> {
    return this.database.read((tx) => readOrder(tx, path));
  }

  /** A channel and number in use are refused by the database. */
  async create(who: string, body: OrderCreate): Promise<OrderView> {
    const placedOn = body.placedOn ?? (await this.clock.today());
    return this.database.act({ who }, async (tx) => {
      const channel = await tx.findOneBy(Channel, { code: body.channel });
      if (!channel) throw invalid('/channel', `There is no channel ${body.channel}.`, 'unknown-channel');
      const lines = linesOf(body, await itemsOfCodes(tx, channel.code, codesOf(body)), placedOn, channel.promiseDays);
      const order = tx.create(CustomerOrder, {
        channel: channel.code,
        number: body.number,
        customerId: body.customer ? await customerNamed(tx, body.customer) : null,
        placedOn,
        status: body.paid ? 'confirmed' : 'waiting',
        weight: null,
        urgent: false,
        sends: body.sends ?? null,
      });
      await tx.insert(CustomerOrder, order);
      if (saysPrecedence(body)) await sayPrecedence(tx, order, body);
      await tx.insert(
        OrderLine,
        lines.map((line) => ({ ...line, orderId: order.id })),
      );
      return orderViewOf(tx, order);
    });
  }

  /** Paid, or agreed to be paid later: from now on it is planned. Confirming twice is no fault. */
  confirm(who: string, path: OrderPath): Promise<OrderView> {
    return this.database.act({ who }, async (tx) => {
      const order = await orderOf(tx, path, true);
      refuseClosed(order, 'there is nothing to confirm');
      if (order.status === 'waiting') await setStatus(tx, order, 'confirmed');
      return orderViewOf(tx, order);
    });
  }

  /** What it counts as beside others, whether it goes before them, and how it is sent: from now on the plan goes by it. */
  change(who: string, path: OrderPath, body: OrderChange): Promise<OrderView> {
    return this.database.act({ who }, async (tx) => {
      const order = await orderOf(tx, path, true);
      refuseClosed(order, 'nothing of it is planned');
      if (saysPrecedence(body)) await sayPrecedence(tx, order, body);
      if (body.sends !== undefined) await saySends(tx, order, body.sends);
      return orderViewOf(tx, order);
    });
  }

  /** Cancels what is still open and frees what was reserved for it. An order that shipped something ends fulfilled. */
  cancel(who: string, path: OrderPath): Promise<OrderView> {
    return this.database.act({ who }, async (tx) => {
      const order = await orderOf(tx, path, true);
      refuseClosed(order, 'nothing of it is open');
      const lines = await tx.find(OrderLine, {
        where: { orderId: order.id },
        order: { id: 'ASC' },
        lock: { mode: 'pessimistic_write' },
      });
      await cancelOpen(tx, order.id);
      await freeExcess(tx, [order.id]);
      const hasShipped = lines.some((line) => line.shipped > 0);
      // something of it was sent before it was paid: the states have no way from waiting to fulfilled
      if (hasShipped && order.status === 'waiting') await setStatus(tx, order, 'confirmed');
      await setStatus(tx, order, hasShipped ? 'fulfilled' : 'cancelled');
      return orderViewOf(tx, order);
    });
  }
}

/** Says of a locked order how it is sent; null: as its channel. */
async function saySends(tx: EntityManager, order: CustomerOrder, sends: Sends | null): Promise<void> {
  await tx.query('update customer_order set sends = $2 where id = $1', [order.id, sends]);
  Object.assign(order, { sends });
}

const LIST = `
  select ${SUMMARY_COLUMNS}
  from customer_order o join channel ch on ch.code = o.channel
    left join customer c on c.id = o.customer_id
    cross join lateral (${OPEN_OF_ORDER}) l
  where o.id < $1::bigint and ${ASKED_FOR}
  order by o.id desc limit $4`;

function afterId(after: string | undefined): number {
  if (after === undefined) return Number.MAX_SAFE_INTEGER;
  const id = Number(after);
  if (!/^\d{1,16}$/.test(after) || !Number.isSafeInteger(id))
    throw invalid('/query/after', 'Give "next" of the page before, unchanged.');
  return id;
}

/** Locked where it is about to change. Throws a 404 problem. */
async function orderOf(tx: EntityManager, { channel, number }: OrderPath, lock = false): Promise<CustomerOrder> {
  const order = await tx.findOne(CustomerOrder, {
    where: { channel, number },
    ...(lock && { lock: { mode: 'pessimistic_write' as const } }),
  });
  if (!order) throw notFound('order', `${number} of ${channel}`);
  return order;
}

/** Throws a 409 problem where nothing more happens to an order. `so` is the end of the sentence. */
function refuseClosed({ number, status }: CustomerOrder, so: string): void {
  if (status === 'fulfilled' || status === 'cancelled')
    throw conflict('wrong-state', `Order ${number} is ${status}, so ${so}.`);
}

/** The order as it is answered. Throws a 404 problem. */
export async function readOrder(tx: EntityManager, path: OrderPath): Promise<OrderView> {
  return orderViewOf(tx, await orderOf(tx, path));
}

/** The id of the customer of this name, whatever its case; added if there is none. */
async function customerNamed(tx: EntityManager, name: string): Promise<number> {
  await tx.query('insert into customer (name) values ($1) on conflict (lower(name)) do nothing', [name]);
  const [row] = await tx.query<{ id: number }[]>('select id from customer where lower(name) = lower($1)', [name]);
  return row!.id;
}

function codesOf(body: OrderCreate): string[] {
  return body.lines.map((line) => line.code);
}

/** The lines as they are kept. Throws a 422 problem that points at every line that cannot be. */
function linesOf(
  body: OrderCreate,
  meanings: ReadonlyMap<string, CodeMeaning>,
  placedOn: string,
  promiseDays: number,
): Omit<OrderLine, 'id' | 'orderId'>[] {
  const errors: ProblemPart[] = [];
  const occurrences = new Map<string, number>();
  const lines = body.lines.flatMap((line, at) => {
    const refuse = (field: string, code: string, detail: string): [] => {
      errors.push({ pointer: `/lines/${at}/${field}`, detail, code });
      return [];
    };
    const meaning = meanings.get(line.code);
    if (!meaning)
      return refuse(
        'code',
        'unknown-code',
        `There is no item and no shop code of ${body.channel} called ${line.code}.`,
      );
    if (meaning.measure === 'weighed') return refuse('code', 'weighed-item', `${line.code} is not sold by the piece.`);
    const quantity = positiveAmountOf(line.quantity, meaning, `/lines/${at}/quantity`) * meaning.units;
    if (quantity > QUANTITY_MAX) return refuse('quantity', 'too-large', `This is more than ${QUANTITY_MAX} units.`);
    const promised = addDays(placedOn, promiseDays);
    const notBefore = line.notBefore ?? null;
    const shipBy = line.shipBy ?? (notBefore !== null && notBefore > promised ? notBefore : promised);
    if (notBefore !== null && notBefore > shipBy)
      return refuse('notBefore', 'dates-cross', `Not before ${notBefore} is after ship by ${shipBy}.`);
    const occurrence = (occurrences.get(line.code) ?? 0) + 1;
    occurrences.set(line.code, occurrence);
    const { itemId } = meaning;
    return [{ shopCode: line.code, occurrence, itemId, quantity, shipped: 0, cancelled: 0, shipBy, notBefore }];
  });
  if (errors.length === 0) return lines;
  throw new Problem({ status: 422, code: errors[0]!.code!, detail: errors[0]!.detail, errors });
}

async function orderViewOf(tx: EntityManager, order: CustomerOrder): Promise<OrderView> {
  const customer = order.customerId === null ? null : await tx.findOneBy(Customer, { id: order.customerId });
  const lines = await tx.query<OrderView['lines']>(
    `select l.shop_code as code, l.occurrence, i.code as item, l.quantity, l.shipped, l.cancelled,
       l.quantity - l.shipped - l.cancelled as open, l.ship_by as "shipBy", l.not_before as "notBefore"
     from order_line l join item i on i.id = l.item_id where l.order_id = $1 order by l.id`,
    [order.id],
  );
  const { channel, number, placedOn, status, weight, urgent, sends } = order;
  const from = await tx.findOneByOrFail(Channel, { code: channel });
  const standing = { weight, countsAs: weight ?? from.weight, urgent, sends, sentAs: sends ?? from.sends };
  return { channel, number, customer: customer?.name ?? null, placedOn, status, ...standing, lines };
}
