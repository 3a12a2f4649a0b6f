import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Snapshot } from '../kernel/snapshot.js';

/** A snapshot with what identifies it, and the database ids its readable keys stand for. */
export interface TakenSnapshot {
  snapshot: Snapshot;
  /** sha-256 of the snapshot as JSON. */
  hash: string;
  ids: {
    lines: Map<string, number>;
    lots: Map<string, number>;
    deliveries: Map<string, number>;
    making: Map<string, number>;
  };
}

type Ids = Record<'lines' | 'lots' | 'deliveries' | 'making', Record<string, number>>;

/** Reads everything the plan is made from, in one statement, so that all of it is from one moment. */
@Injectable()
export class SnapshotService {
  async take(tx: EntityManager, today: string, weekStart: string): Promise<TakenSnapshot> {
    const rows = await tx.query<{ snapshot: Omit<Snapshot, 'today' | 'weekStart'>; ids: Ids }[]>(SNAPSHOT, [today]);
    const { snapshot: read, ids } = rows[0]!;
    const snapshot: Snapshot = { today, weekStart, ...read };
    return {
      snapshot,
      hash: createHash('sha256').update(JSON.stringify(snapshot)).digest('hex'),
      ids: {
        lines: new Map(Object.entries(ids.lines)),
        lots: new Map(Object.entries(ids.lots)),
        deliveries: new Map(Object.entries(ids.deliveries)),
        making: new Map(Object.entries(ids.making)),
      },
    };
  }
}

/** Days of history that make past use worth judging by. */
const HISTORY_DAYS = 28;

/*
 * `open_line` leaves out what is reserved already. A lot's free stock is released, unreserved, and less what the
 * container keeps. A batch of a committed run counts as in the making until its output is a lot.
 */
