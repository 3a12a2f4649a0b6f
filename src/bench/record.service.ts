import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { ON_HOLD } from '../batches/on-hold.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { ChecksService } from '../checks/checks.service.js';
import { closingOfBatch } from './closing.js';
import { judgedLines, type ReadLine } from './off-lines.js';
import type { ClosingView } from './finish.schema.js';
import type { BatchRecord } from './record.schema.js';
import type { KeptSample } from '../checks/samples.schema.js';
import { samplesOf } from '../checks/samples.service.js';
import { effectOf } from './weigh-effect.js';

/** Pieces are one, weights a kilogram. */
const PRICED_MG = 1_000_000;

type Head = Omit<
  BatchRecord,
  'lines' | 'effect' | 'checks' | 'samples' | 'closing' | 'cost' | 'bestBefore' | 'people' | 'begunAt' | 'pauses'
> & { id: number; bench: BenchEntry[]; lines: ReadLine[] };

interface BenchEntry {
  kind: 'pause' | 'resume';
  note: string;
  by: string;
  at: string;
}

/** Everything that is known of how a batch was made, as good manufacturing practice keeps it. */
@Injectable()
export class RecordService {
  constructor(
    private readonly database: Database,
    private readonly checks: ChecksService,
  ) {}

  /** Throws a 404 problem. */
  async record(code: string): Promise<BatchRecord> {
    const checks = await this.checks.checks(code);
    return this.database.read(async (tx) => {
      const [head] = await tx.query<Head[]>(RECORD, [code]);
      if (!head) throw notFound('batch', code);
      const { id, bench, ...rest } = head;
      const { lines, deviations } = await judgedLines(tx, head.lines);
      const closing = await closingOfBatch(tx, id);
      const made = head.outputs.find(({ kind }) => kind === 'made');
      const entries = lines.flatMap((line) => line.entries);
      const { samples } = await samplesOf(tx, id);
      const begun = entries.map(({ at }) => at).toSorted()[0] ?? null;
      return {
        ...rest,
        begunAt: begun,
        people: peopleOf(head, entries, checks, samples),
        lines,
        deviations: [...head.deviations, ...deviations].toSorted((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : 0)),
        effect: await effectOf(tx, id),
        pauses: pausesOf(bench),
        checks,
        samples,
        closing: closing ? { ...closing, ...(await closedBy(tx, id)) } : null,
        cost: made && closing ? costOf(made, closing, head.measure) : null,
        bestBefore: closing && made ? { ...datesOf(closing), expiresOn: made.expiresOn } : null,
      };
    });
  }
}

const datesOf = ({ keepsUntil, materialsUntil }: ClosingView) => ({
  keepsUntil,
  materialsUntil,
});

function costOf(
  made: BatchRecord['outputs'][number],
  closing: { labourE4: number; made: number },
  measure: 'weighed' | 'counted',
): BatchRecord['cost'] {
  const per = BigInt(measure === 'weighed' ? PRICED_MG : 1);
  const perUnit = (2n * BigInt(made.valueE4) * per + BigInt(closing.made)) / (2n * BigInt(closing.made));
  return {
    totalE4: made.valueE4,
    materialsE4: made.valueE4 - closing.labourE4,
    labourE4: closing.labourE4,
    perUnitE4: Number(perUnit),
  };
}

function pausesOf(bench: readonly BenchEntry[]): BatchRecord['pauses'] {
  const pauses: BatchRecord['pauses'] = [];
  for (const { kind, note, by, at } of bench)
    if (kind === 'pause') pauses.push({ note, by, at, resumed: null });
    else pauses.at(-1)!.resumed = { note, by, at };
  return pauses;
}

function peopleOf(
  head: Head,
  entries: BatchRecord['lines'][number]['entries'],
  checks: BatchRecord['checks'],
  samples: readonly KeptSample[],
): string[] {
  const all = [
    ...entries.flatMap(({ by, takenBack }) => [by, ...(takenBack ? [takenBack.by] : [])]),
    ...head.states.map(({ by }) => by),
    ...head.deviations.map(({ by }) => by),
    ...head.bench.map(({ by }) => by),
    ...checks.checks.flatMap(({ results }) => results.map(({ createdBy }) => createdBy)),
    ...samples.flatMap(({ keptBy, discardedBy }) => [keptBy, ...(discardedBy === null ? [] : [discardedBy])]),
  ];
  return [...new Set(all)].toSorted();
}

async function closedBy(tx: EntityManager, id: number): Promise<{ by: string; at: string }> {
  const [row] = await tx.query<{ by: string; at: Date }[]>(
    'select created_by as by, created_at as at from batch_finish where batch_id = $1',
    [id],
  );
  return { by: row!.by, at: row!.at.toISOString() };
}

/** An instant as JSON writes it. */
const at = (column: string) => `to_char(${column} at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')`;

