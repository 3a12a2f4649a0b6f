import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { ClientBase } from 'pg';
import { LEDGER_CHECKS } from '../../migrations/functions/ledger-checks.js';
import { isNewer, VERSION } from './program-version.js';
import { PROJECT_FOLDER } from './project-folder.js';

/** A function or view of the database as it is now. */
export interface DatabaseFunction {
  name: string;
  kind: 'function' | 'view';
  /** Makes it, with its rights. A function replaces the one there is; a view is made where there is none. */
  sql: string;
  /** Hex SHA-256 of `sql`. */
  hash: string;
}

const FOLDER = join(PROJECT_FOLDER, 'migrations/functions');

/** All of them, each after those it names: one file each in `migrations/functions`, and the ledger's checks, made of its rules. */
export function readFunctions(): DatabaseFunction[] {
  const files = readdirSync(FOLDER)
    .filter((file) => file.endsWith('.sql'))
    .sort()
    // the same hash wherever the clone writes its line ends otherwise
    .map((file) => [file.slice(0, -'.sql'.length), readFileSync(join(FOLDER, file), 'utf8').replaceAll('\r\n', '\n')]);
  return inOrderOfNeed(
    [['ledger_checks', LEDGER_CHECKS], ...files].map(([name, sql]) => databaseFunction(name!, sql!)),
  );
}

function databaseFunction(name: string, sql: string): DatabaseFunction {
  return {
    name,
    kind: new RegExp(`^create view ${name} `, 'm').test(sql) ? 'view' : 'function',
    sql,
    hash: createHash('sha256').update(sql).digest('hex'),
  };
}

/** A view cannot be made before what it reads, nor a function in SQL; one that merely names another loses nothing by it. */
function inOrderOfNeed(functions: DatabaseFunction[]): DatabaseFunction[] {
  const ordered = new Set<DatabaseFunction>();
  const onTheWay = new Set<DatabaseFunction>();
  const visit = (each: DatabaseFunction) => {
    if (onTheWay.has(each)) return;
    onTheWay.add(each);
    const words = new Set(each.sql.match(/\w+/g));
    for (const other of functions) if (other !== each && words.has(other.name)) visit(other);
    ordered.add(each);
  };
  functions.forEach(visit);
  return [...ordered];
}

/**
 * Makes those anew that were last made of something else, all in one transaction. Called with the migration lock held,
 * after the last migration, and so only by a Lotwright that knows every migration there was.
 *
 * A newer Lotwright with the same migrations may have made some of them anew already. It changed no signature (what takes
 * or gives something else has a new name as long as both may run), so this one works with them, and leaves all of them
 * alone: going back to the version before must not bring back what was mended since. Builds of one version are of one
 * making, where whoever starts last is right.
 *
 * One whose file is gone stays, for whoever still runs the version before: a later migration drops it.
 */
export async function applyFunctions(owner: ClientBase): Promise<void> {
  await owner.query('begin');
  try {
    await makeFunctions(owner);
    await owner.query('commit');
  } catch (error) {
    await owner.query('rollback');
    throw error;
  }
}

/** The same in a transaction that is under way. */
export async function makeFunctions(owner: ClientBase): Promise<void> {
  const { rows: made } = await owner.query<{ name: string; hash: string; version: string }>(
    'select name, hash, version from database_function',
  );
  if (made.some(({ version }) => isNewer(version, VERSION))) return;
  const functions = readFunctions();
  const madeOf = new Map(made.map(({ name, hash }) => [name, hash]));
  const changed = new Set(functions.filter(({ name, hash }) => madeOf.get(name) !== hash));
  if (changed.size === 0) return;
  // what one view gives another may read, so all are dropped, the last first, and made anew in their order
  const views = functions.filter(({ kind }) => kind === 'view');
  const anew = views.some((view) => changed.has(view)) ? new Set([...changed, ...views]) : changed;
  for (const view of views.toReversed()) if (anew.has(view)) await owner.query(`drop view if exists ${view.name}`);
  for (const each of functions) if (anew.has(each)) await makeOne(owner, each);
}

async function makeOne(owner: ClientBase, { name, sql, hash }: DatabaseFunction): Promise<void> {
  await owner.query(sql);
  await owner.query(
    `insert into database_function (name, hash, version) values ($1, $2, $3)
     on conflict (name) do update set hash = excluded.hash, version = excluded.version, made_at = excluded.made_at`,
    [name, hash, VERSION],
  );
}

/**
 * A migration may replace or drop any of them, so before one is done it is forgotten what they were made of, and all of
 * them are made anew after the last: also by the next start, where this one does not come so far.
 */
export async function forgetFunctions(owner: ClientBase): Promise<void> {
  const { rows } = await owner.query<{ found: string | null }>(`select to_regclass('database_function') as found`);
  if (rows[0]?.found !== null) await owner.query('delete from database_function');
}
