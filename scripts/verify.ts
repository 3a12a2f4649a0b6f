import { readConfig } from '../src/config.js';
import { openDatabase } from '../src/platform/open-database.js';
import { sayWhy } from '../src/platform/start-problem.js';
import { lookOver, printChecks, printVesselConflicts } from '../src/verify.js';

/**
 * Recomputes everything the ledger promises and prints what was checked. A server that runs on the same home is joined,
 * not disturbed. What stands in one vessel with another is named first. Exit code 0: all holds. 1: something is wrong, and
 * named. 2: it could not be checked.
 */
async function main(): Promise<number> {
  const database = await openDatabase(readConfig(process.env), { join: true });
  try {
    const { checks, conflicts } = await lookOver(database.url);
    const named = printVesselConflicts(conflicts);
    console.log([...(named ? [named, ''] : []), printChecks(checks)].join('\n'));
    return checks.every(({ wrong }) => wrong === 0) ? 0 : 1;
  } finally {
    await database.close();
  }
}

try {
  process.exitCode = await main();
} catch (error) {
  sayWhy(error);
  process.exitCode = 2;
}
