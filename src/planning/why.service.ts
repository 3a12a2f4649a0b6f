import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { MaterialNeed, ProposedBatch, Proposal, Shortfall } from '../kernel/plan/proposal.js';
import type { Snapshot, SnapshotFormula, SnapshotItem } from '../kernel/plan/snapshot.js';
import { peopleOf } from '../people/people-said.js';
import { whoMay } from '../people/who-may.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import { Kept, RUN_VERSION } from './kept.js';
import { DECANT } from './week.service.js';

/** What a batch's figures come from. Amounts in base units. */
export interface WhyBatch {
  runId: number;
  code: string;
  item: SnapshotItem & { name: string; family: string };
  formula: SnapshotFormula | null;
  output: number;
  putInMg: number;
  day: string | null;
  readyOn: string | null;
  /** Null for a batch that is committed: it no longer says when it should have begun. */
  latestDay: string | null;
  vessel: string | null;
  heldUpBy: ProposedBatch['heldUpBy'];
  /** Who may make it now; null where anybody may. */
  who: string[] | null;
  /** What keeps it below its formula's least; null for a batch that is committed, whoever made it smaller. */
  belowLeast: ProposedBatch['belowLeast'];
  decant: ProposedBatch['decant'];
  isShort: boolean;
  slackDays: number;
  scaleStepMg: number;
  madeFor: { for: 'line' | 'batch' | 'stock'; key: string; quantity: number; shipBy: string | null }[];
  inputs: WhyInput[];
}

export interface WhyInput {
  item: string;
  name: string;
  measure: 'weighed' | 'counted';
  quantity: number;
  needOn: string | null;
  missing: number;
  stocked: boolean;
  taken: { from: 'lot' | 'delivery' | 'batch' | 'making'; key: string; quantity: number; expiresOn: string | null }[];
}

/** What a shortfall comes from: every batch and order line that needs the item, and what there is of it. */
export interface WhyShort {
  runId: number;
  item: SnapshotItem & { name: string; family: string };
  shortfall: Shortfall;
  needed: { key: string; day: string | null; quantity: number; missing: number }[];
  lots: { code: string; free: number; expiresOn: string | null }[];
  deliveries: { key: string; free: number; day: string }[];
  receivingDays: number;
  leadDays: number | null;
}

/** What a plan needs of one material, day by day, for which batches and order lines, and what there is of it. */
export interface WhyNeed {
  runId: number;
  weekStart: string;
  weekEnd: string;
  item: SnapshotItem & { name: string; family: string };
  need: MaterialNeed;
  /** In the order of their days. */
  batches: { key: string; name: string; day: string | null; inWeek: boolean; quantity: number; missing: number }[];
  lines: { key: string; day: string; quantity: number; missing: number }[];
  lots: WhyShort['lots'];
  deliveries: WhyShort['deliveries'];
  isShort: boolean;
  /** The most batches of the plan, where what it leaves out would need more; null elsewhere. */
  fullAt: number | null;
}

interface RunOf {
  snapshot: Snapshot;
  proposal: Proposal;
}

/** Plans whose numbers are asked after again and again. */
const RUNS_MAX = 3;

type Names = Map<string, { name: string; family: string }>;

/** Where a number of the week's plan comes from. */
@Injectable()
export class WhyService {
  private readonly runs = new Kept<RunOf>(RUNS_MAX);

  constructor(private readonly database: Database) {}

  /** A batch by its key in a draft, or by its code once it is committed. Throws 404. */
  batch(runId: number, code: string): Promise<WhyBatch> {
    return this.database.read(async (tx) => {
      const { snapshot, proposal, names } = await this.runOf(tx, runId);
      const proposed = proposal.batches.find((batch) => batch.key === code);
      const why = proposed
        ? whyProposed(runId, proposed, proposal, snapshot, names)
        : await whyCommitted(tx, runId, code, snapshot, names);
      return { ...why, who: whoMay(await peopleOf(tx), why.formula?.skill ?? null) };
    });
  }

