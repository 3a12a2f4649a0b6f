import type { EntityManager } from 'typeorm';

/** How long it is kept what a look found. */
const KEPT_DAYS = 60;

/** That somebody looked for what is due, and what they found; what is long past goes. */
export async function noteSweep(
  tx: EntityManager,
  swept: { day: string; found: number; added: number; ended: number; tookMs: number },
): Promise<void> {
  await tx.query('insert into sweep (day, found, added, ended, took_ms) values ($1, $2, $3, $4, $5)', [
    swept.day,
    swept.found,
    swept.added,
    swept.ended,
    swept.tookMs,
  ]);
  await tx.query(`delete from sweep where done_at < now() - make_interval(days => ${KEPT_DAYS})`);
}
