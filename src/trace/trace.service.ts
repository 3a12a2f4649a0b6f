import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { GenealogyCircle, layersOf } from '../kernel/trace/genealogy.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { Parcel, TracedBatch, TracedDelivery, TracedLink, TracedLot, TraceView } from './trace.schema.js';
import type { Direction, ShippedRow } from './walk.js';
import { linkRows, LOTS_MAX, lookUp, shippedRows, walkLots } from './walk.js';
import { byText } from '../kernel/measure/text-order.js';

/** Where a lot came from and where it went. */
@Injectable()
export class TraceService {
  constructor(private readonly database: Database) {}

  /** The whole genealogy of a lot in one or both directions. Throws 404, and 409 `circle` where the data lead in one. */
  trace(code: string, direction: TraceView['direction']): Promise<TraceView> {
    return this.database.read((tx) => traceOf(tx, code, direction));
  }
}

/** As `TraceService.trace`, in the caller's snapshot: some ten statements, whatever the size of the genealogy. */
export async function traceOf(tx: EntityManager, code: string, direction: TraceView['direction']): Promise<TraceView> {
  await lookUp(tx);
  const start = await lotIdOf(tx, code);
  const walked: Direction[] = direction === 'both' ? ['back', 'forward'] : [direction];
  const found: Found = { lotIds: new Set([start]), batchIds: new Set(), rows: [], isWhole: true };
  for (const way of walked) await follow(tx, found, way, start);
  const lotIds = [...found.lotIds];
  const lots = await lotsById(tx, lotIds);
  const batches = await batchesById(tx, [...found.batchIds]);
  const back = walked.includes('back');
  const deliveries = back ? await deliveriesOf(tx, lotIds) : [];
  // backwards it is about sources: what else of them was sent to whom is another question
  const sent = walked.includes('forward') ? await shippedRows(tx, found.forwardIds ?? []) : [];
  const parcels = sent.map((row) => parcelOf(row, lots));
  const links = linksOf(found, { lots, batches, deliveries, parcels });
  const layers = layered(links, [`lot:${code}`]);
  return {
    lot: code,
    direction,
    isWhole: found.isWhole,
    lots: [...lots.values()]
      .map((lot) => ({ ...lot, layer: layers.get(`lot:${lot.code}`) ?? 0 }))
      .sort((a, b) => a.layer - b.layer || byText(a.code, b.code)),
    batches: [...batches.values()]
      .map((batch) => ({ ...batch, layer: layers.get(`batch:${batch.code}`) ?? 0 }))
      .sort((a, b) => a.layer - b.layer || byText(a.code, b.code)),
    deliveries,
    parcels,
    links,
  };
}

interface Found {
  lotIds: Set<number>;
  batchIds: Set<number>;
  rows: Awaited<ReturnType<typeof linkRows>>[];
  forwardIds?: number[];
  isWhole: boolean;
}

async function follow(tx: EntityManager, found: Found, way: Direction, start: number): Promise<void> {
  const walked = await walkLots(tx, way, [start]);
  if (walked.length > LOTS_MAX) found.isWhole = false;
  const ids = walked.slice(0, LOTS_MAX);
  const rows = await linkRows(tx, way, ids);
  for (const id of ids) found.lotIds.add(id);
  for (const { batchId } of rows.used) found.batchIds.add(batchId);
  for (const { batchId } of rows.outputs) found.batchIds.add(batchId);
  found.rows.push(rows);
  if (way === 'forward') found.forwardIds = ids;
}

interface Named {
  lots: Map<number, Omit<TracedLot, 'layer'>>;
  batches: Map<number, Omit<TracedBatch, 'layer'>>;
  deliveries: TracedDelivery[];
  parcels: Parcel[];
}

