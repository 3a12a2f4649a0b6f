import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { peopleOf } from '../people/people-said.js';
import { type VesselConflict, vesselConflicts } from '../batches/vessels.js';
import { addDays } from '../kernel/measure/day.js';
import type {
  AtRisk,
  Decant,
  HeldUpBy,
  LineCover,
  MaterialNeed,
  Proposal,
  Shortfall,
  WaitedFor,
} from '../kernel/plan/proposal.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { type DayHours, hoursOf } from './day-hours.js';
import { Kept, RUN_VERSION } from './kept.js';
import { comingMonday } from './coming-monday.js';
import { ON_HOLD } from '../batches/on-hold.js';
import { byText } from '../kernel/measure/text-order.js';
import { type Pegged, urgentBatches, urgentLines, urgentProposed } from './urgent-pours.js';

/** One pour, filling or packing of a week, proposed or committed. */
export interface WeekPour {
  /** The plan it belongs to, none for a set packed without one. */
  runId: number | null;
  /** A proposed batch's key in its plan, a committed one's code. */
  code: string;
  item: string;
  name: string;
  family: string;
  kind: string;
  measure: 'weighed' | 'counted';
  output: number;
  day: string;
  readyOn: string;
  emptiedOn: string;
  vessel: string | null;
  /** At the bench on its day, washing included. */
  minutes: number;
  /** What whoever makes it must be able to do; null where anybody may. */
  skill: string | null;
  /** What of that is for washing its vessel first; `after`: the name of what stood there. */
  wash: { minutes: number; after: string } | null;
  /** `proposed`, or the state of the batch. */
  status: string;
  /** Lots on hold that it was to take, or that are in it. */
  onHold: string[];
  isShort: boolean;
  /** Something it is made for is urgent now, through whatever is made of it. */
  isUrgent: boolean;
  heldUpBy: HeldUpBy | null;
  /** The least its formula asks for, where it is smaller than that. */
  least: number | null;
  /** Where its vessel is emptied before all of it is used. */
  decant: Decant | null;
  madeFor: { for: 'line' | 'batch' | 'stock'; label: string; quantity: number }[];
}

export interface Week {
  today: string;
  start: string;
  end: string;
  days: DayHours[];
  /** Who works here, and what they may do that not all may; null where nobody is said. */
  people: { name: string; skills: string[] }[] | null;
  pours: WeekPour[];
  /** What stands in a vessel from before the week, by vessel; `until`: the last day it is to stand there. */
  standing: { vessel: string; code: string; name: string; readyOn: string; until: string }[];
  /** Order lines to ship on each day of the week. */
  shipBy: { day: string; lines: number }[];
  /** The newest draft of the week, unless a newer plan of it was committed. */
  draft: { id: number; createdAt: string; createdBy: string } | null;
  committed: { id: number; committedAt: string }[];
  /** How often the week was planned and the plan kept. */
  plans: number;
  shortfalls: (Shortfall & Named)[];
  late: (Omit<LineCover, 'waitsFor'> & Named & { isUrgent: boolean; waitsFor?: WaitedFor & Named })[];
  vesselConflicts: VesselConflict[];
  atRisk: (AtRisk & Named)[];
  /** Batches of the draft that no day can have, and why not. */
  dayless: ({ key: string; item: string; output: number; heldUpBy: HeldUpBy | null; skill: string | null } & Named)[];
  /** Where the draft holds no more batches: how many that is, the order lines and what of stock it has no room for. */
  full: { batchesMost: number; lines: number; refills: ({ item: string; quantity: number } & Named)[] } | null;
  /** What the newest plan takes of each material within the week, and which plan that is. */
  takes: { runId: number; needs: (Omit<MaterialNeed, 'byDay'> & Named)[] } | null;
}

export interface Named {
  name: string;
  measure: 'weighed' | 'counted';
}

interface ItemRow extends Named {
  code: string;
  family: string;
  kind: string;
}

/** What a plan says of its week: the whole can be megabytes. */
type WeekPart = Pick<Proposal, 'batches' | 'lines' | 'shortfalls' | 'atRisk' | 'needs'> & {
  full: Proposal['full'] | null;
  rewashed: Proposal['rewashed'] | null;
  /** The least size of a batch by item. */
  leasts: Record<string, number>;
  /** What its formula asks for of whoever makes it, by item. */
  skills: Record<string, string | null>;
  /** Of all its batches, those of other weeks too. */
  pegged: Pegged[];
  dayless: { key: string; item: string; output: number; heldUpBy: HeldUpBy | null }[];
};

interface RunRow {
  id: number;
  status: 'draft' | 'committed' | 'undone';
  version: string;
  createdAt: Date;
  createdBy: string;
  committedAt: Date | null;
}

/** Weeks that are looked at again and again. */
const PARTS_MAX = 4;

/** What a week looks like: what is committed, and on top of it the newest draft. */
@Injectable()
export class WeekService {
  private readonly parts = new Kept<WeekPart>(PARTS_MAX);

  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** The first day of the week that is planned next: today if it is a Monday. */
  async coming(): Promise<string> {
    return comingMonday(await this.clock.today());
  }