  /** A material that is short in a plan. Throws 404 where it is not. */
  short(runId: number, code: string): Promise<WhyShort> {
    return this.database.read(async (tx) => {
      const { snapshot, proposal, names } = await this.runOf(tx, runId);
      const shortfall = proposal.shortfalls.find((row) => row.item === code);
      if (!shortfall) throw notFound(`shortfall in the plan ${runId} of`, code);
      const leads = shortfall.packs.map(({ key }) => snapshot.packs.find((pack) => pack.key === key)?.leadDays ?? 0);
      return {
        runId,
        item: itemOf(snapshot, names, code),
        shortfall,
        needed: proposal.batches.flatMap((batch) =>
          batch.inputs
            .filter((input) => input.item === code)
            .map((input) => ({ key: batch.key, day: input.needOn, quantity: input.quantity, missing: input.missing })),
        ),
        lots: snapshot.lots.filter((lot) => lot.item === code),
        deliveries: snapshot.deliveries.filter((row) => row.item === code),
        receivingDays: snapshot.workshop.receivingDays,
        leadDays: leads.length > 0 ? Math.max(...leads) : null,
      };
    });
  }

  /** The newest plan that is not taken back; null before there is one. */
  async newest(): Promise<number | null> {
    const rows = await this.database.read((tx) =>
      tx.query<{ id: number }[]>(`select id from run where status <> 'undone' order by id desc limit 1`),
    );
    return rows[0]?.id ?? null;
  }

  /** A material that a plan takes. Throws 404 where it takes none of it. */
  need(runId: number, code: string): Promise<WhyNeed> {
    return this.database.read(async (tx) => {
      const { snapshot, proposal, names } = await this.runOf(tx, runId);
      const need = proposal.needs.find((row) => row.item === code);
      if (!need) throw notFound(`need in the plan ${runId} of`, code);
      return {
        runId,
        weekStart: proposal.weekStart,
        weekEnd: proposal.weekEnd,
        item: itemOf(snapshot, names, code),
        need,
        batches: proposal.batches.flatMap((batch) =>
          batch.inputs
            .filter((input) => input.item === code)
            .map(({ needOn, quantity, missing }) => ({
              key: batch.key,
              name: names.get(batch.item)?.name ?? batch.item,
              day: needOn,
              inWeek: needOn !== null && proposal.weekStart <= needOn && needOn <= proposal.weekEnd,
              quantity,
              missing,
            })),
        ),
        lines: proposal.lines
          .filter((line) => line.item === code)
          .map(({ key, shipBy, quantity, missing }) => ({ key, day: shipBy, quantity, missing })),
        lots: snapshot.lots.filter((lot) => lot.item === code && lot.free > 0),
        deliveries: snapshot.deliveries.filter((row) => row.item === code),
        isShort: proposal.shortfalls.some((row) => row.item === code),
        fullAt: proposal.full?.batchesMost ?? null,
      };
    });
  }

  /** A plan with all it was made from, read once for each time it was written. Throws 404. */
  private async runOf(tx: EntityManager, id: number): Promise<RunOf & { names: Names }> {
    const [run] = await tx.query<{ version: string }[]>(`select ${RUN_VERSION} as version from run where id = $1`, [
      id,
    ]);
    if (!run) throw notFound("week's plan", id);
    const rows = await tx.query<{ code: string; name: string; family: string }[]>(
      'select code, name, family from item',
    );
    const names = new Map(rows.map((row) => [row.code, row]));
    const known = this.runs.get(run.version);
    if (known) return { ...known, names };
    const [read] = await tx.query<RunOf[]>('select snapshot, proposal from run where id = $1', [id]);
    return { ...this.runs.put(run.version, read!), names };
  }
}

function itemOf(snapshot: Snapshot, names: Names, code: string): WhyBatch['item'] {
  const row = snapshot.items.find((item) => item.code === code);
  if (!row) throw notFound('item', code);
  return { ...row, name: names.get(code)?.name ?? code, family: names.get(code)?.family ?? 'other' };
}

