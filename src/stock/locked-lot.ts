import type { EntityManager } from 'typeorm';
import type { LotDateKind } from '../catalog/item.entity.js';
import { addDays } from '../kernel/measure/day.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { conflict, notFound, Problem } from '../platform/problem.js';
import type { LotStatus } from './stock.entity.js';
import { amountText } from '../ui/amounts.js';

/** A lot nobody else can change until this act ends, with what its amounts are read with. */
export interface LockedLot {
  id: number;
  code: string;
  itemId: number;
  item: string;
  measure: Measure;
  densityUgPerMl: number | null;
  lotDateKind: LotDateKind;
  status: LotStatus;
  onHand: number;
  reserved: number;
  valueE4: number;
  expiresOn: string | null;
  cameOn: string;
  place: string;
}

/** Promises for these lines or inputs may be given back in the act, so their lots are locked with the named ones. */
interface Also {
  batchInputIds?: readonly number[];
  orderLineIds?: readonly number[];
}

/**
 * Locks all lots an act may touch, in ascending id order, and answers them by code. A code nobody knows is a 422 problem
 * that points at all of its places.
 */
export async function lockLots(
  tx: EntityManager,
  named: readonly { code: string; pointer: string }[],
  also: Also = {},
): Promise<Map<string, LockedLot>> {
  const rows = await tx.query<LockedLot[]>(
    `${LOCKED_LOT}
     where l.code = any($1::text[]) or l.id in (select lot_id from reservation
       where open > 0 and (batch_input_id = any($2::bigint[]) or order_line_id = any($3::bigint[])))
     order by l.id for update of l`,
    [named.map(({ code }) => code), also.batchInputIds ?? [], also.orderLineIds ?? []],
  );
  const lots = new Map(rows.map((lot) => [lot.code, lot]));
  const errors = named
    .filter(({ code }) => !lots.has(code))
    .map(({ code, pointer }) => ({ pointer, detail: `There is no lot ${code}.`, code: 'unknown-lot' }));
  if (errors.length > 0) throw new Problem({ status: 422, code: 'unknown-lot', detail: errors[0]!.detail, errors });
  return lots;
}

/** The one lot an act is about. Throws a 404 problem. */
export async function lockLot(tx: EntityManager, code: string): Promise<LockedLot> {
  const rows = await tx.query<LockedLot[]>(`${LOCKED_LOT} where l.code = $1 for update of l`, [code]);
  if (!rows[0]) throw notFound('lot', code);
  return rows[0];
}

/** As `lockLots`, by ids that are known to be there. */
export function lockLotsById(tx: EntityManager, ids: readonly number[]): Promise<LockedLot[]> {
  return tx.query<LockedLot[]>(`${LOCKED_LOT} where l.id = any($1::bigint[]) order by l.id for update of l`, [ids]);
}

const LOCKED_LOT = `
  select l.id, l.code, l.item_id as "itemId", i.code as item, i.measure, i.density_ug_per_ml as "densityUgPerMl",
    i.lot_date_kind as "lotDateKind", l.status, l.on_hand as "onHand", l.reserved, l.value_e4 as "valueE4",
    l.expires_on as "expiresOn", l.came_on as "cameOn", l.place
  from lot l join item i on i.id = l.item_id`;

/**
 * Throws 409 `lot-not-released` or `past-its-date` where the lot may not be used on that day, or not last `owedDays`
 * longer. The database refuses it too; here it is said before anything is given back for it.
 */
export function refuseUnusable(lot: LockedLot, day: string, owedDays = 0): void {
  if (lot.status !== 'released')
    throw conflict('lot-not-released', `Lot ${lot.code} is ${lot.status}, so nothing of it is used.`);
  if (lot.expiresOn === null || lot.expiresOn >= addDays(day, owedDays)) return;
  const owed = owedDays > 0 ? ` and ${owedDays} days more that the customer is owed` : '';
  throw conflict('past-its-date', `Lot ${lot.code} is good until ${lot.expiresOn}, not until ${day}${owed}.`);
}

/** Throws 409 `not-enough` for more than the book holds. */
export function refuseMoreThanHeld(lot: LockedLot, quantity: number): void {
  if (quantity <= lot.onHand) return;
  const [held, asked] = [amountText(lot.onHand, lot.measure), amountText(quantity, lot.measure)];
  const detail = `Lot ${lot.code} has ${held} on hand, not ${asked}. If there is more on the shelf, count it first.`;
  throw conflict('not-enough', detail);
}

/** Throws 409 `not-enough` for more than is free: on hand and promised to nobody. */
export function refuseMoreThanFree(lot: LockedLot, quantity: number): void {
  const free = lot.onHand - lot.reserved;
  if (quantity <= free) return;
  const [left, asked] = [amountText(free, lot.measure), amountText(quantity, lot.measure)];
  throw conflict('not-enough', `Lot ${lot.code} has ${left} free, not ${asked}.`);
}

/** Decides about a lot, where that is not how it is already; the database refuses a step its states do not allow. */
export async function setLotStatus(tx: EntityManager, lotId: number, status: LotStatus): Promise<void> {
  await tx.query('update lot set status = $2 where id = $1 and status <> $2', [lotId, status]);
}

/** Puts parts that stand elsewhere back to where the lot they were split off stands, or to another place. */
export async function putBack(tx: EntityManager, lotIds: readonly number[], place: string | null): Promise<void> {
  await tx.query(
    `update lot set place = coalesce($2, p.place) from lot p
     where p.id = lot.parent_lot_id and lot.on_hand > 0 and lot.id = any($1::bigint[])`,
    [lotIds, place],
  );
}
