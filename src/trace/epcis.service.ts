import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { Database } from '../platform/database.js';
import { documentOf, eventTimeOf, Names, quantityElement } from './epcis-document.js';
import type { EpcisDocument, EpcisEvent, EventLot } from './epcis-document.js';
import type { EpcisQuery } from './epcis.schema.js';
import { lotIdOf } from './trace.service.js';
import { walkLots } from './walk.js';

/** What happened to lots, in the words of an open standard. */
@Injectable()
export class EpcisService {
  constructor(private readonly database: Database) {}

  /** Every event of a lot, and if asked of all lots it comes of or reached. Throws a 404 problem. */
  document(code: string, query: EpcisQuery): Promise<EpcisDocument> {
    return this.database.read(async (tx) => {
      const id = await lotIdOf(tx, code);
      const ids = new Set([id]);
      if (query.direction !== 'own')
        for (const way of query.direction === 'both' ? (['back', 'forward'] as const) : [query.direction])
          for (const one of await walkLots(tx, way, [id])) ids.add(one);
      const names = new Names((await workshopOf(tx)).name);
      const rows = await tx.query<Row[]>(ROWS, [[...ids]]);
      const batchIds = [...new Set(rows.flatMap(({ batchId }) => (batchId === null ? [] : [batchId])))];
      const batches = await tx.query<BatchRow[]>(BATCHES, [batchIds]);
      const [{ now }] = await tx.query<[{ now: Date }]>('select now()');
      return documentOf(names, code, now, [
        ...eventsOf(names, rows),
        ...transformations(names, batches),
        ...(await holds(tx, names, [...ids])),
      ]);
    });
  }
}

/** One entry of the ledger that was never corrected. */
interface Row extends EventLot {
  id: number;
  cause: string;
  quantity: number;
  doneOn: string;
  recordedAt: Date;
  batchId: number | null;
  shipmentId: number | null;
  order: string | null;
  delivery: string | null;
  supplier: string | null;
  supplierLot: string;
  expiresOn: string | null;
  other: EventLot | null;
}

const LOT = (of: string) => `json_build_object('code', ${of}.code, 'item', ${of}i.code, 'measure', ${of}i.measure,
  'gtin', ${of}t.gtin)`;

const ROWS = `
  select m.id, m.cause, m.quantity, m.done_on as "doneOn", m.recorded_at as "recordedAt", m.batch_id as "batchId",
    m.shipment_id as "shipmentId", o.channel || '/' || o.number as "order", d.code as delivery, s.code as supplier,
    l.supplier_lot as "supplierLot", l.expires_on as "expiresOn", l.code, li.code as item, li.measure, lt.gtin,
    case when p.id is not null then ${LOT('p')} end as other
  from standing_movement m join lot l on l.id = m.lot_id join item li on li.id = l.item_id
    left join trade_item lt on lt.item_id = li.id and lt.supplier_id is null
    left join supplier s on s.id = l.supplier_id
    left join order_line ol on ol.id = m.order_line_id left join customer_order o on o.id = ol.order_id
    left join delivery_line dl on dl.id = m.delivery_line_id left join delivery d on d.id = dl.delivery_id
    left join lot p on p.id = coalesce(m.other_lot_id, case m.cause when 'return' then l.parent_lot_id end)
    left join item pi on pi.id = p.item_id left join trade_item pt on pt.item_id = pi.id and pt.supplier_id is null
  where m.lot_id = any($1::bigint[])
  order by m.id`;

interface BatchRow {
  code: string;
  doneOn: string;
  recordedAt: Date;
  expiresOn: string | null;
  inputs: (EventLot & { quantity: number; input: number | null })[] | null;
  outputs: (EventLot & { quantity: number; kind: 'made' | 'leftover'; input: number | null })[] | null;
}

