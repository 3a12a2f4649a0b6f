import type { EntityManager } from 'typeorm';
import { BatchesService, type CreatedBatch } from '../batches/batches.service.js';
import { refuseTakenVessel } from '../batches/vessels.js';
import type { BatchInput, ProposedBatch, Proposal, Taken } from '../kernel/plan/proposal.js';
import { conflict, Problem } from '../platform/problem.js';
import { type NewReservation, StockService } from '../stock/stock.service.js';
import { keepCovers } from './line-covers.js';
import { pegBatch } from './pegs.js';
import { pegsIn } from './pegs-in.js';
import type { Committed } from './planning.schema.js';
import { proposalFrom } from './proposals.js';
import { rewash } from './rewash.js';
import { findRun, lockPlan, snapshotOf } from './runs.js';
import type { TakenSnapshot } from './snapshot.service.js';
import type { Means, Question } from './threads/question.js';
import { type Change, whatChanged } from './what-changed.js';

/** A batch that can be committed: it has its day and everything it needs. */
type ReadyBatch = Omit<ProposedBatch, 'inputs'> & {
  day: string;
  readyOn: string;
  emptiedOn: string;
  inputs: (BatchInput & { needOn: string })[];
};

interface Asked {
  who: string;
  today: string;
  runId: number;
  replan: boolean;
}

/** A draft turned into batches with their lots set aside: all of it or nothing. */
export const COMMIT: Question<Asked, Committed> = { name: 'commit', answer: commit };

const batches = new BatchesService();
const stock = new StockService();

async function commit({ database, snapshots }: Means, { who, today, runId, replan }: Asked): Promise<Committed> {
  return database.act({ who }, async (tx) => {
    // A workshop commits a few times a day; one at a time costs nothing and saves most deadlocks.
    await lockPlan(tx);
    const run = await findRun(tx, runId, true);
    if (run.status !== 'draft') throw conflict('not-a-draft', `The plan ${runId} is ${run.status} already.`);
    if (replan) await lockPlanned(tx);
    const now = await snapshots.take(tx, today, run.weekStart);
    if (now.hash === run.snapshotHash) return write(tx, runId, run.proposal, now.ids, []);
    const changed = whatChanged(await snapshotOf(tx, runId), now.snapshot);
    if (!replan)
      throw new Problem({
        status: 409,
        code: 'stale',
        detail: 'Stock, orders or formulas have changed since this draft was made. Plan the week again.',
        extra: { changed },
      });
    const proposal = proposalFrom(now);
    await tx.query(`update run set planned_on = $2, snapshot_hash = $3, snapshot = $4, proposal = $5 where id = $1`, [
      runId,
      today,
      now.hash,
      JSON.stringify(now.snapshot),
      JSON.stringify(proposal),
    ]);
    return write(tx, runId, proposal, now.ids, changed);
  });
}

async function write(
  tx: EntityManager,
  runId: number,
  proposal: Proposal,
  ids: TakenSnapshot['ids'],
  changed: Change[],
): Promise<Committed> {
  await keepCovers(tx, runId, proposal, ids.lines);
  const week = proposal.batches.filter((batch) => batch.inWeek);
  const ready = week.filter((batch): batch is ReadyBatch => !batch.short && batch.day !== null);
  const created = new Map<string, CreatedBatch>();
  for (const batch of ready) {
    const minutes = batch.minutes - (batch.wash?.minutes ?? 0);
    created.set(batch.key, await batches.create(tx, { ...batch, minutes, runId }));
  }
  const pegsOf = pegsIn(proposal, created, ids);
  for (const batch of ready) await pegBatch(tx, created.get(batch.key)!.id, pegsOf(batch));
  const reservations = [
    ...ready.flatMap((batch) => inputReservations(batch, runId, created, ids)),
    ...proposal.lines.flatMap((line) => lineReservations(line, proposal, runId, created, ids)),
  ];
  await refuseOverPromise(tx, reservations);
  await stock.reserve(tx, reservations);
  const createdIds = [...created.values()].map((batch) => batch.id);
  await refuseTakenVessel(tx, createdIds);
  await rewash(
    tx,
    ready.map(({ vessel }) => vessel),
  );
  await batches.setStatus(tx, createdIds, 'reserved');
  await tx.query(`update run set status = 'committed', committed_at = now() where id = $1`, [runId]);
  return {
    id: runId,
    status: 'committed',
    batches: ready.map(({ key, item, day }) => ({ key, code: created.get(key)!.code, item, day })),
    reservations: reservations.length,
    leftOut: week.filter((batch) => !created.has(batch.key)).map((batch) => batch.key),
    changed,
  };
}