  async week(start: string): Promise<Week> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const runs = await runsOf(tx, start);
      const items = new Map((await tx.query<ItemRow[]>(ITEMS)).map((row) => [row.code, row]));
      const newest = runs[0];
      const draft = newest?.status === 'draft' ? newest : undefined;
      const urgent = await urgentLines(tx);
      const kept = await committedPours(tx, start);
      const part =
        newest && (this.parts.get(newest.version) ?? this.parts.put(newest.version, await weekPartOf(tx, newest.id)));
      const drafted = draft && part;
      const committed = kept.map((pour) => washedAgain(pour, drafted?.rewashed ?? [], items));
      const proposed = drafted ? proposedPours(draft.id, drafted, items, urgent) : [];
      const named = <T extends { item: string }>(rows: readonly T[]): (T & Named)[] =>
        rows.map((row) => ({ ...row, ...nameOf(items, row.item) }));
      const pours = [...committed, ...proposed].sort((a, b) => byText(a.day, b.day) || byText(a.code, b.code));
      return {
        today,
        start,
        end: addDays(start, 6),
        days: await hoursOf(tx, weekOf(start), pours),
        people: await peopleOf(tx),
        pours,
        standing: await tx.query(STANDING, [start]),
        shipBy: await tx.query(SHIP_BY, [start]),
        draft: draft ? { id: draft.id, createdAt: draft.createdAt.toISOString(), createdBy: draft.createdBy } : null,
        committed: runs
          .filter((run) => run.status === 'committed')
          .map((run) => ({ id: run.id, committedAt: run.committedAt!.toISOString() })),
        plans: runs.length,
        shortfalls: named(drafted?.shortfalls ?? []),
        late: named(drafted?.lines ?? []).map(({ waitsFor, ...line }) => ({
          ...line,
          isUrgent: urgent.has(line.key),
          ...(waitsFor && { waitsFor: { ...waitsFor, ...nameOf(items, waitsFor.item) } }),
        })),
        vesselConflicts: await vesselConflicts(tx, { from: start, to: addDays(start, 6) }),
        atRisk: named(drafted?.atRisk ?? []),
        dayless: named(drafted?.dayless ?? []).map((row) => ({ ...row, skill: drafted!.skills[row.item] ?? null })),
        full: drafted?.full
          ? {
              batchesMost: drafted.full.batchesMost,
              lines: drafted.lines.filter(({ because }) => because === 'plan-full').length,
              refills: named(drafted.full.refills),
            }
          : null,
        takes: part ? { runId: newest.id, needs: named(part.needs) } : null,
      };
    });
  }
}

const ITEMS = 'select code, name, family, kind, measure from item';

const SHIP_BY = `select l.ship_by as day, count(*)::int as lines from order_line l
  join customer_order o on o.id = l.order_id
  where o.status = 'confirmed' and l.quantity > l.shipped + l.cancelled
    and l.ship_by between $1::date and $1::date + 6 group by 1 order by 1`;

/** Of what is planned, begun, or closed and not yet released, as it counts wherever a vessel is taken. */
const STANDING = `select v.code as vessel, b.code, i.name, b.ready_on as "readyOn", b.emptied_on as until
  from batch b join vessel v on v.id = b.vessel_id join item i on i.id = b.item_id
  where b.status in ('planned', 'reserved', 'weighed', 'resting') and b.day < $1::date and b.emptied_on >= $1::date
  order by v.code, b.day`;

/** Newest first. */
function runsOf(tx: EntityManager, start: string): Promise<RunRow[]> {
  return tx.query(
    `select id, status, created_at as "createdAt", created_by as "createdBy", committed_at as "committedAt",
       ${RUN_VERSION} as version
     from run where week_start = $1 and status <> 'undone' order by id desc`,
    [start],
  );
}

async function weekPartOf(tx: EntityManager, id: number): Promise<WeekPart> {
  const rows = await tx.query<WeekPart[]>(
    `select jsonb_path_query_array(proposal, '$.batches[*] ? (@.inWeek == true)') as batches,
       jsonb_path_query_array(proposal, '$.lines[*] ? (@.missing > 0 || @.lateDays > 0)') as lines,
       jsonb_path_query_array(proposal, '$.needs[*] ? (@.inWeek > 0)') as needs,
       jsonb_path_query_array(proposal, '$.shortfalls[*]') as shortfalls,
       jsonb_path_query_array(proposal, '$.atRisk[*]') as "atRisk",
       proposal -> 'full' as "full", proposal -> 'rewashed' as rewashed,
       coalesce((select jsonb_object_agg(f ->> 'item', f -> 'batchMin')
         from jsonb_array_elements(snapshot -> 'formulas') f), '{}') as leasts,
       coalesce((select jsonb_object_agg(f ->> 'item', f -> 'skill')
         from jsonb_array_elements(snapshot -> 'formulas') f), '{}') as skills,
       coalesce((select jsonb_agg(jsonb_build_object('key', b -> 'key', 'madeFor', b -> 'madeFor'))
         from jsonb_array_elements(proposal -> 'batches') b), '[]') as pegged,
       coalesce((select jsonb_agg(jsonb_build_object('key', b -> 'key', 'item', b -> 'item', 'output', b -> 'output',
           'heldUpBy', b -> 'heldUpBy'))
         from jsonb_array_elements(proposal -> 'batches') b where b ->> 'day' is null), '[]') as dayless
     from run where id = $1`,
    [id],
  );
  return rows[0]!;
}