/* What went into a batch of every lot, by the input it was for, and every lot that came out. */
const BATCHES = `
  select b.code, coalesce(f.finished_on, b.day) as "doneOn", coalesce(f.created_at, b.created_at) as "recordedAt",
    (select l.expires_on from batch_output o join lot l on l.id = o.lot_id
      where o.batch_id = b.id and o.kind = 'made') as "expiresOn",
    (select json_agg(json_build_object('code', x.code, 'item', x.item, 'measure', x.measure, 'gtin', x.gtin,
        'quantity', x.quantity, 'input', x.batch_input_id) order by x.code)
      from (select l.code, li.code as item, li.measure, lt.gtin, m.batch_input_id, -sum(m.quantity)::bigint as quantity
        from standing_movement m join lot l on l.id = m.lot_id join item li on li.id = l.item_id
          left join trade_item lt on lt.item_id = li.id and lt.supplier_id is null
        where m.batch_id = b.id and m.cause = 'consumption' group by 1, 2, 3, 4, 5) x) as inputs,
    (select json_agg(json_build_object('code', x.code, 'item', x.item, 'measure', x.measure, 'gtin', x.gtin,
        'quantity', x.quantity, 'kind', x.kind, 'input', x.batch_input_id) order by x.code)
      from (select l.code, li.code as item, li.measure, lt.gtin, o.kind, o.batch_input_id,
          sum(m.quantity)::bigint as quantity
        from batch_output o join standing_movement m on m.lot_id = o.lot_id and m.cause = 'production'
          join lot l on l.id = o.lot_id join item li on li.id = l.item_id
          left join trade_item lt on lt.item_id = li.id and lt.supplier_id is null
        where o.batch_id = b.id group by 1, 2, 3, 4, 5, 6) x) as outputs
  from batch b left join batch_finish f on f.batch_id = b.id where b.id = any($1::bigint[]) order by b.code`;

/**
 * A batch is one transformation of everything that went in into what it made. What was left over of an input is another,
 * of the lots of that input alone: how much of it is of which lot nobody knows where there were several, so no amount is
 * said of them there, and what was weighed of them stands with the first.
 */
function transformations(names: Names, batches: readonly BatchRow[]): EpcisEvent[] {
  return batches.flatMap(({ code, doneOn, recordedAt, inputs, outputs, expiresOn }) => {
    const [put, out] = [inputs ?? [], outputs ?? []];
    const frame = {
      ...eventTimeOf(doneOn, recordedAt),
      eventTimeZoneOffset: '+00:00' as const,
      readPoint: names.place(),
    };
    const leftovers = out.filter(({ kind }) => kind === 'leftover');
    const taken = (lot: (typeof put)[number]) => {
      const rest = leftovers.find(({ input }) => input === lot.input);
      const isAlone = put.filter(({ input }) => input === lot.input).length === 1;
      return rest && isAlone ? lot.quantity - rest.quantity : lot.quantity;
    };
    const used = put.map((lot) => ({ lot, quantity: taken(lot) }));
    const made = out.filter(({ kind }) => kind === 'made');
    const main: EpcisEvent = {
      type: 'TransformationEvent',
      eventID: names.event('batch', code),
      ...frame,
      transformationID: names.own('batch', code),
      ...(put.length > 0 && {
        inputQuantityList: used.map(({ lot, quantity }) => quantityElement(names, lot, quantity)),
      }),
      ...(made.length > 0 && { outputQuantityList: made.map((lot) => quantityElement(names, lot, lot.quantity)) }),
      bizStep: 'commissioning',
      disposition: 'in_progress',
      ...(expiresOn !== null && made.length > 0 && { ilmd: { 'cbvmda:itemExpirationDate': expiresOn } }),
    };
    const rests = leftovers.map((rest): EpcisEvent => {
      const of = put.filter(({ input }) => input === rest.input);
      return {
        type: 'TransformationEvent',
        eventID: names.event('leftover', rest.code),
        ...frame,
        transformationID: names.own('leftover', rest.code),
        inputQuantityList: of.map((lot) =>
          of.length === 1 ? quantityElement(names, lot, rest.quantity) : { epcClass: names.lot(lot) },
        ),
        outputQuantityList: [quantityElement(names, rest, rest.quantity)],
        bizStep: 'repackaging',
        disposition: 'in_progress',
      };
    });
    return [...(put.length + made.length > 0 ? [main] : []), ...rests];
  });
}

