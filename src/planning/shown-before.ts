import type { EntityManager } from 'typeorm';
import type { Snapshot, SnapshotPour, SnapshotShown } from '../kernel/plan/snapshot.js';
import type { PlanChoices } from '../kernel/plan/proposal.js';

/**
 * What the plan last shown says of days from today on, so that a new one changes no more of it than it must: the last one of
 * the week, else of any. Where nothing has changed since that was made, what had been shown before it: so it is made again
 * to the byte, by whoever asks. Null where none was shown.
 */
export async function shownBefore(
  tx: EntityManager,
  { snapshot: { today, weekStart }, hash }: { snapshot: Pick<Snapshot, 'today' | 'weekStart'>; hash: string },
): Promise<SnapshotShown | null> {
  const [last] = await tx.query<{ id: number; isSame: boolean }[]>(
    `select id, snapshot_hash = $2 as "isSame" from run where status <> 'undone'
     order by week_start = $1::date desc, id desc limit 1`,
    [weekStart, hash],
  );
  if (!last) return null;
  return last.isSame ? shownToIt(tx, last.id) : poursOf(tx, last.id, today);
}

async function shownToIt(tx: EntityManager, id: number): Promise<SnapshotShown | null> {
  const rows = await tx.query<{ shown: SnapshotShown | null }[]>(
    `select snapshot -> 'shown' as shown from run where id = $1`,
    [id],
  );
  return rows[0]!.shown;
}

/** What is committed is no longer only shown. */
async function poursOf(tx: EntityManager, id: number, today: string): Promise<SnapshotShown | null> {
  const rows = await tx.query<{ pours: SnapshotPour[] | null; choices: PlanChoices | null }[]>(
    `select proposal -> 'choices' as choices,
       (select json_agg(json_build_object('key', pour ->> 'key', 'item', pour ->> 'item', 'day', pour ->> 'day',
           'vessel', pour ->> 'vessel', 'output', (pour ->> 'output')::bigint))
         from jsonb_array_elements(proposal -> 'batches') pour
         where pour ->> 'day' >= $2
           and (status = 'draft' or not (pour ->> 'inWeek')::boolean or (pour ->> 'short')::boolean)) as pours
     from run where id = $1`,
    [id, today],
  );
  const { pours, choices } = rows[0]!;
  return pours || choices ? { pours: pours ?? [], choices } : null;
}
