import { LATEST_SCHEMA_VERSION, runMigrations } from 'bullmq';
import type { Client } from 'pg';

/** Where the queue keeps its jobs in the database, apart from everything that counts. */
export const QUEUE_SCHEMA = 'jobs';

const RIGHTS = `
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    -- for each queue the library makes a sequence of its own when its first job comes
    grant usage, create on schema ${QUEUE_SCHEMA} to lotwright_app;
    grant select, insert, update, delete on all tables in schema ${QUEUE_SCHEMA} to lotwright_app;
    grant usage on all sequences in schema ${QUEUE_SCHEMA} to lotwright_app;
  end $$`;

/**
 * Brings the queue's own tables up to date, as the owner: the library makes them, and the role that serves may fill and
 * empty them but not change them. Looks first, so that a usual start changes nothing.
 */
export async function prepareQueueSchema(owner: Client): Promise<void> {
  const { rows } = await owner.query<{ found: boolean }>(
    `select to_regclass('${QUEUE_SCHEMA}.migration') is not null as found`,
  );
  if (rows[0]!.found) {
    const { rows: done } = await owner.query<{ version: number }>(
      `select coalesce(max(version), 0)::int as version from ${QUEUE_SCHEMA}.migration`,
    );
    if (done[0]!.version >= LATEST_SCHEMA_VERSION) return;
  }
  await runMigrations(owner, QUEUE_SCHEMA);
  await owner.query(RIGHTS);
}
