import { Client } from 'pg';
import type { ClientBase } from 'pg';
import { DataSource } from 'typeorm';
import { Catalog1764000000001 } from '../../migrations/0001-catalog.js';
import { OrdersAndPurchasing1764000000002 } from '../../migrations/0002-orders-and-purchasing.js';
import { RunsAndBatches1764000000003 } from '../../migrations/0003-runs-and-batches.js';
import { StockLedger1764000000004 } from '../../migrations/0004-stock-ledger.js';
import { ApplicationRole1764000000005 } from '../../migrations/0005-application-role.js';
import { LedgerActs1764000000006 } from '../../migrations/0006-ledger-acts.js';
import { RunChanges1764000000007 } from '../../migrations/0007-run-changes.js';
import { Idempotency1764000000008 } from '../../migrations/0008-idempotency.js';
import { Verification1764000000009 } from '../../migrations/0009-verification.js';
import { OrderFiles1764000000010 } from '../../migrations/0010-order-files.js';
import { LineCover1764000000011 } from '../../migrations/0011-line-cover.js';
import { RemoveDemo1764000000012 } from '../../migrations/0012-remove-demo.js';
import { Units1764000000013 } from '../../migrations/0013-units.js';
import { QuickerPromises1764000000014 } from '../../migrations/0014-quicker-promises.js';
import { ChecksAndLabels1764000000016 } from '../../migrations/0016-checks-and-labels.js';
import { Reorder1764000000017 } from '../../migrations/0017-reorder.js';
import { PurchaseOrders1764000000018 } from '../../migrations/0018-purchase-orders.js';
import { ReportedShipments1764000000019 } from '../../migrations/0019-reported-shipments.js';
import { BatchLife1764000000015 } from '../../migrations/0015-batch-life.js';
import { DateCorrections1764000000020 } from '../../migrations/0020-date-corrections.js';
import { Trace1764000000021 } from '../../migrations/0021-trace.js';
import { Messages1764000000022 } from '../../migrations/0022-messages.js';
import { VerifyChecks1764000000023 } from '../../migrations/0023-verify-checks.js';
import { PurchaseLetters1764000000024 } from '../../migrations/0024-purchase-letters.js';
import { Functions1764000000025 } from '../../migrations/0025-functions.js';
import { PromisesInWords1764000000026 } from '../../migrations/0026-promises-in-words.js';
import { ErasureByReference1764000000027 } from '../../migrations/0027-erasure-by-reference.js';
import { VesselHoldsOne1764000000028 } from '../../migrations/0028-vessel-holds-one.js';
import { OrderPrecedence1764000000029 } from '../../migrations/0029-order-precedence.js';
import { SaidUse1764000000030 } from '../../migrations/0030-said-use.js';
import { Washing1764000000031 } from '../../migrations/0031-washing.js';
import { PlanTerms1764000000032 } from '../../migrations/0032-plan-terms.js';
import { People1764000000033 } from '../../migrations/0033-people.js';
import { HowOrdersAreSent1764000000034 } from '../../migrations/0034-how-orders-are-sent.js';
import { PlanTermsOfPlaces1764000000035 } from '../../migrations/0035-plan-terms-of-places.js';
import { FoundByWeighing1764000000036 } from '../../migrations/0036-found-by-weighing.js';
import { holdsData } from './backup/backup-contents.js';
import { applyFunctions, forgetFunctions } from './database-functions.js';
import { holdSchema } from './migration-lock.js';
import { poolOptions } from './pool-options.js';
import { isNewer, VERSION } from './program-version.js';
import { prepareQueueSchema } from './queue-schema.js';
import { servedLastBy } from './served-by.js';
import { StartProblem } from './start-problem.js';

