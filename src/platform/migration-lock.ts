import { setTimeout as pause } from 'node:timers/promises';
import type { ClientBase } from 'pg';
import { StartProblem } from './start-problem.js';

/** Of two servers that start at once on one database, one migrates and the other waits. Any constant of our own. */
const MIGRATION_LOCK = 7_640_001;
const LOCK_MS_MAX = 120_000;

/**
 * Waits until nobody else changes the schema, and keeps others from it until the connection ends or `leaveSchema`; with
 * `share`, others may look at it too. Throws StartProblem after two minutes.
 */
export async function holdSchema(client: ClientBase, { share = false }: { share?: boolean } = {}): Promise<void> {
  const deadline = Date.now() + LOCK_MS_MAX;
  for (;;) {
    const { rows } = await client.query<{ taken: boolean | null }>(
      share ? 'select pg_try_advisory_lock_shared($1) as taken' : 'select pg_try_advisory_lock($1) as taken',
      [MIGRATION_LOCK],
    );
    if (rows[0]?.taken) return;
    if (Date.now() > deadline) throw new StartProblem('Another Lotwright has been changing this database for minutes.');
    await pause(200);
  }
}

/** Lets go of a shared hold. */
export async function leaveSchema(client: ClientBase): Promise<void> {
  await client.query('select pg_advisory_unlock_shared($1)', [MIGRATION_LOCK]);
}
