import type { EntityManager } from 'typeorm';

/** Which acts changed something since somebody drained what they wrote down, each by its transaction. */
export async function changesSeen(tx: EntityManager): Promise<string[]> {
  const rows = await tx.query<{ xact: string }[]>('select xact::text from change');
  return rows.map(({ xact }) => xact);
}

/** Takes away what these wrote down; one that came meanwhile stays. */
export async function drainChanges(tx: EntityManager, seen: readonly string[]): Promise<void> {
  if (seen.length > 0) await tx.query('delete from change where xact = any($1::xid8[])', [seen]);
}