function whyProposed(
  runId: number,
  batch: ProposedBatch,
  proposal: Proposal,
  snapshot: Snapshot,
  names: Names,
): Omit<WhyBatch, 'who'> {
  const shipBy = new Map(proposal.lines.map((line) => [line.key, line.shipBy]));
  const expires = new Map(snapshot.lots.map((lot) => [lot.code, lot.expiresOn]));
  return {
    runId,
    code: batch.key,
    item: itemOf(snapshot, names, batch.item),
    formula: snapshot.formulas.find((formula) => formula.item === batch.item) ?? null,
    output: batch.output,
    putInMg: batch.putInMg,
    day: batch.day,
    readyOn: batch.readyOn,
    latestDay: batch.latestDay,
    vessel: batch.vessel,
    heldUpBy: batch.heldUpBy,
    belowLeast: batch.belowLeast,
    decant: batch.decant,
    isShort: batch.short,
    slackDays: snapshot.workshop.slackDays,
    scaleStepMg: snapshot.workshop.scaleStepMg,
    madeFor: batch.madeFor.map((peg) => ({ ...peg, shipBy: shipBy.get(peg.key) ?? null })),
    inputs: batch.inputs.map((input) => ({
      item: input.item,
      name: names.get(input.item)?.name ?? input.item,
      measure: itemOf(snapshot, names, input.item).measure,
      quantity: input.quantity,
      needOn: input.needOn,
      missing: input.missing,
      stocked: input.stocked,
      taken: input.taken.map((taken) => ({ ...taken, expiresOn: expires.get(taken.key) ?? null })),
    })),
  };
}

interface CommittedRow {
  id: number;
  item: string;
  output: number;
  putInMg: number;
  day: string;
  readyOn: string;
  vessel: string | null;
  decant: WhyBatch['decant'];
  madeFor: WhyBatch['madeFor'];
  inputs: Omit<WhyInput, 'missing'>[];
}

async function whyCommitted(
  tx: EntityManager,
  runId: number,
  code: string,
  snapshot: Snapshot,
  names: Names,
): Promise<Omit<WhyBatch, 'who'>> {
  const [row] = await tx.query<CommittedRow[]>(COMMITTED, [runId, code]);
  if (!row) throw notFound(`batch in the plan ${runId} called`, code);
  return {
    runId,
    code,
    item: itemOf(snapshot, names, row.item),
    formula: snapshot.formulas.find((formula) => formula.item === row.item) ?? null,
    output: row.output,
    putInMg: row.putInMg,
    day: row.day,
    readyOn: row.readyOn,
    latestDay: null,
    vessel: row.vessel,
    heldUpBy: null,
    belowLeast: null,
    decant: row.decant,
    isShort: false,
    slackDays: snapshot.workshop.slackDays,
    scaleStepMg: snapshot.workshop.scaleStepMg,
    madeFor: row.madeFor,
    inputs: row.inputs.map((input) => {
      const taken = input.taken.reduce((sum, part) => sum + part.quantity, 0);
      return { ...input, missing: input.stocked ? Math.max(0, input.quantity - taken) : 0 };
    }),
  };
}

/** A committed batch with its pegs, and its inputs with what is set aside or already weighed for them. */
const COMMITTED = `
  select b.id, i.code as item, b.output, b.put_in_mg as "putInMg", b.day, b.ready_on as "readyOn", v.code as vessel,
    ${DECANT} as decant,
    coalesce((select json_agg(json_build_object(
        'for', case when p.order_line_id is not null then 'line' when p.for_batch_id is not null then 'batch'
          else 'stock' end,
        'key', coalesce(o.channel || '/' || o.number || '/' || l.shop_code || '#' || l.occurrence, fb.code, i.code),
        'quantity', p.quantity, 'shipBy', l.ship_by) order by p.position)
      from peg p left join order_line l on l.id = p.order_line_id left join customer_order o on o.id = l.order_id
        left join batch fb on fb.id = p.for_batch_id where p.batch_id = b.id), '[]') as "madeFor",
    coalesce((select json_agg(json_build_object(
        'item', ii.code, 'name', ii.name, 'measure', ii.measure, 'quantity', bi.quantity, 'needOn', bi.need_on,
        'stocked', ii.stocked,
        'taken', coalesce((select json_agg(json_build_object(
            'from', case when r.lot_id is not null then 'lot' when r.batch_id is not null then 'making'
              else 'delivery' end,
            'key', coalesce(rl.code, rb.code, rd.code), 'quantity', r.open + r.consumed,
            'expiresOn', rl.expires_on) order by r.id)
          from reservation r left join lot rl on rl.id = r.lot_id left join batch rb on rb.id = r.batch_id
            left join delivery_line dl on dl.id = r.delivery_line_id left join delivery rd on rd.id = dl.delivery_id
          where r.batch_input_id = bi.id and r.open + r.consumed > 0), '[]')) order by bi.position)
      from batch_input bi join item ii on ii.id = bi.item_id where bi.batch_id = b.id), '[]') as inputs
  from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id
  where b.run_id = $1 and b.code = $2`;
