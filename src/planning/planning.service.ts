import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { addDays, dayOf, isoOf, weekdayOf } from '../kernel/measure/day.js';
import { plan } from '../kernel/plan/plan.js';
import type { Proposal } from '../kernel/plan/proposal.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound, Problem } from '../platform/problem.js';
import { keepCovers } from './line-covers.js';
import { Run } from './planning.entity.js';
import type { RunSummary, RunView } from './planning.schema.js';
import { SnapshotService, type TakenSnapshot } from './snapshot.service.js';

/** How far ahead a week may be planned. */
const WEEKS_AHEAD_MAX = 52;

/** Makes the week's plan as a draft, and shows what was planned. */
@Injectable()
export class PlanningService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly snapshots: SnapshotService,
  ) {}

  /**
   * Plans the seven days from `weekStart` and keeps the proposal as a draft. Nothing is reserved. Where nothing has
   * changed since the last draft of that week, that one is answered.
   */
  async makeDraft(who: string, weekStart?: string): Promise<RunView> {
    const today = await this.clock.today();
    const start = weekStart ?? comingMonday(today);
    if (start < addDays(today, -6)) throw invalid('/weekStart', `The week from ${start} is over.`);
    if (start > addDays(today, 7 * WEEKS_AHEAD_MAX))
      throw invalid('/weekStart', `A week can be planned up to ${WEEKS_AHEAD_MAX} weeks ahead.`);
    const { snapshot, hash, ids } = await this.database.read((tx) => this.snapshots.take(tx, today, start));
    return this.database.act({ who }, async (tx) => {
      // an older draft is not what the week shows, even where all is again as it was then
      const [last] = await tx.query<{ id: number; isSame: boolean }[]>(
        `select id, status = 'draft' and snapshot_hash = $2 as "isSame" from run
         where week_start = $1 and status <> 'undone' order by id desc limit 1`,
        [start, hash],
      );
      if (last?.isSame) return viewOf(await findRun(tx, last.id));
      const proposal = proposalFrom({ snapshot, hash });
      const rows = await tx.query<{ id: number }[]>(
        `insert into run (week_start, planned_on, status, snapshot_hash, snapshot, proposal)
         values ($1, $2, 'draft', $3, $4, $5) returning id`,
        [start, today, hash, JSON.stringify(snapshot), JSON.stringify(proposal)],
      );
      await keepCovers(tx, rows[0]!.id, proposal, ids.lines);
      return viewOf(await findRun(tx, rows[0]!.id));
    });
  }

  async list(): Promise<{ runs: RunSummary[] }> {
    const runs = await this.database.read((tx) => tx.find(Run, { order: { id: 'DESC' }, take: 200 }));
    return { runs: runs.map(summaryOf) };
  }

  async get(id: number): Promise<RunView> {
    return this.database.read(async (tx) => viewOf(await findRun(tx, id)));
  }

  async needs(id: number): Promise<Pick<Proposal, 'needs'>> {
    return { needs: (await this.get(id)).proposal.needs };
  }

  async shortfalls(id: number): Promise<Pick<Proposal, 'shortfalls'>> {
    return { shortfalls: (await this.get(id)).proposal.shortfalls };
  }

  async atRisk(id: number): Promise<Pick<Proposal, 'atRisk'>> {
    return { atRisk: (await this.get(id)).proposal.atRisk };
  }

  /** Throws away a draft. A committed run is not deleted: it happened. */
  discard(who: string, id: number): Promise<void> {
    return this.database.act({ who }, async (tx) => {
      const run = await findRun(tx, id, true);
      if (run.status !== 'draft')
        throw conflict('not-a-draft', `The plan ${id} is ${run.status}, only a draft can go.`);
      await tx.query('delete from run where id = $1', [id]);
    });
  }
}

/** A run with its proposal, locked for the rest of the act when asked for. Throws 404. */
export async function findRun(tx: EntityManager, id: number, lock = false): Promise<Run> {
  if (lock) await tx.query('select 1 from run where id = $1 for update', [id]);
  const run = await tx
    .createQueryBuilder(Run, 'run')
    .addSelect(['run.proposal'])
    .where('run.id = :id', { id })
    .getOne();
  if (!run) throw notFound("week's plan", id);
  return run;
}

/** Makes whoever else commits, takes back or changes a plan wait until this act is over. */
export async function lockPlan(tx: EntityManager): Promise<void> {
  await tx.query(`select pg_advisory_xact_lock(hashtext('lotwright.commit'))`);
}

/** What a run was planned from. */
export async function snapshotOf(tx: EntityManager, id: number): Promise<Snapshot> {
  const rows = await tx.query<{ snapshot: Snapshot }[]>('select snapshot from run where id = $1', [id]);
  return rows[0]!.snapshot;
}

/** The last plans made, by the hash of what they were made from: the plan is pure, so the same question has one answer. */
const remembered = new Map<string, Proposal>();
const REMEMBERED_MAX = 2;

/** The kernel's plan of a snapshot; what it cannot plan becomes a 422 problem that says why. */
export function proposalFrom({ snapshot, hash }: Pick<TakenSnapshot, 'snapshot' | 'hash'>): Proposal {
  const known = remembered.get(hash);
  if (known) return known;
  const proposal = planned(snapshot);
  if (remembered.size >= REMEMBERED_MAX) remembered.delete(remembered.keys().next().value!);
  remembered.set(hash, proposal);
  return proposal;
}

/** The same, of a snapshot that nobody asks for again. */
export function planned(snapshot: Snapshot): Proposal {
  try {
    return plan(snapshot);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    throw new Problem({ status: 422, code: 'cannot-plan', detail: `This cannot be planned: ${error.message}.` });
  }
}

/** Today if it is a Monday, else the next one. */
export function comingMonday(today: string): string {
  const day = dayOf(today);
  return isoOf(day + ((7 - weekdayOf(day)) % 7));
}

const viewOf = (run: Run): RunView => ({ ...summaryOf(run), proposal: run.proposal });

const summaryOf = (run: Run): RunSummary => ({
  id: run.id,
  weekStart: run.weekStart,
  plannedOn: run.plannedOn,
  status: run.status,
  createdBy: run.createdBy,
  createdAt: run.createdAt.toISOString(),
  committedAt: run.committedAt?.toISOString() ?? null,
});
