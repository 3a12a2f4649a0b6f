import { DataSource } from 'typeorm';
import type { EntityManager } from 'typeorm';
import { type VesselConflict, vesselConflicts } from './batches/vessels.js';
import { Database } from './platform/database.js';
import { poolOptions } from './platform/pool-options.js';

/** One promise of the ledger as it was found: the rows it holds for, how many break it, and the first of those. */
export interface Check {
  rule: string;
  checked: number;
  wrong: number;
  tookMs: number;
  faults: { subject: string; found: string | null; expected: string | null }[];
}

/** Everything the ledger promises, recomputed in one snapshot of a database that may be in use. */
export const verifyLedger = (databaseUrl: string): Promise<Check[]> => look(databaseUrl, ledgerChecks);

/** What stands in one vessel with another: that is how it came about, breaks no promise, and wants to be looked at. */
export const lookForVesselConflicts = (databaseUrl: string): Promise<VesselConflict[]> =>
  look(databaseUrl, (tx) => vesselConflicts(tx));

/** Both, of the same snapshot. */
export const lookOver = (databaseUrl: string): Promise<{ checks: Check[]; conflicts: VesselConflict[] }> =>
  look(databaseUrl, async (tx) => ({ checks: await ledgerChecks(tx), conflicts: await vesselConflicts(tx) }));

const ledgerChecks = (tx: EntityManager): Promise<Check[]> =>
  tx.query<Check[]>('select rule, checked, wrong, took_ms as "tookMs", faults from ledger_checks()');

async function look<T>(databaseUrl: string, read: (tx: EntityManager) => Promise<T>): Promise<T> {
  const dataSource = await new DataSource(poolOptions(databaseUrl)).initialize();
  try {
    return await new Database(dataSource).read(read);
  } finally {
    await dataSource.destroy();
  }
}

/** Those of them that are there, a line each under a heading; nothing where there is none. */
export function printVesselConflicts(conflicts: readonly VesselConflict[]): string {
  if (conflicts.length === 0) return '';
  const named = conflicts.slice(0, NAMED_MAX);
  const more = conflicts.length > named.length ? [`  and ${conflicts.length - named.length} more`] : [];
  return [
    'Two in one vessel, as it was written down (no promise is broken by it; look who has to move):',
    ...named.map(({ vessel, first, other, from, to }) => `  ${vessel}: ${first} and ${other}, ${from} to ${to}`),
    ...more,
  ].join('\n');
}

/** At the terminal no more wrong rows than this are named; all are counted. */
const NAMED_MAX = 50;

/** What was checked, a line for each promise, then the rows that break one, then the sum of it. */
export function printChecks(checks: readonly Check[]): string {
  const wide = Math.max(...checks.map(({ rule }) => rule.length));
  const lines = checks.map(({ rule, checked, wrong, tookMs }) => {
    const rows = `${checked} ${checked === 1 ? 'row' : 'rows'}`;
    return `  ${rule.padEnd(wide)}  ${rows.padStart(14)}  ${tookMs.toFixed(1).padStart(9)} ms  ${wrong === 0 ? 'holds' : `${wrong} wrong`}`;
  });
  const sum = (count: (check: Check) => number) => checks.reduce((total, check) => total + count(check), 0);
  const wrong = sum((check) => check.wrong);
  const named = checks.flatMap(({ rule, faults }) =>
    faults.map(
      ({ subject, found, expected }) => `  ${rule}, ${subject}: ${found ?? 'nothing'}, not ${expected ?? 'nothing'}`,
    ),
  );
  const done = `${checks.length} promises checked on ${sum(({ checked }) => checked)} rows in ${sum(({ tookMs }) => tookMs).toFixed(0)} ms`;
  if (wrong === 0) return [...lines, '', `${done}: all hold.`].join('\n');
  const shown = named.slice(0, NAMED_MAX);
  const more = wrong > shown.length ? [`  and ${wrong - shown.length} more`] : [];
  return [
    ...lines,
    '',
    'Wrong:',
    ...shown,
    ...more,
    '',
    `${done}: ${wrong} ${wrong === 1 ? 'row is' : 'rows are'} wrong.`,
  ].join('\n');
}
