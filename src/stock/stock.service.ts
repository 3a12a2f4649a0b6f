import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Item } from '../catalog/item.entity.js';
import { addDays, dayOf } from '../kernel/measure/day.js';
import { prepared } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import type { Cause, LotStatus } from './stock.entity.js';
import { Lot, Movement } from './stock.entity.js';

const SERIAL_DIGITS_LEAST = 3;

/** What arrives, is made or is split off: the new lot and the first entry of its ledger. */
export interface Receipt {
  item: Pick<Item, 'id' | 'code' | 'shelfLifeDays' | 'quarantinedOnArrival' | 'stocked'>;
  /** Milligrams or units, above zero. */
  quantity: number;
  cause: Extract<Cause, 'receipt' | 'production' | 'return'>;
  cameOn: string;
  /** Its own code; one of our own is made when left out. */
  code?: string;
  /** Left out, the item's shelf life counts from the day it came; null never expires. */
  expiresOn?: string | null;
  /** Left out, quarantine where the item asks for it, else released. */
  status?: LotStatus;
  /** What all of it cost. */
  valueE4?: number;
  place?: string;
  supplierId?: number | null;
  supplierLot?: string;
  certificate?: string;
  reason?: string;
  batchId?: number;
  deliveryLineId?: number;
  orderLineId?: number;
  /** The lot it came out of, for what comes back. */
  parentLotId?: number;
}

export interface ReceivedLot {
  id: number;
  code: string;
  status: LotStatus;
  expiresOn: string | null;
}

/** One entry of the ledger. `quantity` is negative for what leaves; its value is then set by the database. */
export interface NewMovement {
  lotId: number;
  cause: Cause;
  quantity: number;
  doneOn: string;
  valueE4?: number;
  reason?: string;
  reservationId?: number;
  batchId?: number;
  orderLineId?: number;
  deliveryLineId?: number;
  otherLotId?: number;
  reversesId?: number;
  batchInputId?: number;
  shipmentId?: number;
  priceDifferenceId?: number;
  foundId?: number;
}

/** A promise: exactly one source (lot, batch, delivery line) to exactly one target (batch input, order line). */
export interface NewReservation {
  runId?: number | null;
  lotId?: number | null;
  batchId?: number | null;
  deliveryLineId?: number | null;
  batchInputId?: number | null;
  orderLineId?: number | null;
  quantity: number;
  needOn: string;
}

/** The ledger, written inside the caller's transaction. The database keeps every balance and refuses what breaks one. */
@Injectable()
export class StockService {
  /** A new lot with everything that came. Throws a 422 problem for an item that is not kept in lots. */
  async receive(tx: EntityManager, receipt: Receipt): Promise<ReceivedLot> {
    return (await this.receiveAll(tx, [receipt]))[0]!;
  }

  /** Many at once; answers their lots in the order given. */
  async receiveAll(tx: EntityManager, receipts: readonly Receipt[]): Promise<ReceivedLot[]> {
    const codes = await lotCodes(tx, receipts);
    const lots = receipts.map((receipt, index) => newLot(tx, receipt, codes[index]!));
    await tx.insert(Lot, lots);
    await this.moveLots(
      tx,
      receipts.map((receipt, index) => ({
        lotId: lots[index]!.id,
        cause: receipt.cause,
        quantity: receipt.quantity,
        doneOn: receipt.cameOn,
        valueE4: receipt.valueE4,
        reason: receipt.reason,
        batchId: receipt.batchId,
        deliveryLineId: receipt.deliveryLineId,
        orderLineId: receipt.orderLineId,
      })),
    );
    return lots.map(({ id, code, status, expiresOn }) => ({ id, code, status, expiresOn }));
  }

  /** Posts one movement; answers its id. The database refuses one that would break the lot's balance or its date. */
  async moveLot(tx: EntityManager, movement: NewMovement): Promise<number> {
    return (await this.moveLots(tx, [movement]))[0]!;
  }

  /** Posts many in the order given, which is by ascending lot id where other acts may do the same; answers their ids. */
  async moveLots(tx: EntityManager, movements: readonly NewMovement[]): Promise<number[]> {
    const rows = movements.map((movement) =>
      tx.create(Movement, {
        lotId: movement.lotId,
        cause: movement.cause,
        quantity: movement.quantity,
        valueE4: movement.valueE4 ?? 0,
        doneOn: movement.doneOn,
        reason: movement.reason ?? '',
        reservationId: movement.reservationId ?? null,
        batchId: movement.batchId ?? null,
        orderLineId: movement.orderLineId ?? null,
        deliveryLineId: movement.deliveryLineId ?? null,
        otherLotId: movement.otherLotId ?? null,
        reversesId: movement.reversesId ?? null,
        batchInputId: movement.batchInputId ?? null,
        shipmentId: movement.shipmentId ?? null,
        priceDifferenceId: movement.priceDifferenceId ?? null,
        foundId: movement.foundId ?? null,
      }),
    );
    await tx.insert(Movement, rows);
    return rows.map(({ id }) => id);
  }