/**
 * What a plan promises, and what it promises from, stands still from here on: what is planned anew in this act can then
 * be kept, however busy the shelf is. In the order in which every act locks these.
 */
async function lockPlanned(tx: EntityManager): Promise<void> {
  await tx.query('select from order_line where quantity > shipped + cancelled order by id for update');
  await tx.query(
    `select from batch where status in ('planned', 'reserved', 'weighed', 'resting') order by id for update`,
  );
  await tx.query(`select from lot where status = 'released' and on_hand > reserved order by id for update`);
}

/**
 * An order changes outside the lock on the plan. Its lines are locked here, and one that has meanwhile less open than is
 * to be set aside for it makes the draft stale.
 */
async function refuseOverPromise(tx: EntityManager, reservations: readonly NewReservation[]): Promise<void> {
  const wanted = new Map<number, number>();
  for (const { orderLineId, quantity } of reservations)
    if (typeof orderLineId === 'number') wanted.set(orderLineId, (wanted.get(orderLineId) ?? 0) + quantity);
  const lines = [...wanted].map(([id, quantity]) => ({ id, quantity }));
  await tx.query('select 1 from order_line where id = any($1::bigint[]) order by id for update', [[...wanted.keys()]]);
  const over = await tx.query<{ id: number }[]>(
    `select l.id from order_line l join jsonb_to_recordset($1::jsonb) as w (id bigint, quantity bigint) on w.id = l.id
     where w.quantity > l.quantity - l.shipped - l.cancelled
       - coalesce((select sum(r.open) from reservation r where r.order_line_id = l.id), 0)`,
    [JSON.stringify(lines)],
  );
  if (over.length > 0)
    throw conflict('stale', 'An order has changed while this was being committed. Plan the week again.');
}

type Source = Pick<NewReservation, 'lotId' | 'batchId' | 'deliveryLineId'>;

/** The row a taken quantity comes from, or null where its batch is not part of what is committed. */
function sourceOf(taken: Taken, created: Map<string, CreatedBatch>, ids: TakenSnapshot['ids']): Source | null {
  if (taken.from === 'lot') return { lotId: ids.lots.get(taken.key)! };
  if (taken.from === 'delivery') return { deliveryLineId: ids.deliveries.get(taken.key)! };
  if (taken.from === 'making') return { batchId: ids.making.get(taken.key)! };
  const batch = created.get(taken.key);
  return batch ? { batchId: batch.id } : null;
}

function inputReservations(
  batch: ReadyBatch,
  runId: number,
  created: Map<string, CreatedBatch>,
  ids: TakenSnapshot['ids'],
): NewReservation[] {
  return batch.inputs.flatMap((input) =>
    input.taken.map((taken) => ({
      ...sourceOf(taken, created, ids)!,
      runId,
      batchInputId: created.get(batch.key)!.inputs.get(input.position)!,
      quantity: taken.quantity,
      needOn: input.needOn,
    })),
  );
}

/**
 * Sets aside for an order line what ships by the end of the week, and whatever comes out of the week's batches for it;
 * stock for later orders stays free for those that come first.
 */
function lineReservations(
  line: Proposal['lines'][number],
  proposal: Proposal,
  runId: number,
  created: Map<string, CreatedBatch>,
  ids: TakenSnapshot['ids'],
): NewReservation[] {
  const needOn = line.shipBy > proposal.today ? line.shipBy : proposal.today;
  return line.taken.flatMap((taken) => {
    const source = sourceOf(taken, created, ids);
    if (!source || (taken.from !== 'batch' && line.shipBy > proposal.weekEnd)) return [];
    return [{ ...source, runId, orderLineId: ids.lines.get(line.key)!, quantity: taken.quantity, needOn }];
  });
}
