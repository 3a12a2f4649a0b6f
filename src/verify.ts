import { DataSource } from 'typeorm';
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
export async function verifyLedger(databaseUrl: string): Promise<Check[]> {
  const dataSource = await new DataSource(poolOptions(databaseUrl)).initialize();
  try {
    return await new Database(dataSource).read((tx) =>
      tx.query<Check[]>('select rule, checked, wrong, took_ms as "tookMs", faults from ledger_checks()'),
    );
  } finally {
    await dataSource.destroy();
  }
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
