import type { EntityManager } from 'typeorm';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { notFound } from '../platform/problem.js';
import { Run } from './planning.entity.js';
import type { RunSummary, RunView } from './planning.schema.js';

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

/** How it was made is for the next plan alone. */
export function viewOf(run: Run): RunView {
  const { choices: _choices, ...proposal } = run.proposal;
  return { ...summaryOf(run), proposal };
}

export const summaryOf = (run: Run): RunSummary => ({
  id: run.id,
  weekStart: run.weekStart,
  plannedOn: run.plannedOn,
  status: run.status,
  createdBy: run.createdBy,
  createdAt: run.createdAt.toISOString(),
  committedAt: run.committedAt?.toISOString() ?? null,
});