/** Every change of the schema, oldest first. A new migration is added here. */
export const MIGRATIONS = [
  Catalog1764000000001,
  OrdersAndPurchasing1764000000002,
  RunsAndBatches1764000000003,
  StockLedger1764000000004,
  ApplicationRole1764000000005,
  LedgerActs1764000000006,
  RunChanges1764000000007,
  Idempotency1764000000008,
  Verification1764000000009,
  OrderFiles1764000000010,
  LineCover1764000000011,
  RemoveDemo1764000000012,
  Units1764000000013,
  QuickerPromises1764000000014,
  BatchLife1764000000015,
  ChecksAndLabels1764000000016,
  Reorder1764000000017,
  PurchaseOrders1764000000018,
  ReportedShipments1764000000019,
  DateCorrections1764000000020,
  Trace1764000000021,
  Messages1764000000022,
  VerifyChecks1764000000023,
  PurchaseLetters1764000000024,
  Functions1764000000025,
  PromisesInWords1764000000026,
  ErasureByReference1764000000027,
  VesselHoldsOne1764000000028,
  OrderPrecedence1764000000029,
  SaidUse1764000000030,
  Washing1764000000031,
  PlanTerms1764000000032,
  People1764000000033,
  HowOrdersAreSent1764000000034,
  PlanTermsOfPlaces1764000000035,
  FoundByWeighing1764000000036,
];

export interface MigrateOptions {
  /** Called with the schema held, before data of a workshop are changed. */
  before?: (guard: Client) => Promise<void>;
}

/**
 * Brings the schema up to date as the owner, each change in its own transaction, and then the functions and views. Throws
 * StartProblem when the database was already used by a newer Lotwright, or when the user may not make tables.
 */
export async function migrate(ownerUrl: string, { before }: MigrateOptions = {}): Promise<void> {
  const guard = new Client({ connectionString: ownerUrl });
  await guard.connect();
  try {
    await holdSchema(guard);
    const done = await migrationsDone(guard);
    await refuseNewerSchema(guard, done);
    if (MIGRATIONS.some(({ name }) => !done.includes(name))) {
      if (before && done.length > 0 && (await holdsData(guard))) await before(guard);
      await forgetFunctions(guard);
    }
    const dataSource = new DataSource({
      ...poolOptions(ownerUrl),
      migrations: MIGRATIONS,
      migrationsTransactionMode: 'each',
    });
    await dataSource.initialize();
    try {
      await dataSource.runMigrations();
    } finally {
      await dataSource.destroy();
    }
    await applyFunctions(guard);
    await prepareQueueSchema(guard);
  } catch (error) {
    throw isRefusedRight(error)
      ? new StartProblem(`The database refuses to be set up: ${(error as Error).message}. Connect as its owner.`)
      : error;
  } finally {
    await guard.end();
  }
}

/** Which changes were made, in their order; none where there is no schema yet. */
export async function migrationsDone(guard: ClientBase): Promise<string[]> {
  const { rows: tables } = await guard.query<{ found: string | null }>(`select to_regclass('migrations') as found`);
  if (tables[0]?.found === null) return [];
  const { rows } = await guard.query<{ name: string }>('select name from migrations order by id');
  return rows.map(({ name }) => name);
}

/** Throws StartProblem where the database knows a change that this Lotwright does not. */
export async function refuseNewerSchema(guard: ClientBase, done: string[]): Promise<void> {
  const unknown = done.find((name) => !MIGRATIONS.some((migration) => migration.name === name));
  if (unknown === undefined) return;
  const last = await servedLastBy(guard);
  const enough = last !== undefined && isNewer(last, VERSION) ? ` to ${last} or newer` : '';
  throw new StartProblem(
    `The database was used by a newer Lotwright (it knows ${unknown}). Update this one (${VERSION})${enough}, or choose other data with LOTWRIGHT_HOME or DATABASE_URL.`,
  );
}

const INSUFFICIENT_PRIVILEGE = '42501';

function isRefusedRight(error: unknown): boolean {
  return error instanceof Error && 'code' in error && error.code === INSUFFICIENT_PRIVILEGE;
}
