import { createHash } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type {
  Snapshot,
  SnapshotLine,
  SnapshotPerson,
  SnapshotShown,
  SnapshotWashing,
} from '../kernel/plan/snapshot.js';
import { type Sends as OrderSends, SENT_AS } from '../orders/sends.js';
import { UNNAMED } from '../catalog/workshop.service.js';
import { PEOPLE } from '../people/people-said.js';
import { shownBefore } from './shown-before.js';
import { WASHING } from './washing-said.js';

/** A snapshot with what identifies it, and the database ids its readable keys stand for. */
export interface TakenSnapshot {
  snapshot: Snapshot;
  /** sha-256 of the snapshot as JSON, apart from what was shown before: a plan is stale when it is another. */
  hash: string;
  /** The same of all of it. */
  key: string;
  ids: {
    lines: Map<string, number>;
    lots: Map<string, number>;
    deliveries: Map<string, number>;
    making: Map<string, number>;
  };
}

type Ids = Record<'lines' | 'lots' | 'deliveries' | 'making', Record<string, number>>;

/** Rows by column, all columns in the order of the rows: a tenth of the names, and a third of the time to write and read. */
type Columns<Row> = { [Name in keyof Row]: Row[Name][] };

type Skilled<Row> = Omit<Row, 'skill'> & { skill: string | null };

interface Read {
  moment: string | null;
  snapshot: Omit<
    Snapshot,
    'today' | 'weekStart' | 'lots' | 'lines' | 'formulas' | 'making' | 'people' | 'washing' | 'shown'
  > & {
    people: SnapshotPerson[] | null;
    washing: SnapshotWashing | null;
    formulas: Skilled<Snapshot['formulas'][number]>[];
    making: Skilled<Snapshot['making'][number]>[];
    lots: Columns<Snapshot['lots'][number] & { id: number }>;
    lines: Columns<LineRow>;
  };
  ids: Omit<Ids, 'lots' | 'lines'>;
}

type LineRow = Omit<Required<Snapshot['lines'][number]>, 'sends'> & { id: number; sends: OrderSends };

/** How many snapshots are kept: the week that is planned next, and the one a batch is moved in. */
const KEPT_MAX = 2;

/** Reads everything the plan is made from, in one statement, so that all of it is from one moment. */
@Injectable()
export class SnapshotService {
  /** The last ones read, by the moment they show: whoever sees the same moment sees the same rows. */
  private readonly kept = new Map<string, TakenSnapshot>();

  /** What is answered is shared with others who ask at the same moment: it is read, never changed. */
  async take(tx: EntityManager, today: string, weekStart: string): Promise<TakenSnapshot> {
    const asked = await tx.query<{ moment: string | null }[]>(`select ${MOMENT} as moment`);
    const known = asked[0]!.moment === null ? undefined : this.kept.get(`${asked[0]!.moment} ${today} ${weekStart}`);
    if (known) return known;
    const rows = await tx.query<Read[]>(SNAPSHOT, [today, JSON.stringify(UNSAID)]);
    const read = takenFrom(rows[0]!, today, weekStart);
    const taken = withShown(read, await shownBefore(tx, read));
    if (rows[0]!.moment !== null) {
      if (this.kept.size >= KEPT_MAX) this.kept.delete(this.kept.keys().next().value!);
      this.kept.set(`${rows[0]!.moment} ${today} ${weekStart}`, taken);
    }
    return taken;
  }
}

function takenFrom({ snapshot: read, ids }: Read, today: string, weekStart: string): Omit<TakenSnapshot, 'key'> {
  const { people, washing, ...rows } = read;
  const { formulas, making, lots, lines } = rows;
  const snapshot: Snapshot = {
    today,
    weekStart,
    ...rows,
    formulas: formulas.map(askingFor),
    making: making.map(askingFor),
    lots: lots.code.map((code, i) => ({
      code,
      item: lots.item[i]!,
      free: lots.free[i]!,
      onHand: lots.onHand[i]!,
      valueE4: lots.valueE4[i]!,
      expiresOn: lots.expiresOn[i]!,
    })),
    lines: lines.key.map((key, i) => ({
      key,
      item: lines.item[i]!,
      quantity: lines.quantity[i]!,
      shipBy: lines.shipBy[i]!,
      notBefore: lines.notBefore[i]!,
      // what is as ever is not said, so that a plan kept before it could be said is not stale
      ...(lines.weight[i] !== 1 && { weight: lines.weight[i]! }),
      ...(lines.urgent[i] && { urgent: true }),
      ...sendsOf(lines, i),
    })),
    ...(people && { people }),
    ...(washing && { washing }),
  };
  return {
    snapshot,
    hash: sha256(JSON.stringify(snapshot)),
    ids: {
      lines: new Map(lines.key.map((key, i) => [key, lines.id[i]!])),
      lots: new Map(lots.code.map((code, i) => [code, lots.id[i]!])),
      deliveries: new Map(Object.entries(ids.deliveries)),
      making: new Map(Object.entries(ids.making)),
    },
  };
}