const ENTRIES = `
  select json_agg(e order by e.at, e.movement) from (
    select m.id as movement, l.code as lot, l.supplier_lot as "supplierLot", l.expires_on as "expiresOn",
      -m.quantity as quantity, -m.value_e4 as "valueE4", m.done_on as "doneOn", m.created_by as by,
      ${at('m.recorded_at')} as at,
      (select json_build_object('why', c.reason, 'by', c.created_by, 'at', ${at('c.recorded_at')})
        from movement c where c.reverses_id = m.id) as "takenBack"
    from movement m join lot l on l.id = m.lot_id where m.batch_input_id = bi.id and m.cause = 'consumption'
    union all
    select null, null, '', null, u.quantity, 0, u.done_on, u.created_by, ${at('u.created_at')}, null
    from bench_entry u where u.batch_input_id = bi.id and u.kind = 'unbooked'
  ) e`;

const LINES = `
  select json_agg(json_build_object('position', bi.position, 'item', i.code, 'name', i.name, 'measure', i.measure,
    'closed', bi.closed, 'step', bi.step, 'stocked', i.stocked, 'meant', coalesce(bi.meant, bi.quantity), 'target', bi.quantity,
    'weighed', bi.weighed + (select coalesce(sum(u.quantity), 0)::bigint from bench_entry u where u.batch_input_id = bi.id),
    'reworkLot', (select code from lot where id = bi.rework_lot_id), 'entries', coalesce((${ENTRIES}), '[]'))
    order by bi.position)
  from batch_input bi join item i on i.id = bi.item_id where bi.batch_id = b.id`;

const OUTPUTS = `
  select json_agg(json_build_object('lot', l.code, 'kind', o.kind, 'item', i.code, 'quantity', m.quantity,
    'valueE4', m.value_e4 + (select coalesce(sum(x.value_e4), 0)::bigint from standing_movement x
      where x.lot_id = l.id and x.batch_id = b.id and x.cause = 'revaluation'),
    'status', l.status, 'expiresOn', l.expires_on, 'place', l.place, 'onHand', l.on_hand,
    'usedIn', (select coalesce(json_agg(u.code order by u.code), '[]') from (select distinct c.code
      from standing_movement n join batch c on c.id = n.batch_id where n.lot_id = l.id and n.cause = 'consumption') u))
    order by o.kind desc, l.id)
  from batch_output o join lot l on l.id = o.lot_id join item i on i.id = l.item_id
    join movement m on m.lot_id = l.id and m.cause = 'production' where o.batch_id = b.id`;

const RECORD = `
  select b.id, b.code as batch, b.status, ${ON_HOLD} as "onHold", i.code as item, i.name, i.kind, i.family, i.measure, f.id as formula,
    f.version as "formulaVersion", f.note as "formulaNote", v.code as vessel, b.day, b.ready_on as "readyOn", b.output,
    b.minutes as "plannedMinutes",
    coalesce((select json_agg(json_build_object('phase', s.phase, 'instruction', s.instruction) order by s.position)
      from formula_step s where s.formula_id = f.id), '[]') as steps,
    coalesce((select json_agg(json_build_object('for', w.whom, 'quantity', w.quantity) order by w.position) from (
        select coalesce(o.channel || ' ' || o.number, c.code, 'the shelf') as whom, sum(p.quantity)::bigint as quantity,
          min(p.position) as position
        from peg p left join order_line ol on ol.id = p.order_line_id left join customer_order o on o.id = ol.order_id
          left join batch c on c.id = p.for_batch_id where p.batch_id = b.id group by 1) w), '[]') as "madeFor",
    coalesce((${LINES}), '[]') as lines,
    coalesce((${OUTPUTS}), '[]') as outputs,
    coalesce((select json_agg(json_build_object('kind', e.kind, 'note', e.note, 'by', e.created_by,
        'at', ${at('e.created_at')}) order by e.id)
      from bench_entry e where e.batch_id = b.id and e.kind in ('pause', 'resume')), '[]') as bench,
    coalesce((select json_agg(json_build_object('note', e.note, 'position', bi.position,
        'targets', coalesce(e.targets, '[]'), 'by', e.created_by, 'at', ${at('e.created_at')}) order by e.id)
      from bench_entry e left join batch_input bi on bi.id = e.batch_input_id
      where e.batch_id = b.id and e.kind = 'deviation'), '[]') as deviations,
    coalesce((select json_agg(json_build_object('from', s.from_status, 'to', s.to_status, 'why', s.why, 'by', s.done_by,
        'at', ${at('s.done_at')}) order by s.id)
      from state_change s where s.subject = 'batch' and s.subject_id = b.id), '[]') as states
  from batch b join item i on i.id = b.item_id join formula f on f.id = b.formula_id
    left join vessel v on v.id = b.vessel_id
  where b.code = $1`;