const SNAPSHOT = `
  with open_line as materialized (
    select l.id, o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence as key, i.code as item,
      l.quantity - l.shipped - l.cancelled
        - coalesce((select sum(r.open) from reservation r where r.order_line_id = l.id), 0)::bigint as quantity,
      l.ship_by
    from order_line l join customer_order o on o.id = l.order_id join item i on i.id = l.item_id
    where o.status = 'confirmed' and l.quantity > l.shipped + l.cancelled
  ), usable_lot as materialized (
    select l.id, l.code, i.code as item, greatest(0, l.on_hand - l.reserved - i.heel) as free, l.on_hand, l.value_e4,
      l.expires_on
    from lot l join item i on i.id = l.item_id
    where l.on_hand > 0 and l.status = 'released'
  ), coming as materialized (
    select dl.id, d.code || '#' || dl.id as key, i.code as item,
      greatest(0, dl.quantity - dl.received - dl.promised) as free, d.expected_on, dl.expires_on
    from delivery_line dl join delivery d on d.id = dl.delivery_id join item i on i.id = dl.item_id
    where d.status = 'expected' and dl.quantity > dl.received
  ), making as materialized (
    select b.id, b.code, i.code as item, b.output - b.promised as free, b.day, b.ready_on, b.emptied_on,
      v.code as vessel, b.minutes, b.expires_on
    from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
    where b.status in ('planned', 'reserved', 'weighed', 'resting')
  ), current_formula as materialized (
    select distinct on (f.item_id) f.*, i.code as item
    from formula f join item i on i.id = f.item_id
    where not f.withdrawn order by f.item_id, f.version desc
  ), past_use as materialized (
    select l.item_id, min(m.done_on) as first_on,
      sum(case when m.cause in ('consumption', 'shipment', 'own-use') and m.done_on > $1::date - ${HISTORY_DAYS}
        then -m.quantity else 0 end)::bigint as used
    from movement m join lot l on l.id = m.lot_id
    where m.cause in ('consumption', 'shipment', 'own-use') group by l.item_id
  )
  select json_build_object(
    'workshop', coalesce((select json_build_object(
        'benchMinutes', w.bench_minutes,
        'closedDays', coalesce((select json_agg(day order by day) from closed_day where day >= $1::date), '[]'),
        'slackDays', w.slack_days, 'receivingDays', w.receiving_days,
        'scaleStepMg', w.scale_step_mg, 'scaleLeastMg', w.scale_least_mg) from workshop w),
      '{"benchMinutes":[480,480,480,480,480,0,0],"closedDays":[],"slackDays":1,"receivingDays":1,
        "scaleStepMg":100,"scaleLeastMg":500}'::json),
    'items', (select coalesce(json_agg(json_build_object(
        'code', code, 'kind', kind, 'measure', measure, 'policy', policy, 'target', target,
        'seasonFrom', season_from, 'seasonTo', season_to, 'stocked', stocked,
        'shelfLifeDays', shelf_life_days, 'owedLifeDays', owed_life_days) order by code), '[]') from item),
    'formulas', (select coalesce(json_agg(json_build_object(
        'item', f.item, 'version', f.version, 'vesselKind', f.vessel_kind, 'batchMin', f.batch_min,
        'batchMax', f.batch_max, 'batchMultiple', f.batch_multiple, 'lossPpb', f.loss_ppb,
        'residueMg', f.residue_mg, 'minutesBatch', f.minutes_batch, 'secondsUnit', f.seconds_unit,
        'restDays', f.rest_days, 'lines', (select coalesce(json_agg(json_build_object(
            'position', fl.position, 'item', li.code,
            'basis', case when fl.part_ppb is null then fl.basis else 'part' end,
            'amount', coalesce(fl.part_ppb, fl.amount), 'step', fl.step) order by fl.position), '[]')
          from formula_line fl join item li on li.id = fl.item_id where fl.formula_id = f.id)) order by f.item), '[]')
      from current_formula f),
    'vessels', (select coalesce(json_agg(json_build_object(
        'code', code, 'kind', kind, 'capacityMg', capacity_mg) order by code), '[]') from vessel),
    'lots', (select coalesce(json_agg(json_build_object(
        'code', code, 'item', item, 'free', free, 'onHand', on_hand, 'valueE4', value_e4,
        'expiresOn', expires_on) order by code), '[]') from usable_lot),
    'deliveries', (select coalesce(json_agg(json_build_object(
        'key', key, 'item', item, 'free', free, 'day', expected_on, 'expiresOn', expires_on) order by key), '[]')
      from coming),
    'making', (select coalesce(json_agg(json_build_object(
        'code', code, 'item', item, 'free', free, 'day', day, 'readyOn', ready_on, 'emptiedOn', emptied_on,
        'vessel', vessel, 'minutes', minutes, 'expiresOn', expires_on) order by code), '[]') from making),
    'lines', (select coalesce(json_agg(json_build_object(
        'key', key, 'item', item, 'quantity', quantity, 'shipBy', ship_by) order by key), '[]')
      from open_line where quantity > 0),
    'packs', (select coalesce(json_agg(json_build_object(
        'key', s.code || '/' || p.code, 'item', i.code, 'size', p.size, 'priceE4', p.price_e4,
        'leastPacks', p.least_packs, 'leadDays', p.lead_days) order by s.code || '/' || p.code), '[]')
      from pack p join supplier s on s.id = p.supplier_id join item i on i.id = p.item_id where not p.withdrawn),
    'use', (select coalesce(json_agg(json_build_object('item', i.code, 'per28Days', u.used) order by i.code), '[]')
      from past_use u join item i on i.id = u.item_id where u.first_on <= $1::date - ${HISTORY_DAYS})
  ) as snapshot,
  json_build_object(
    'lines', (select coalesce(json_object_agg(key, id), '{}') from open_line),
    'lots', (select coalesce(json_object_agg(code, id), '{}') from usable_lot),
    'deliveries', (select coalesce(json_object_agg(key, id), '{}') from coming),
    'making', (select coalesce(json_object_agg(code, id), '{}') from making)
  ) as ids
`;