const nameOf = (items: ReadonlyMap<string, ItemRow>, code: string): Named => {
  const row = items.get(code);
  return { name: row?.name ?? code, measure: row?.measure ?? 'counted' };
};

function proposedPours(
  runId: number,
  { batches, leasts, skills, pegged }: WeekPart,
  items: ReadonlyMap<string, ItemRow>,
  lines: ReadonlySet<string>,
): WeekPour[] {
  const urgent = urgentProposed(pegged, lines);
  return batches
    .filter((batch) => batch.inWeek)
    .map((batch) => ({
      runId,
      code: batch.key,
      item: batch.item,
      family: items.get(batch.item)?.family ?? 'other',
      kind: items.get(batch.item)?.kind ?? 'bulk',
      ...nameOf(items, batch.item),
      output: batch.output,
      day: batch.day!,
      readyOn: batch.readyOn!,
      emptiedOn: batch.emptiedOn!,
      vessel: batch.vessel,
      minutes: batch.minutes,
      skill: skills[batch.item] ?? null,
      wash: batch.wash ? { ...batch.wash, after: nameOf(items, batch.wash.after).name } : null,
      status: 'proposed',
      onHold: [],
      isShort: batch.short,
      isUrgent: urgent.has(batch.key),
      heldUpBy: batch.heldUpBy,
      least: batch.belowLeast ? (leasts[batch.item] ?? null) : null,
      decant: batch.decant,
      madeFor: batch.madeFor.map((peg) => ({ for: peg.for, label: peg.key, quantity: peg.quantity })),
    }));
}

/** A committed pour as it will be once the draft is kept, which puts something else into its vessel before it. */
function washedAgain(
  pour: WeekPour,
  rewashed: NonNullable<Proposal['rewashed']>,
  items: ReadonlyMap<string, ItemRow>,
): WeekPour {
  const again = rewashed.find(({ batch }) => batch === pour.code);
  if (!again) return pour;
  const { minutes, more, after } = again;
  return { ...pour, minutes: pour.minutes + more, wash: { minutes, after: nameOf(items, after).name } };
}

/** Where a batch's vessel is emptied before all that draws from it is made, and which batch is in it next until then. */
export const DECANT = `(select json_build_object('on', b.emptied_on, 'for', (select nb.code from batch nb
      where nb.vessel_id = b.vessel_id and nb.status <> 'cancelled' and nb.day > b.emptied_on and nb.day <= used.last
      order by nb.day, nb.code limit 1))
    from (select max(di.need_on) as last from reservation dr join batch_input di on di.id = dr.batch_input_id
      where dr.batch_id = b.id) used
    where b.vessel_id is not null and used.last > b.emptied_on and b.status in ('planned', 'reserved', 'weighed', 'resting'))`;

/** Batches on the bench that week, whichever plan they were committed with. */
async function committedPours(tx: EntityManager, start: string): Promise<WeekPour[]> {
  const urgent = await urgentBatches(tx, start);
  const pours = await tx.query<Omit<WeekPour, 'isUrgent'>[]>(
    `select b.run_id as "runId", b.code, i.code as item, i.name, i.family, i.kind, i.measure, b.output, b.day,
       b.ready_on as "readyOn", b.emptied_on as "emptiedOn", v.code as vessel, b.minutes, cf.skill,
       case when wi.id is not null then json_build_object('minutes', b.wash_minutes, 'after', wi.name) end as wash, b.status, ${ON_HOLD} as "onHold",
       false as "isShort", null as "heldUpBy",
       (select f.batch_min from formula f where f.id = b.formula_id and b.output < f.batch_min) as least,
       ${DECANT} as decant,
       coalesce((select json_agg(json_build_object(
           'for', case when p.order_line_id is not null then 'line' when p.for_batch_id is not null then 'batch'
             else 'stock' end,
           'label', coalesce(o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence, fb.code, i.code),
           'quantity', p.quantity) order by p.position)
         from peg p left join order_line l on l.id = p.order_line_id left join customer_order o on o.id = l.order_id
           left join batch fb on fb.id = p.for_batch_id
         where p.batch_id = b.id), '[]') as "madeFor"
     from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
       left join item wi on wi.id = b.wash_after_id left join formula cf on cf.id = b.formula_id
     where b.day between $1::date and $1::date + 6 and b.status <> 'cancelled' order by b.day, b.code`,
    [start],
  );
  return pours.map((pour) => ({ ...pour, isUrgent: urgent.has(pour.code) }));
}

const weekOf = (start: string): string[] => Array.from({ length: 7 }, (_, i) => addDays(start, i));