/** What is no part of a batch: by cause, the business step and what it left the goods in. */
const STEPS: Record<string, { bizStep: string; disposition?: string; action: 'ADD' | 'OBSERVE' | 'DELETE' }> = {
  receipt: { bizStep: 'receiving', disposition: 'in_progress', action: 'ADD' },
  return: { bizStep: 'receiving', disposition: 'returned', action: 'OBSERVE' },
  'return-to-supplier': { bizStep: 'shipping', disposition: 'returned', action: 'OBSERVE' },
  sample: { bizStep: 'sampling', disposition: 'in_progress', action: 'OBSERVE' },
  trial: { bizStep: 'sampling', disposition: 'in_progress', action: 'OBSERVE' },
  'own-use': { bizStep: 'other', disposition: 'in_progress', action: 'OBSERVE' },
  scrap: { bizStep: 'destroying', disposition: 'destroyed', action: 'DELETE' },
  count: { bizStep: 'cycle_counting', disposition: 'in_progress', action: 'OBSERVE' },
  consumption: { bizStep: 'other', disposition: 'in_progress', action: 'OBSERVE' },
};

function eventsOf(names: Names, rows: readonly Row[]): EpcisEvent[] {
  const parcels = new Map<string, Row[]>();
  const events: EpcisEvent[] = [];
  for (const row of rows) {
    if (row.cause === 'shipment') {
      const key = row.shipmentId === null ? `entry ${row.id}` : String(row.shipmentId);
      parcels.set(key, [...(parcels.get(key) ?? []), row]);
    } else if (row.cause === 'split' && row.quantity > 0) events.push(partEvent(names, row));
    else if (row.cause === 'return' && row.other !== null)
      // it comes back under the label it left with, and is set apart as a lot of its own
      events.push(objectEvent(names, { ...row, ...row.other }), partEvent(names, row));
    else if (row.batchId === null && STEPS[row.cause]) events.push(objectEvent(names, row));
  }
  for (const [key, parts] of parcels) events.push(...parcelEvents(names, key, parts));
  return events;
}

function objectEvent(names: Names, row: Row): EpcisEvent {
  const { action, bizStep, disposition } = STEPS[row.cause]!;
  const orders = row.order === null ? [] : [{ type: 'po', bizTransaction: names.own('order', row.order) }];
  const deliveries =
    row.delivery === null ? [] : [{ type: 'recadv', bizTransaction: names.own('delivery', row.delivery) }];
  const transactions = [...orders, ...deliveries];
  const ilmd = {
    ...(row.expiresOn !== null && { 'cbvmda:itemExpirationDate': row.expiresOn }),
    ...(row.supplierLot !== '' && { 'cbvmda:lotNumber': row.supplierLot }),
  };
  return {
    type: 'ObjectEvent',
    eventID: names.event('movement', row.id),
    ...eventTimeOf(row.doneOn, row.recordedAt),
    eventTimeZoneOffset: '+00:00',
    action,
    bizStep,
    ...(disposition !== undefined && { disposition }),
    quantityList: [quantityElement(names, row, Math.abs(row.quantity))],
    readPoint: names.place(),
    ...(transactions.length > 0 && { bizTransactionList: transactions }),
    ...(row.cause === 'receipt' &&
      row.supplier !== null && {
        sourceList: [{ type: 'possessing_party', source: names.own('supplier', row.supplier) }],
      }),
    // what a lot is born with may only be said where it first appears, which is here: it gets our code
    ...(row.cause === 'receipt' && Object.keys(ilmd).length > 0 && { ilmd }),
  };
}