function linksOf({ rows }: Found, { lots, batches, deliveries, parcels }: Named): TracedLink[] {
  const links: TracedLink[] = deliveries.map(({ code, lot, quantity }) => ({
    from: `delivery:${code}`,
    to: `lot:${lot}`,
    kind: 'received',
    quantity,
  }));
  const lot = (id: number) => `lot:${lots.get(id)!.code}`;
  const batch = (id: number) => `batch:${batches.get(id)!.code}`;
  for (const { used, outputs, parts } of rows) {
    // of one lot for several inputs of a batch is one link
    const sums = new Map<string, TracedLink>();
    for (const row of used)
      add(sums, { from: lot(row.lotId), to: batch(row.batchId), kind: 'used', quantity: row.quantity });
    links.push(...sums.values());
    for (const row of outputs) {
      const kind = row.kind === 'made' ? 'made' : 'left over';
      links.push({ from: batch(row.batchId), to: lot(row.lotId), kind, quantity: row.quantity });
    }
    for (const row of parts) {
      const kind = row.kind === 'split' ? 'split' : 'returned';
      links.push({ from: lot(row.parentId), to: lot(row.lotId), kind, quantity: row.quantity });
    }
  }
  const sent = new Map<string, TracedLink>();
  for (const { lot: code, channel, number, quantity } of parcels)
    add(sent, { from: `lot:${code}`, to: `order:${channel}/${number}`, kind: 'shipped', quantity });
  return [...links, ...sent.values()];
}

function add(sums: Map<string, TracedLink>, link: TracedLink): void {
  const key = `${link.from}\n${link.to}`;
  const known = sums.get(key);
  if (known) known.quantity += link.quantity;
  else sums.set(key, link);
}

function layered(links: readonly TracedLink[], alone: readonly string[]): Map<string, number> {
  try {
    return layersOf(links, alone);
  } catch (error) {
    if (!(error instanceof GenealogyCircle)) throw error;
    throw conflict('circle', `${error.message}. Run the check of the data (npm run verify).`);
  }
}

/** Throws a 404 problem. */
export async function lotIdOf(tx: EntityManager, code: string): Promise<number> {
  const rows = await tx.query<{ id: number }[]>('select id from lot where code = $1', [code]);
  if (!rows[0]) throw notFound('lot', code);
  return rows[0].id;
}

function parcelOf(row: ShippedRow, lots: Named['lots']): Parcel {
  const { item, channel, number, customer, shipmentId: shipment, shippedOn, quantity, returned } = row;
  return { lot: lots.get(row.lotId)!.code, item, channel, number, customer, shipment, shippedOn, quantity, returned };
}

/** Lots as a trace shows them, by id. */
export async function lotsById(
  tx: EntityManager,
  ids: readonly number[],
): Promise<Map<number, Omit<TracedLot, 'layer'>>> {
  const rows = await tx.query<(Omit<TracedLot, 'layer'> & { id: number })[]>(
    `select l.id, l.code, i.code as item, i.name, i.kind, i.measure, i.family, l.status, l.on_hand as "onHand", l.reserved,
       l.place, l.came_on as "cameOn", l.expires_on as "expiresOn", s.code as supplier, l.supplier_lot as "supplierLot",
       l.certificate, p.code as "parentLot"
     from lot l join item i on i.id = l.item_id left join supplier s on s.id = l.supplier_id
       left join lot p on p.id = l.parent_lot_id
     where l.id = any($1::bigint[])`,
    [ids],
  );
  return new Map(rows.map(({ id, ...lot }) => [id, lot]));
}

async function batchesById(
  tx: EntityManager,
  ids: readonly number[],
): Promise<Map<number, Omit<TracedBatch, 'layer'>>> {
  const rows = await tx.query<(Omit<TracedBatch, 'layer'> & { id: number })[]>(
    `select b.id, b.code, i.code as item, b.day, v.code as vessel, b.status, b.is_rework as "isRework", b.made,
       f.put_in_mg as "putInMg", f.loss_mg as "lossMg"
     from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
       left join batch_finish f on f.batch_id = b.id
     where b.id = any($1::bigint[])`,
    [ids],
  );
  return new Map(rows.map(({ id, ...batch }) => [id, batch]));
}

function deliveriesOf(tx: EntityManager, lotIds: readonly number[]): Promise<TracedDelivery[]> {
  return tx.query<TracedDelivery[]>(
    `select d.code, s.code as supplier, l.code as lot, min(m.done_on) as "receivedOn", sum(m.quantity)::bigint as quantity
     from standing_movement m join lot l on l.id = m.lot_id join delivery_line dl on dl.id = m.delivery_line_id
       join delivery d on d.id = dl.delivery_id join supplier s on s.id = d.supplier_id
     where m.lot_id = any($1::bigint[]) and m.cause = 'receipt'
     group by d.code, s.code, l.code order by d.code, l.code`,
    [lotIds],
  );
}