  /**
   * Promises many quantities at once; answers their ids in the order given. Sources are locked lots first, then
   * batches, then delivery lines, each in ascending id order, whatever the order given, so that two acts never wait
   * for each other in a circle. One that its source can no longer give refuses all.
   */
  async reserve(tx: EntityManager, reservations: readonly NewReservation[]): Promise<number[]> {
    if (reservations.length === 0) return [];
    const order = reservations.map((_, index) => index).sort((a, b) => bySource(reservations[a]!, reservations[b]!));
    const rows = order.map((index) => {
      const r = reservations[index]!;
      return {
        run_id: r.runId ?? null,
        lot_id: r.lotId ?? null,
        batch_id: r.batchId ?? null,
        delivery_line_id: r.deliveryLineId ?? null,
        batch_input_id: r.batchInputId ?? null,
        order_line_id: r.orderLineId ?? null,
        quantity: r.quantity,
        need_on: r.needOn,
      };
    });
    const inserted = await prepared<{ id: number }>(tx, RESERVE, [JSON.stringify(rows)]);
    const ids: number[] = Array.from({ length: reservations.length });
    order.forEach((index, at) => (ids[index] = inserted[at]!.id));
    return ids;
  }

  /** Gives back up to `amount` of a reservation; answers how much was still open and is now free. */
  async freeReservation(tx: EntityManager, id: number, amount: number): Promise<number> {
    const rows = await tx.query<{ freed: number }[]>('select free_reservation($1, $2) as freed', [id, amount]);
    return rows[0]!.freed;
  }
}

const RESERVE = {
  name: 'reserve',
  text: `
    insert into reservation (run_id, lot_id, batch_id, delivery_line_id, batch_input_id, order_line_id, quantity, open,
      need_on)
    select r.run_id, r.lot_id, r.batch_id, r.delivery_line_id, r.batch_input_id, r.order_line_id, r.quantity, r.quantity,
      r.need_on
    from rows from (jsonb_to_recordset($1::jsonb) as (run_id bigint, lot_id bigint, batch_id bigint,
      delivery_line_id bigint, batch_input_id bigint, order_line_id bigint, quantity bigint, need_on date))
      with ordinality as r (run_id, lot_id, batch_id, delivery_line_id, batch_input_id, order_line_id, quantity, need_on,
      place)
    order by r.place returning id`,
};

function bySource(a: NewReservation, b: NewReservation): number {
  const kind = (r: NewReservation) => ((r.lotId ?? null) !== null ? 0 : (r.batchId ?? null) !== null ? 1 : 2);
  const id = (r: NewReservation) => r.lotId ?? r.batchId ?? r.deliveryLineId ?? 0;
  return kind(a) - kind(b) || id(a) - id(b);
}

function newLot(tx: EntityManager, receipt: Receipt, code: string): Lot {
  const { item, cameOn } = receipt;
  if (!item.stocked) throw invalid('/item', `${item.code} is not kept in stock, so no lot of it is received.`);
  const lifeEnd = item.shelfLifeDays === null ? null : addDays(cameOn, item.shelfLifeDays);
  return tx.create(Lot, {
    code,
    itemId: item.id,
    status: receipt.status ?? (item.quarantinedOnArrival ? 'quarantine' : 'released'),
    expiresOn: receipt.expiresOn === undefined ? lifeEnd : receipt.expiresOn,
    cameOn,
    place: receipt.place ?? '',
    supplierId: receipt.supplierId ?? null,
    supplierLot: receipt.supplierLot ?? '',
    certificate: receipt.certificate ?? '',
    parentLotId: receipt.parentLotId ?? null,
    batchId: receipt.batchId ?? null,
  });
}

/** The code of each lot: its own, or the next of ours for the day it came. */
async function lotCodes(tx: EntityManager, receipts: readonly Receipt[]): Promise<string[]> {
  const next = new Map<string, number>();
  const days = new Set(receipts.filter(({ code }) => code === undefined).map(({ cameOn }) => cameOn));
  for (const day of [...days].sort()) next.set(day, await nextSerial(tx, day));
  return receipts.map(({ code, cameOn }) => {
    if (code !== undefined) return code;
    const serial = next.get(cameOn)!;
    next.set(cameOn, serial + 1);
    return ownLotCode(cameOn, serial);
  });
}

/** The next code of our own for one lot of a day. */
export async function nextLotCode(tx: EntityManager, day: string): Promise<string> {
  return ownLotCode(day, await nextSerial(tx, day));
}

/** The lock makes whoever asks next for this day wait until this act is written or given up. */
async function nextSerial(tx: EntityManager, day: string): Promise<number> {
  const prefix = lotCodePrefix(day);
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.lot-code'), hashtext($1))`, [prefix]);
  const rows = await tx.query<{ last: number }[]>(
    `select coalesce(max(substring(code from 7)::int), 0) as last from lot
     where code like $1 || '%' and substring(code from 7) ~ '^[0-9]{3,9}$'`,
    [prefix],
  );
  return rows[0]!.last + 1;
}

/**
 * The code of our own for the `serial`-th lot of a day: two-digit year, day of the year, serial. `26041-001` is the
 * first of 10 February 2026.
 */
export function ownLotCode(day: string, serial: number): string {
  return lotCodePrefix(day) + String(serial).padStart(SERIAL_DIGITS_LEAST, '0');
}

function lotCodePrefix(day: string): string {
  const dayOfYear = dayOf(day) - dayOf(`${day.slice(0, 4)}-01-01`) + 1;
  return `${day.slice(2, 4)}${String(dayOfYear).padStart(3, '0')}-`;
}