/** What asks for nobody says nothing of it, as what was kept before it could. */
const askingFor = <Row>({ skill, ...row }: Skilled<Row>) => ({ ...row, ...(skill !== null && { skill }) });

/** Nothing where each line goes by itself. */
function sendsOf(lines: Columns<LineRow>, i: number): Pick<SnapshotLine, 'sends' | 'order' | 'asideOn'> {
  const sends = lines.sends[i]!;
  if (sends === 'lines') return {};
  return sends === 'parts' ? { sends } : { sends, order: lines.order[i]!, asideOn: lines.asideOn[i]! };
}

function withShown(read: Omit<TakenSnapshot, 'key'>, shown: SnapshotShown | null): TakenSnapshot {
  if (!shown) return { ...read, key: read.hash };
  return { ...read, snapshot: { ...read.snapshot, shown }, key: `${read.hash} ${sha256(JSON.stringify(shown))}` };
}

const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

/** How a workshop works whose owner has said nothing yet. */
const UNSAID: Snapshot['workshop'] = {
  benchMinutes: UNNAMED.benchMinutes,
  closedDays: [],
  slackDays: UNNAMED.slackDays,
  receivingDays: UNNAMED.receivingDays,
  scaleStepMg: UNNAMED.scaleStepMg,
  scaleLeastMg: UNNAMED.scaleLeastMg,
};

/** Days of history that make past use worth judging by. */
const HISTORY_DAYS = 28;

/*
 * What this transaction can see, as PostgreSQL counts it: which transactions were over. The same text means the same rows,
 * whatever happened elsewhere meanwhile, since each transaction that writes has a number of its own. A transaction that
 * has written itself sees more than that, so it has no such moment. A server that was started again counts anew.
 */
export const MOMENT = `case when pg_current_xact_id_if_assigned() is null
  then pg_current_snapshot()::text || ' ' || pg_postmaster_start_time()::text end`;

/*
 * `aside`: of orders that are sent complete, when the last is there that is reserved already, and may go.
 * `open_line` leaves out what is reserved already. A lot's free stock is released, unreserved, and less what the
 * container keeps. A batch of a committed run counts as in the making until its output is a lot.
 */
