import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { Proposal } from '../kernel/plan/proposal.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { Database } from '../platform/database.js';
import { type Change, whatChanged } from './what-changed.js';

/** What one pour was in the plan before and is in the newest; null where it is not in one of them. */
export interface PourChange {
  item: string;
  name: string;
  measure: 'weighed' | 'counted';
  before: { day: string; output: number } | null;
  after: { day: string; output: number } | null;
}

export interface Comparison {
  before: { id: number; createdAt: string };
  after: { id: number; createdAt: string };
  pours: PourChange[];
  /** Why: what was not the same when the two were made. */
  changes: Change[];
}

interface RunRow {
  id: number;
  createdAt: Date;
  snapshot: Snapshot;
  proposal: Proposal;
}

/** The newest plan of a week beside the one before it. */
@Injectable()
export class CompareService {
  constructor(private readonly database: Database) {}

  /** Null while the week has been planned less than twice. */
  compare(start: string): Promise<Comparison | null> {
    return this.database.read(async (tx) => {
      const [after, before] = await tx.query<RunRow[]>(
        `select id, created_at as "createdAt", snapshot, proposal from run
         where week_start = $1 and status <> 'undone' order by id desc limit 2`,
        [start],
      );
      if (!after || !before) return null;
      return {
        before: { id: before.id, createdAt: before.createdAt.toISOString() },
        after: { id: after.id, createdAt: after.createdAt.toISOString() },
        pours: await pourChanges(tx, before.proposal, after.proposal),
        changes: whatChanged(before.snapshot, after.snapshot),
      };
    });
  }
}

type Pour = { item: string; day: string; output: number };

/** Pours of one item are paired in the order of their days, since their numbers may have moved. */
async function pourChanges(tx: EntityManager, before: Proposal, after: Proposal): Promise<PourChange[]> {
  const rows = await tx.query<{ code: string; name: string; measure: 'weighed' | 'counted' }[]>(
    'select code, name, measure from item order by code',
  );
  const was = byItem(before);
  const is = byItem(after);
  return rows.flatMap(({ code, name, measure }) => {
    const old = was.get(code) ?? [];
    const now = is.get(code) ?? [];
    return Array.from({ length: Math.max(old.length, now.length) }, (_, i) => {
      const pair = { before: old[i] ?? null, after: now[i] ?? null };
      return { item: code, name, measure, before: dayAndOutput(pair.before), after: dayAndOutput(pair.after) };
    }).filter(({ before: b, after: a }) => b?.day !== a?.day || b?.output !== a?.output);
  });
}

function byItem(proposal: Proposal): Map<string, Pour[]> {
  const pours = new Map<string, Pour[]>();
  for (const { item, day, output, inWeek } of proposal.batches)
    if (inWeek && day !== null) pours.set(item, [...(pours.get(item) ?? []), { item, day, output }]);
  return pours;
}

const dayAndOutput = (pour: Pour | null): PourChange['before'] => pour && { day: pour.day, output: pour.output };
