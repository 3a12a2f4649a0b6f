import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { addDays } from '../kernel/measure/day.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { FLAMMABLE_NOTICE } from '../labels/label-text.js';
import { flammable } from './flammable.js';
import { type Sends, SENT_AS } from '../orders/sends.js';
import { FAIR_CHANNEL } from './fair-channel.js';
import type { Pick, PickLine, PickList, PickOrder, PickQuery } from './pick.schema.js';

interface Row extends Omit<PickLine, 'picks' | 'packs' | 'short'> {
  id: number;
  channel: string;
  number: string;
  customer: string | null;
  urgent: boolean;
  sentAs: Sends;
  itemId: number;
  isSet: boolean;
}

interface ShelfLot {
  id: number;
  itemId: number;
  item: string;
  lot: string;
  place: string;
  expiresOn: string | null;
  free: number;
}

interface Promised {
  lotId: number;
  orderLineId: number;
  open: number;
}

interface Part {
  setId: number;
  itemId: number;
  amount: number;
}

/** What is left on each lot while the list is made, and what is promised on it to whom. */
interface Shelf {
  on: string;
  lots: Map<number, ShelfLot>;
  byItem: Map<number, ShelfLot[]>;
  promised: Map<number, Promised[]>;
  parts: Map<number, Part[]>;
}

/** What to fetch for the parcels that have to go. */
@Injectable()
export class PickService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Open orders, the urgent ones first, then by the day they have to go, each with the lots to take: what is set aside for a line, then what is free,
   * first expired first out, of lots that last as long as the customer is owed. What one order takes is no longer there
   * for the next, unless it is sent complete and cannot be. Sets of which none stands finished are put together of what is free.
   */
  async list(query: PickQuery): Promise<PickList> {
    const on = await this.clock.today();
    return this.database.read(async (tx) => {
      const orders = await pickOrders(tx, on, { until: query.until });
      const wanted = query.place?.toLowerCase();
      const stands = ({ lines }: PickOrder) =>
        lines.some(({ picks, packs }) =>
          [...picks, ...(packs?.parts ?? [])].some(({ place }) => place.toLowerCase() === wanted),
        );
      return { on, orders: wanted === undefined ? orders : orders.filter(stands) };
    });
  }

  /** One order as it stands in the list. Throws a 404 problem for one that has nothing open. */
  async order(channel: string, number: string): Promise<PickOrder & { on: string }> {
    const on = await this.clock.today();
    return this.database.read(async (tx) => {
      const found = (await pickOrders(tx, on, {})).find((one) => one.channel === channel && one.number === number);
      if (!found) throw notFound('order to be packed', `${number} of ${channel}`);
      return { ...found, on };
    });
  }
}

async function pickOrders(tx: EntityManager, on: string, { until }: { until?: string }): Promise<PickOrder[]> {
  const rows = await tx.query<Row[]>(LINES, [FAIR_CHANNEL]);
  const shelf = await shelfOf(tx, rows, on);
  const byOrder = grouped(rows, ({ channel, number }) => `${channel}/${number}`);
  const orders = [...byOrder.values()].map((ofOrder) => pickOrderOf(ofOrder, shelf));
  return orders.filter(({ shipBy }) => until === undefined || shipBy <= until);
}

function pickOrderOf(rows: readonly Row[], shelf: Shelf): PickOrder {
  const { channel, number, customer, urgent, sentAs, shipBy } = rows[0]!;
  const lines = rows.map((row) => pickLineOf(row, shelf));
  const canGo = ({ short, notBefore }: PickLine): boolean =>
    short === 0 && (notBefore === null || notBefore <= shelf.on);
  const isWhole = lines.every(canGo);
  // what goes all at once or not at all leaves to others what is free
  if (sentAs === 'complete' && !isWhole) giveBack(lines, shelf);
  const notices = lines.some(({ isFlammable }) => isFlammable) ? [FLAMMABLE_NOTICE] : [];
  return { channel, number, customer, urgent, sentAs, shipBy, lines, isWhole, notices };
}

function giveBack(lines: readonly PickLine[], { lots }: Shelf): void {
  const byCode = new Map([...lots.values()].map((lot) => [lot.lot, lot]));
  for (const { picks, packs } of lines)
    for (const { lot, quantity, isSetAside } of [...picks, ...(packs?.parts ?? [])])
      if (!isSetAside) byCode.get(lot)!.free += quantity;
}

/* In the order in which the shelf is shared out: what is urgent takes first, then the one that has to go first. */
const LINES = `
  select ol.id, o.channel, o.number, cu.name as customer, o.urgent, ${SENT_AS} as "sentAs", ol.shop_code as code, ol.occurrence, ol.item_id as "itemId",
    i.code as item, i.name, ol.quantity - ol.shipped - ol.cancelled as open, ol.ship_by as "shipBy",
    ol.not_before as "notBefore", i.owed_life_days as "owedDays", i.kind = 'set' as "isSet",
    ${flammable('i')} as "isFlammable"
  from order_line ol join customer_order o on o.id = ol.order_id join channel c on c.code = o.channel
    left join customer cu on cu.id = o.customer_id join item i on i.id = ol.item_id
  where o.status = 'confirmed' and o.channel <> $1 and ol.quantity > ol.shipped + ol.cancelled
  order by o.urgent desc, min(ol.ship_by) over (partition by o.id), o.id, ol.id`;