/** A part of a lot becomes a lot of its own. */
function partEvent(names: Names, row: Row): EpcisEvent {
  return {
    type: 'TransformationEvent',
    eventID: names.event('part', row.id),
    ...eventTimeOf(row.doneOn, row.recordedAt),
    eventTimeZoneOffset: '+00:00',
    transformationID: names.own('part', row.code),
    inputQuantityList: [quantityElement(names, row.other!, row.quantity)],
    outputQuantityList: [quantityElement(names, row, row.quantity)],
    bizStep: 'repackaging',
    disposition: 'in_progress',
    readPoint: names.place(),
  };
}

/** A parcel is packed, which makes it the parent of what is in it, and goes out. */
function parcelEvents(names: Names, key: string, rows: readonly Row[]): EpcisEvent[] {
  const [first] = rows as [Row];
  const parcel = names.own('parcel', key);
  const sums = new Map<string, { lot: Row; quantity: number }>();
  for (const row of rows) {
    const known = sums.get(row.code);
    if (known) known.quantity -= row.quantity;
    else sums.set(row.code, { lot: row, quantity: -row.quantity });
  }
  const quantityList = [...sums.values()].map(({ lot, quantity }) => quantityElement(names, lot, quantity));
  const common = {
    ...eventTimeOf(first.doneOn, first.recordedAt),
    eventTimeZoneOffset: '+00:00' as const,
    readPoint: names.place(),
    ...(first.order !== null && {
      bizTransactionList: [
        { type: 'po', bizTransaction: names.own('order', first.order) },
        { type: 'desadv', bizTransaction: names.own('shipment', key) },
      ],
    }),
  };
  return [
    {
      type: 'AggregationEvent',
      eventID: names.event('packed', key),
      ...common,
      parentID: parcel,
      action: 'ADD',
      childQuantityList: quantityList,
      bizStep: 'packing',
      disposition: 'in_progress',
    },
    {
      type: 'ObjectEvent',
      eventID: names.event('shipped', key),
      ...common,
      action: 'OBSERVE',
      epcList: [parcel],
      quantityList,
      bizStep: 'shipping',
      disposition: 'in_transit',
    },
  ];
}

/** Holds and releases; those of a recall say so. */
async function holds(tx: EntityManager, names: Names, lotIds: readonly number[]): Promise<EpcisEvent[]> {
  const rows = await tx.query<(EventLot & { id: number; to: string; at: Date; isRecall: boolean; onHand: number })[]>(
    `select s.id, s.to_status as to, s.done_at as at, exists (select from recall_hold where state_change_id = s.id) as "isRecall",
       l.code, i.code as item, i.measure, t.gtin, coalesce((select sum(m.quantity)::bigint from movement m
         where m.lot_id = l.id and m.recorded_at <= s.done_at), 0) as "onHand"
     from state_change s join lot l on l.id = s.subject_id join item i on i.id = l.item_id
       left join trade_item t on t.item_id = i.id and t.supplier_id is null
     where s.subject = 'lot' and s.subject_id = any($1::bigint[]) order by s.id`,
    [lotIds],
  );
  return rows
    .filter(({ onHand }) => onHand > 0)
    .map((row) => ({
      type: 'ObjectEvent',
      eventID: names.event('status', row.id),
      eventTime: row.at.toISOString(),
      eventTimeZoneOffset: '+00:00',
      action: 'OBSERVE',
      bizStep: row.to === 'released' ? 'inspecting' : 'holding',
      disposition: dispositionOf(row.to, row.isRecall),
      quantityList: [quantityElement(names, row, row.onHand)],
      readPoint: names.place(),
    }));
}

function dispositionOf(status: string, isRecall: boolean): string {
  if (isRecall) return 'recalled';
  return status === 'released' ? 'conformant' : status === 'rejected' ? 'non_conformant' : 'non_sellable_other';
}
