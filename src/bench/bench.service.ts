import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { isAfterRest } from '../batches/inputs.js';
import { ON_HOLD } from '../batches/on-hold.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { addDays } from '../kernel/measure/day.js';
import { toleranceOf } from '../kernel/bench/good-range.js';
import { printQuantity } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { peopleOf } from '../people/people-said.js';
import { whoMay } from '../people/who-may.js';
import { Database } from '../platform/database.js';
import { invalid, notFound } from '../platform/problem.js';
import { PAUSED } from './locked-batch.js';
import type { BoardBatch, BatchPage, BatchQuery, BatchView, ReadyDays, ReadyQuery } from './bench.schema.js';

/** How far ahead is looked for what becomes ready unless said. */
const READY_DAYS = 28;
const READY_DAYS_MAX = 400;

/** What is to be made, and how far each batch is. */
@Injectable()
export class BenchService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  list(query: BatchQuery): Promise<BatchPage> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<BatchPage['batches']>(
        `select ${HEAD} ${FROM} where b.code > $1 and ($2::text is null or b.status = $2) order by b.code limit $3`,
        [query.after ?? '', query.status ?? null, query.limit + 1],
      );
      const batches = rows.slice(0, query.limit);
      return { batches, next: rows.length > query.limit ? batches.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<BatchView> {
    return this.database.read((tx) => batchViewByCode(tx, code));
  }

  /** What stands at the bench: what is set aside to be made until a day, what is begun, and what rests. */
  board(until: string): Promise<BoardBatch[]> {
    return this.database.read((tx) => tx.query<BoardBatch[]>(BOARD, [until]));
  }

  /** What becomes ready each day: what rests until then, and what is still to be made and then rests. */
  async ready(query: ReadyQuery): Promise<ReadyDays> {
    const from = query.from ?? (await this.clock.today());
    const to = query.to ?? addDays(from, READY_DAYS);
    if (to < from) throw invalid('/query/to', 'The last day must not be before the first.');
    if (to > addDays(from, READY_DAYS_MAX)) throw invalid('/query/to', `Ask for ${READY_DAYS_MAX} days at most.`);
    return this.database.read(async (tx) => ({
      days: await tx.query<ReadyDays['days']>(READY, [from, to]),
    }));
  }
}

/** More than a workshop can see at once. */
const BOARD_MAX = 200;

const BOARD = `
  select b.code, i.code as item, i.name, i.family, i.measure, b.status, b.day, b.ready_on as "readyOn", v.code as vessel,
    coalesce(b.made, b.output) as quantity, ${PAUSED} as "isPaused", ${ON_HOLD} as "onHold", l.done, l.lines,
    coalesce((select json_agg(distinct s.code) from reservation r join batch_input bi on bi.id = r.batch_input_id
      join batch s on s.id = r.batch_id where bi.batch_id = b.id and r.open > 0), '[]') as "waitsFor"
  from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
    cross join lateral (select count(*)::int as lines,
        count(*) filter (where bi.closed or bi.weighed >= bi.quantity)::int as done
      from batch_input bi join item it on it.id = bi.item_id where bi.batch_id = b.id and it.stocked) l
  where b.status in ('weighed', 'resting') or (b.status = 'reserved' and (b.day <= $1 or l.done > 0
    or exists (select from batch_input bi where bi.batch_id = b.id and bi.weighed > 0)))
  order by b.day, b.code limit ${BOARD_MAX}`;

const READY = `
  select b.ready_on as day, json_agg(json_build_object('code', b.code, 'item', i.code, 'name', i.name,
      'family', i.family, 'status', b.status, 'quantity', coalesce(b.made, b.output), 'promised', b.promised,
      'lot', l.code) order by b.code) as batches
  from batch b join item i on i.id = b.item_id
    left join batch_output o on o.batch_id = b.id and o.kind = 'made' left join lot l on l.id = o.lot_id
  where b.status in ('reserved', 'weighed', 'resting') and b.ready_on between $1 and $2
  group by b.ready_on order by b.ready_on`;

const HEAD = `b.code, i.code as item, b.status, b.day, b.ready_on as "readyOn", v.code as vessel, b.output, b.made,
  case when wi.id is not null then json_build_object('minutes', b.wash_minutes, 'after', wi.name) end as wash, ${PAUSED} as "isPaused",
  ${ON_HOLD} as "onHold"`;
