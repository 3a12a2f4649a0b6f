import type { ClientBase } from 'pg';
import { Migration, MigrationExecutor } from 'typeorm';
import type { DataSource, QueryRunner } from 'typeorm';
import { forgetFunctions } from '../database-functions.js';
import { MIGRATIONS, migrationsDone } from '../migrate.js';

/** The number at the end of a migration's name is its place in the order, as the library reads it. */
const DIGITS = 13;

/**
 * Brings the schema to where exactly these changes of it were made, in the transaction that is under way, and answers whether
 * that changed anything. Taking a change back may throw data away: call it on tables that are empty, or with more to be made.
 */
export async function bringTo(names: readonly string[], dataSource: DataSource, runner: QueryRunner): Promise<boolean> {
  const client = (await runner.connect()) as ClientBase;
  const done = new Set(await migrationsDone(client));
  const undo = MIGRATIONS.filter(({ name }) => done.has(name) && !names.includes(name)).toReversed();
  const make = MIGRATIONS.filter(({ name }) => !done.has(name) && names.includes(name));
  if (undo.length + make.length === 0) return false;
  await forgetFunctions(client);
  const executor = new MigrationExecutor(dataSource, runner);
  for (const each of undo) {
    await new each().down(runner);
    await executor.deleteMigration(migration(each));
  }
  for (const each of make) await executor.executeMigration(migration(each));
  return true;
}

function migration(each: (typeof MIGRATIONS)[number]): Migration {
  return new Migration(undefined, Number(each.name.slice(-DIGITS)), each.name, new each());
}
