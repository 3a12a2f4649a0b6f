import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { AMOUNT_MAX } from '../catalog/amount.js';
import { freightOf } from '../kernel/buy/order-groups.js';
import { OutboxService } from '../messages/outbox.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { lockOrder, orderByCode, orderRows, PRICE_FOR, withdrawLetter } from './purchase-order-rows.js';
import type {
  PurchaseOrderChange,
  PurchaseOrderCreate,
  PurchaseOrderPage,
  PurchaseOrderQuery,
  PurchaseOrderSend,
  PurchaseOrderView,
} from './purchase-orders.schema.js';
import type { Supplier } from './purchasing.entity.js';
import { supplierByCode } from './suppliers.service.js';
import { count } from '../ui/words.js';

type Lines = PurchaseOrderCreate['lines'];

/** What is ordered from a supplier, until it is sent. */
@Injectable()
export class PurchaseOrdersService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly outbox: OutboxService,
  ) {}

  /** The newest first. */
  list(query: PurchaseOrderQuery): Promise<PurchaseOrderPage> {
    return this.database.read(async (tx) => {
      const rows = await orderRows(
        tx,
        `($1::text is null or o.shown = $1) and ($2::text is null or o.supplier = $2)
         and ($3::text is null or o.id < (select id from purchase_order where code = $3)) order by o.id desc limit $4`,
        [query.status ?? null, query.supplier ?? null, query.after ?? null, query.limit + 1],
      );
      const orders = rows.slice(0, query.limit);
      return { orders, next: rows.length > query.limit ? orders.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<PurchaseOrderView> {
    return this.database.read((tx) => orderByCode(tx, code));
  }

  async create(who: string, body: PurchaseOrderCreate): Promise<PurchaseOrderView> {
    const today = await this.clock.today();
    return this.database.act({ who }, (tx) => addOrder(tx, body, today));
  }

  /**
   * A draft with these lines: where one to the supplier is open, packs not on it yet are added to it, so that nothing is
   * asked for twice; else a new one.
   */
  async addToDraft(who: string, body: Pick<PurchaseOrderCreate, 'supplier' | 'lines'>): Promise<PurchaseOrderView> {
    const today = await this.clock.today();
    return this.database.act({ who }, async (tx) => {
      const supplier = await supplierByCode(tx, body.supplier);
      const [draft] = await tx.query<{ id: number; code: string }[]>(
        `select id, code from purchase_order where supplier_id = $1 and status = 'draft' order by id desc limit 1
         for update`,
        [supplier.id],
      );
      if (!draft) return addOrder(tx, body, today);
      const { lines } = await orderByCode(tx, draft.code);
      const known = new Set(lines.map(({ pack }) => pack));
      const more = body.lines.filter(({ pack }) => !known.has(pack));
      await writeLines(tx, draft.id, supplier, more, lines.length);
      return orderByCode(tx, draft.code);
    });
  }

  /** Changes a draft: lines, where given, take the place of all it has. */
  change(who: string, code: string, body: PurchaseOrderChange): Promise<PurchaseOrderView> {
    return this.database.act({ who }, async (tx) => {
      const order = await lockOrder(tx, code, 'draft');
      if (body.lines) {
        await tx.query('delete from purchase_line where purchase_order_id = $1', [order.id]);
        await writeLines(tx, order.id, { id: order.supplierId, code: order.supplier }, body.lines, 0);
      }
      await tx.query(
        `update purchase_order set note = coalesce($2, note), freight_e4 = coalesce($3, freight_e4) where id = $1`,
        [order.id, body.note ?? null, body.freightE4 ?? null],
      );
      return orderByCode(tx, code);
    });
  }

  /** Says that the supplier has it now. From here on it counts as coming, after the lead time until it is confirmed. */
  async send(who: string, code: string, body: PurchaseOrderSend): Promise<PurchaseOrderView> {
    const today = await this.clock.today();
    const sentOn = body.sentOn ?? today;
    if (sentOn > today) throw invalid('/sentOn', `This day is still to come; today is ${today}.`);
    return this.database.act({ who }, async (tx) => {
      const { id } = await lockOrder(tx, code, 'draft');
      await tx.query(`update purchase_order set status = 'sent', sent_on = $2, sent_by = $3 where id = $1`, [
        id,
        sentOn,
        body.sentBy,
      ]);
      return orderByCode(tx, code);
    });
  }

  /** It was not sent after all, or has to be asked for anew: it is a draft again, and an email that waits never leaves. */
  takeBack(who: string, code: string): Promise<PurchaseOrderView> {
    return this.database.act({ who, why: 'taken back' }, async (tx) => {
      const order = await lockOrder(tx, code, 'sent');
      await withdrawLetter(tx, this.outbox, order);
      await tx.query(
        `update purchase_order set status = 'draft', sent_on = null, sent_by = null, message_id = null where id = $1`,
        [order.id],
      );
      return orderByCode(tx, code);
    });
  }
}

async function addOrder(tx: EntityManager, body: PurchaseOrderCreate, today: string): Promise<PurchaseOrderView> {
  const supplier = await supplierByCode(tx, body.supplier);
  const code = await nextOrderCode(tx, today);
  const rows = await tx.query<{ id: number }[]>(
    `insert into purchase_order (code, supplier_id, note, freight_e4) values ($1, $2, $3, $4) returning id`,
    [code, supplier.id, body.note ?? '', body.freightE4 ?? 0],
  );
  const { id } = rows[0]!;
  await writeLines(tx, id, supplier, body.lines, 0);
  const order = await orderByCode(tx, code);
  if (body.freightE4 !== undefined) return order;
  // by the supplier's terms, of what it comes to
  await tx.query('update purchase_order set freight_e4 = $2 where id = $1', [id, freightOf(supplier, order.goodsE4)]);
  return orderByCode(tx, code);
}

/** Adds lines after the first `before`. Throws 422 problems that point at the line. */
async function writeLines(
  tx: EntityManager,
  orderId: number,
  supplier: Pick<Supplier, 'id' | 'code'>,
  lines: Lines,
  before: number,
): Promise<void> {
  if (lines.length === 0) return;
  const asked = JSON.stringify(lines.map(({ pack, packs }, index) => ({ index, pack, packs })));
  const rows = await tx.query<
    (
      | { id: number; size: number; leastPacks: number; priceE4: number }
      | { id: null; size: null; leastPacks: null; priceE4: null }
    )[]
  >(
    `select p.id, p.size, p.least_packs as "leastPacks", ${PRICE_FOR('x.packs')} as "priceE4"
     from jsonb_to_recordset($2::jsonb) as x (index int, pack text, packs int)
       left join pack p on p.supplier_id = $1 and p.code = x.pack and not p.withdrawn order by x.index`,
    [supplier.id, asked],
  );
  for (const [index, { id, size, leastPacks, priceE4 }] of rows.entries()) {
    const { pack, packs } = lines[index]!;
    if (id === null) throw invalid(`/lines/${index}/pack`, `${supplier.code} sells no pack ${pack}.`, 'unknown-pack');
    if (packs < leastPacks)
      throw invalid(
        `/lines/${index}/packs`,
        `${supplier.code} sells at least ${count(leastPacks, 'pack')} of ${pack}.`,
        'too-few',
      );
    if (packs * size > AMOUNT_MAX)
      throw invalid(`/lines/${index}/packs`, 'This is more than any amount kept here.', 'too-large');
    const costE4 = packs * (lines[index]!.priceE4 ?? priceE4);
    if (!Number.isSafeInteger(costE4)) throw invalid(`/lines/${index}/packs`, 'They cost more than can be kept.');
  }
  const written = rows.map(({ id, priceE4 }, index) => ({
    position: before + index + 1,
    pack_id: id,
    packs: lines[index]!.packs,
    price_e4: lines[index]!.priceE4 ?? priceE4,
  }));
  await tx.query(
    `insert into purchase_line (purchase_order_id, position, pack_id, packs, price_e4)
     select $1, position, pack_id, packs, price_e4
     from jsonb_to_recordset($2::jsonb) as x (position int, pack_id bigint, packs int, price_e4 bigint)`,
    [orderId, JSON.stringify(written)],
  );
}

/** PO, two-digit year, serial of the year. */
async function nextOrderCode(tx: EntityManager, today: string): Promise<string> {
  const prefix = `PO${today.slice(2, 4)}-`;
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.purchase-order-code'))`);
  const rows = await tx.query<{ last: number }[]>(
    `select coalesce(max(substring(code from 6)::int), 0) as last from purchase_order
     where code like $1 || '%' and substring(code from 6) ~ '^[0-9]{4,9}$'`,
    [prefix],
  );
  return prefix + String(rows[0]!.last + 1).padStart(4, '0');
}