const FROM = `from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
  left join item wi on wi.id = b.wash_after_id`;

/** Throws a 404 problem. */
export async function batchViewByCode(tx: EntityManager, code: string): Promise<BatchView> {
  const rows = await tx.query<(Omit<BatchView, 'mayMake'> & { restDays: number; skill: string | null })[]>(
    `select ${HEAD}, f.rest_days as "restDays", f.skill, i.name, i.kind, i.family, i.measure, i.flammable, f.id as formula, f.version as "formulaVersion",
       (select l.code from batch_output o join lot l on l.id = o.lot_id where o.batch_id = b.id and o.kind = 'made') as lot,
       b.put_in_mg as "putInMg", (${INPUTS}) as inputs
     ${FROM} join formula f on f.id = b.formula_id where b.code = $1`,
    [code],
  );
  if (!rows[0]) throw notFound('batch', code);
  const { restDays, skill, ...batch } = rows[0];
  const view: BatchView = { ...batch, mayMake: whoMay(await peopleOf(tx), skill) };
  const workshop = await workshopOf(tx);
  const { scaleLeastMg } = workshop;
  for (const input of view.inputs) {
    input.afterRest = isAfterRest(input, view.inputs, restDays);
    const isWeighed = input.measure === 'weighed';
    input.tolerance = toleranceOf(input.quantity, input.measure, workshop);
    input.advice = isWeighed && input.quantity < scaleLeastMg ? adviceBelow(scaleLeastMg) : [];
  }
  return view;
}

/** What to do where a weight is below what the scale weighs well. */
function adviceBelow(leastMg: number): string[] {
  return [
    `This is below ${printQuantity(leastMg, 'weighed')}, the smallest weight of the scale. Weigh it on a finer scale,`,
    'or weigh a larger amount of a predilution of it, or make a larger batch.',
  ];
}

/** As many as anybody wants to choose from. */
const FITTING_MAX = 3;

const FITTING = `
  select l.code as lot, l.place, l.on_hand - l.reserved as free from lot l
  where l.item_id = bi.item_id and l.status = 'released' and l.on_hand > l.reserved
    and (l.expires_on is null or l.expires_on >= b.day)
    and b.status in ('reserved', 'weighed', 'resting') and not bi.closed and bi.rework_lot_id is null
    and bi.quantity > bi.weighed + unbooked.quantity
      + (select coalesce(sum(r.open), 0) from reservation r where r.batch_input_id = bi.id)
  order by l.expires_on nulls last, l.id limit ${FITTING_MAX}`;

const INPUTS = `
  select coalesce(json_agg(json_build_object(
    'position', bi.position, 'item', ii.code, 'name', ii.name, 'measure', ii.measure, 'stocked', ii.stocked,
    'family', ii.family, 'flammable', ii.flammable,
    'step', bi.step, 'needOn', bi.need_on, 'quantity', bi.quantity, 'meant', coalesce(bi.meant, bi.quantity),
    'tolerance', 0, 'afterRest', false, 'advice', '[]'::json, 'reworkLot', (select code from lot where id = bi.rework_lot_id),
    'reserved', (select coalesce(json_agg(json_build_object('source', coalesce(l.code, s.code, d.code),
        'place', coalesce(l.place, ''), 'isLot', l.id is not null, 'quantity', r.open, 'needOn', r.need_on) order by r.need_on, r.id), '[]')
      from reservation r left join lot l on l.id = r.lot_id left join batch s on s.id = r.batch_id
        left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
      where r.batch_input_id = bi.id and r.open > 0),
    'fitting', (select coalesce(json_agg(one), '[]') from (${FITTING}) one),
    'weighed', bi.weighed + unbooked.quantity,
    'lots', (select coalesce(json_agg(json_build_object('lot', used.code, 'quantity', used.quantity)
        order by used.code), '[]')
      from (select l.code, -sum(m.quantity)::bigint as quantity from standing_movement m join lot l on l.id = m.lot_id
        where m.batch_input_id = bi.id group by l.code) used),
    'done', bi.closed or bi.weighed + unbooked.quantity >= bi.quantity) order by bi.position), '[]')
  from batch_input bi join item ii on ii.id = bi.item_id
    cross join lateral (select coalesce(sum(e.quantity), 0)::bigint as quantity from bench_entry e
      where e.batch_input_id = bi.id) unbooked
  where bi.batch_id = b.id`;