const SNAPSHOT = `
  with aside as materialized (
    select l.order_id, max(greatest(l.not_before, b.ready_on, d.expected_on + coalesce(
        (select receiving_days from workshop), ($2::json ->> 'receivingDays')::int))) as day
    from order_line l join customer_order o on o.id = l.order_id join channel c on c.code = o.channel
      left join reservation r on r.order_line_id = l.id and r.open > 0 left join batch b on b.id = r.batch_id
      left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
    where o.status = 'confirmed' and l.quantity > l.shipped + l.cancelled and ${SENT_AS} = 'complete'
    group by 1
  ), open_line as materialized (
    select l.id, o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence as key, i.code as item,
      l.quantity - l.shipped - l.cancelled - coalesce(r.open, 0) as quantity, l.ship_by,
      l.not_before, coalesce(o.weight, c.weight) as weight, o.urgent, ${SENT_AS} as sends,
      o.channel || '/' || o.number as of_order, a.day as aside_on
    from order_line l join customer_order o on o.id = l.order_id join channel c on c.code = o.channel
      join item i on i.id = l.item_id
      left join (select order_line_id, sum(open)::bigint as open from reservation
        where order_line_id is not null and open > 0 group by 1) r on r.order_line_id = l.id
      left join aside a on a.order_id = o.id
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
    select b.id, b.code, i.code as item, coalesce(b.made, b.output) - b.promised as free, b.day, b.ready_on, b.emptied_on,
      v.code as vessel, b.minutes, b.expires_on, f.skill
    from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
      left join formula f on f.id = b.formula_id
    where b.status in ('planned', 'reserved', 'weighed', 'resting')
  ), current_formula as materialized (
    select distinct on (f.item_id) f.*, i.code as item
    from formula f join item i on i.id = f.item_id
    where not f.withdrawn order by f.item_id, f.version desc
  ), past_use as materialized (
    select l.item_id, min(m.done_on) as first_on,
      sum(case when m.cause in ('consumption', 'shipment', 'own-use') and m.done_on > $1::date - ${HISTORY_DAYS}
        then -m.quantity else 0 end)::bigint as used
    from standing_movement m join lot l on l.id = m.lot_id
    where m.cause in ('consumption', 'shipment', 'own-use') group by l.item_id
  )
  select ${MOMENT} as moment, json_build_object(
    'workshop', coalesce((select json_build_object(
        'benchMinutes', w.bench_minutes,
        'closedDays', coalesce((select json_agg(day order by day) from closed_day where day >= $1::date), '[]'),
        'slackDays', w.slack_days, 'receivingDays', w.receiving_days,
        'scaleStepMg', w.scale_step_mg, 'scaleLeastMg', w.scale_least_mg,
        'terms', nullif(w.plan_terms, '{}')) from workshop w),
      $2::json),
    'items', (select coalesce(json_agg(json_build_object(
        'code', code, 'kind', kind, 'measure', measure, 'policy', policy, 'target', target,
        'seasonFrom', season_from, 'seasonTo', season_to, 'stocked', stocked,
        'shelfLifeDays', shelf_life_days, 'owedLifeDays', owed_life_days) order by code), '[]') from item),
    'formulas', (select coalesce(json_agg(json_build_object(
        'item', f.item, 'version', f.version, 'vesselKind', f.vessel_kind, 'batchMin', f.batch_min,
        'batchMax', f.batch_max, 'batchMultiple', f.batch_multiple, 'lossPpb', f.loss_ppb,
        'residueMg', f.residue_mg, 'minutesBatch', f.minutes_batch, 'secondsUnit', f.seconds_unit,
        'restDays', f.rest_days, 'skill', f.skill, 'lines', (select coalesce(json_agg(json_build_object(
            'position', fl.position, 'item', li.code,
            'basis', case when fl.part_ppb is null then fl.basis else 'part' end,
            'amount', coalesce(fl.part_ppb, fl.amount), 'step', fl.step) order by fl.position), '[]')
          from formula_line fl join item li on li.id = fl.item_id where fl.formula_id = f.id)) order by f.item), '[]')
      from current_formula f),
    'vessels', (select coalesce(json_agg(json_build_object(
        'code', code, 'kind', kind, 'capacityMg', capacity_mg) order by code), '[]') from vessel),
    'lots', (select json_build_object(
        'id', coalesce(json_agg(id), '[]'), 'code', coalesce(json_agg(code), '[]'),
        'item', coalesce(json_agg(item), '[]'), 'free', coalesce(json_agg(free), '[]'),
        'onHand', coalesce(json_agg(on_hand), '[]'), 'valueE4', coalesce(json_agg(value_e4), '[]'),
        'expiresOn', coalesce(json_agg(expires_on), '[]')) from (select * from usable_lot order by code) s),
    'deliveries', (select coalesce(json_agg(json_build_object(
        'key', key, 'item', item, 'free', free, 'day', expected_on, 'expiresOn', expires_on) order by key), '[]')
      from coming),
    'making', (select coalesce(json_agg(json_build_object(
        'code', code, 'item', item, 'free', free, 'day', day, 'readyOn', ready_on, 'emptiedOn', emptied_on,
        'vessel', vessel, 'minutes', minutes, 'expiresOn', expires_on, 'skill', skill) order by code), '[]') from making),
    'lines', (select json_build_object(
        'id', coalesce(json_agg(id), '[]'), 'key', coalesce(json_agg(key), '[]'),
        'item', coalesce(json_agg(item), '[]'), 'quantity', coalesce(json_agg(quantity), '[]'),
        'shipBy', coalesce(json_agg(ship_by), '[]'), 'notBefore', coalesce(json_agg(not_before), '[]'),
        'weight', coalesce(json_agg(weight), '[]'), 'urgent', coalesce(json_agg(urgent), '[]'),
        'sends', coalesce(json_agg(sends), '[]'), 'order', coalesce(json_agg(of_order), '[]'),
        'asideOn', coalesce(json_agg(aside_on), '[]'))
      from (select * from open_line where quantity > 0 order by key) s),
    'packs', (select coalesce(json_agg(json_build_object(
        'key', s.code || '/' || p.code, 'item', i.code, 'size', p.size, 'priceE4', p.price_e4,
        'leastPacks', p.least_packs, 'leadDays', p.lead_days) order by s.code || '/' || p.code), '[]')
      from pack p join supplier s on s.id = p.supplier_id join item i on i.id = p.item_id where not p.withdrawn),
    'use', (select coalesce(json_agg(json_build_object('item', i.code, 'per28Days', u.used) order by i.code), '[]')
      from past_use u join item i on i.id = u.item_id where u.first_on <= $1::date - ${HISTORY_DAYS}),
    'people', ${PEOPLE},
    'washing', ${WASHING}
  ) as snapshot,
  json_build_object(
    'deliveries', (select coalesce(json_object_agg(key, id), '{}') from coming),
    'making', (select coalesce(json_object_agg(code, id), '{}') from making)
  ) as ids
`;