async function shelfOf(tx: EntityManager, rows: readonly Row[], on: string): Promise<Shelf> {
  const setIds = rows.filter(({ isSet }) => isSet).map(({ itemId }) => itemId);
  const parts = await tx.query<Part[]>(
    `select f.item_id as "setId", fl.item_id as "itemId", fl.amount
     from (select distinct on (item_id) id, item_id from formula
         where item_id = any($1::bigint[]) and not withdrawn order by item_id, version desc) f
       join formula_line fl on fl.formula_id = f.id and fl.basis = 'each' and fl.amount is not null
         join item i on i.id = fl.item_id and i.stocked`,
    [setIds],
  );
  const lots = await tx.query<ShelfLot[]>(
    `select l.id, l.item_id as "itemId", i.code as item, l.code as lot, l.place, l.expires_on as "expiresOn",
       l.on_hand - l.reserved as free
     from lot l join item i on i.id = l.item_id
     where l.item_id = any($1::bigint[]) and l.status = 'released' and l.on_hand > 0
       and (l.expires_on is null or l.expires_on >= $2)
     order by l.expires_on nulls last, l.came_on, l.id`,
    [[...rows.map(({ itemId }) => itemId), ...parts.map(({ itemId }) => itemId)], on],
  );
  const promised = await tx.query<Promised[]>(
    `select r.lot_id as "lotId", r.order_line_id as "orderLineId", sum(r.open)::bigint as open from reservation r
     where r.open > 0 and r.lot_id is not null and r.order_line_id = any($1::bigint[]) group by 1, 2`,
    [rows.map(({ id }) => id)],
  );
  return {
    on,
    lots: new Map(lots.map((lot) => [lot.id, lot])),
    byItem: grouped(lots, ({ itemId }) => itemId),
    promised: grouped(promised, ({ orderLineId }) => orderLineId),
    parts: grouped(parts, ({ setId }) => setId),
  };
}

function grouped<One, Key>(rows: readonly One[], keyOf: (row: One) => Key): Map<Key, One[]> {
  const groups = new Map<Key, One[]>();
  for (const row of rows) groups.set(keyOf(row), [...(groups.get(keyOf(row)) ?? []), row]);
  return groups;
}

function pickLineOf(row: Row, shelf: Shelf): PickLine {
  const { id, itemId, isSet } = row;
  const until = addDays(shelf.on, row.owedDays);
  const picks: Pick[] = [];
  let left = row.open;
  const take = (lot: ShelfLot, quantity: number, isSetAside: boolean): void => {
    if (quantity <= 0) return;
    picks.push({ item: lot.item, lot: lot.lot, place: lot.place, quantity, expiresOn: lot.expiresOn, isSetAside });
    left -= quantity;
  };
  for (const { lotId, open } of shelf.promised.get(id) ?? []) {
    const lot = shelf.lots.get(lotId);
    if (lot && lasts(lot, until)) take(lot, Math.min(open, left), true);
  }
  for (const lot of shelf.byItem.get(itemId) ?? []) {
    if (!lasts(lot, until)) continue;
    const quantity = Math.min(lot.free, left);
    lot.free -= Math.max(0, quantity);
    take(lot, quantity, false);
  }
  const packs = isSet && left > 0 ? packsOf(row, shelf, left, until) : null;
  const { code, occurrence, item, name, open, shipBy, notBefore, owedDays, isFlammable } = row;
  const line = { code, occurrence, item, name, open, shipBy, notBefore, owedDays, isFlammable };
  return { ...line, picks, packs, short: left - (packs?.quantity ?? 0) };
}

const lasts = (lot: ShelfLot, until: string): boolean => lot.expiresOn === null || lot.expiresOn >= until;

/** As many of a set as its parts allow that are free and last as long as the set's customer is owed. */
function packsOf({ itemId }: Row, shelf: Shelf, most: number, until: string): PickLine['packs'] {
  const parts = shelf.parts.get(itemId) ?? [];
  const lotsOf = (part: Part) => (shelf.byItem.get(part.itemId) ?? []).filter((lot) => lasts(lot, until));
  const quantity = parts.reduce((least, part) => {
    const free = lotsOf(part).reduce((sum, lot) => sum + lot.free, 0);
    return Math.min(least, Math.floor(free / part.amount));
  }, most);
  if (parts.length === 0 || quantity <= 0) return null;
  const taken: Pick[] = [];
  for (const part of parts) {
    let left = part.amount * quantity;
    for (const lot of lotsOf(part)) {
      const some = Math.min(left, lot.free);
      if (some <= 0) continue;
      lot.free -= some;
      left -= some;
      const { item, lot: code, place, expiresOn } = lot;
      taken.push({ item, lot: code, place, quantity: some, expiresOn, isSetAside: false });
    }
  }
  return { quantity, parts: taken };
}
