import { parseSync } from 'libpg-query';
import type { Client } from 'pg';
import ts from 'typescript';
import type { CallSite } from './call-sites.js';
import { describeStatement } from './describe.js';
import type { Described } from './describe.js';
import { scopeOfAll } from './may-be-null.js';
import { columnsOf } from './row-scope.js';
import type { Column } from './row-scope.js';
import { claimOf, mismatch } from './row-claims.js';
import type { Node } from './statement-tables.js';
import { tablesOf } from './statement-tables.js';

/** What the database says of itself: columns of tables in their order, and names of types. */
export interface DatabaseShape {
  tables: Map<string, readonly Column[]>;
  types: ReadonlyMap<number, string>;
}

/** Functions of this database that answer rows without a null, as their bodies say. */
const ROWS_WITHOUT_NULL = new Set(['ledger_checks']);

async function readShape(client: Client): Promise<DatabaseShape> {
  const { rows: types } = await client.query<{ oid: number; name: string }>(
    'select oid::int4, typname as name from pg_type',
  );
  const { rows } = await client.query<{ of: string; name: string; nullable: boolean }>(`
    select c.relname as of, a.attname as name, not a.attnotnull as nullable
    from pg_attribute a join pg_class c on c.oid = a.attrelid
    where c.relkind in ('r', 'p', 'v') and a.attnum > 0 and not a.attisdropped
      and (c.relnamespace = 'public'::regnamespace or c.relpersistence = 't' or c.relnamespace = 'pg_catalog'::regnamespace)
    order by c.oid, a.attnum`);
  const { rows: functions } = await client.query<{ of: string; columns: string[] | null; table: string | null }>(`
    select p.proname as of, r.relname as table, array(select n from unnest(p.proargnames, p.proargmodes) as a (n, mode)
        where mode in ('o', 't'))::text[] as columns
    from pg_proc p join pg_type t on t.oid = p.prorettype left join pg_class r on r.oid = t.typrelid
    where p.pronamespace = 'public'::regnamespace and (t.typrelid <> 0 or p.proretset)`);
  const tables = new Map<string, Column[]>();
  for (const { of, name, nullable } of rows) tables.set(of, [...(tables.get(of) ?? []), { name, nullable }]);
  for (const { of, columns, table } of functions) {
    const answered = (columns ?? []).map((name) => ({ name, nullable: !ROWS_WITHOUT_NULL.has(of) }));
    tables.set(`${of}()`, (table === null ? undefined : tables.get(table)) ?? answered);
  }
  await addViews(client, tables);
  return { tables, types: new Map(types.map(({ oid, name }) => [oid, name])) };
}

/**
 * Begins a transaction in which the temporary tables of the sources stand, so that what uses them can be asked for, and
 * reads the shape of the database with them. It is taken back with the connection.
 */
export async function openShape(client: Client, sites: readonly CallSite[]): Promise<DatabaseShape> {
  await client.query('begin');
  let making = sites.flatMap(({ texts }) => texts ?? []).filter((text) => tablesOf(text).makes.size > 0);
  const made: string[] = [];
  // one is made from another, so those that cannot be made yet are tried again after the rest
  for (let before = -1; making.length !== before;) {
    before = making.length;
    const waiting: string[] = [];
    for (const text of making) {
      const answer = await attempt(client, () => client.query(text, noValuesFor(text)));
      (typeof answer === 'string' ? waiting : made).push(text);
    }
    making = waiting;
  }
  if (making.length > 0) throw new Error(`a temporary table cannot be made: ${making[0]}`);
  const shape = await readShape(client);
  for (const text of made) addMade(shape.tables, text);
  return shape;
}

/** What a table made of a query may hold, which the catalogue does not say: no column of it is declared NOT NULL. */
function addMade(tables: Map<string, readonly Column[]>, text: string): void {
  const { stmts = [] } = parseSync(text) as { stmts?: { stmt: { CreateTableAsStmt?: { query: Node } } }[] };
  const query = stmts[0]?.stmt.CreateTableAsStmt?.query;
  const [name] = tablesOf(text).makes;
  if (query && name !== undefined) tables.set(name, columnsOf(query, scopeOfAll(tables, new Set())));
}

/** What is wrong with what a call says of its rows, in sentences; `checked` counts the statements that were asked for. */
export async function faultsOf(
  site: CallSite,
  { client, shape, checker }: { client: Client; shape: DatabaseShape; checker: ts.TypeChecker },
): Promise<{ faults: string[]; checked: number }> {
  const where = `${site.path}:${site.line}`;
  const faults = new Set<string>();
  let checked = 0;
  for (const text of site.texts ?? []) {
    const { stmts = [] } = parseSync(text) as { stmts?: { stmt: Node }[] };
    // several at once answer nothing anybody claims, and cannot be asked for
    if (stmts.length !== 1) continue;
    const described = await attempt(client, () => describeStatement(client, text));
    if (typeof described === 'string') {
      faults.add(`${where} is refused: ${described}`);
      continue;
    }
    checked += 1;
    for (const fault of compare(site, stmts[0]!.stmt, described, shape, checker)) faults.add(`${where} ${fault}`);
  }
  return { faults: [...faults], checked };
}

/** The catalogue says of no column of a view that it is not null: its query does. One view may read another. */
async function addViews(client: Client, tables: Map<string, readonly Column[]>): Promise<void> {
  const { rows } = await client.query<{ name: string; definition: string }>(
    `select viewname as name, definition from pg_views where schemaname = 'public'`,
  );
  for (let before = ''; before !== JSON.stringify(rows.map(({ name }) => tables.get(name)));) {
    before = JSON.stringify(rows.map(({ name }) => tables.get(name)));
    for (const { name, definition } of rows) {
      const { stmts } = parseSync(definition) as { stmts: { stmt: Node }[] };
      tables.set(name, columnsOf(stmts[0]!.stmt, scopeOfAll(tables, new Set())));
    }
  }
}

function noValuesFor(text: string): null[] {
  const places = [...text.matchAll(/\$(\d+)/g)].map(([, place]) => Number(place));
  return Array.from({ length: Math.max(0, ...places) }, () => null);
}

/** What came of it, or what the database said against it, which then leaves no trace. */
async function attempt<T>(client: Client, ask: () => Promise<T>): Promise<T | string> {
  await client.query('savepoint attempt');
  try {
    const answer = await ask();
    await client.query('release savepoint attempt');
    return answer;
  } catch (error) {
    await client.query('rollback to savepoint attempt');
    return (error as Error).message;
  }
}

function compare(
  site: CallSite,
  statement: Node,
  described: readonly Described[],
  shape: DatabaseShape,
  checker: ts.TypeChecker,
): string[] {
  const kind = Object.keys(statement)[0]!;
  const isDriver =
    ts.isCallExpression(site.call) &&
    ts.isPropertyAccessExpression(site.call.expression) &&
    isClient(site.call.expression.expression, checker);
  // the library answers these two, and only these, as rows beside their number
  const claim = claimOf(site, checker, !isDriver && (kind === 'UpdateStmt' || kind === 'DeleteStmt'));
  if (claim.kind === 'nothing' || (claim.kind === 'bad' && described.length === 0)) return [];
  if (claim.kind === 'bad') return [claim.sentence];
  const faults: string[] = [];
  const known = described.length > 0 ? columnsOf(statement, scopeOfAll(shape.tables, givenValues(site, checker))) : [];
  if (known.length !== described.length)
    return [`answers ${described.length} columns, of which ${known.length} are understood`];
  for (const [index, { name, type }] of described.entries()) {
    const claimed = claim.columns.get(name);
    if (!claimed) {
      faults.push(`answers ${name}, which is not claimed`);
      continue;
    }
    const fault = mismatch(claimed, shape.types.get(type) ?? String(type), known[index]!.nullable, checker);
    if (fault) faults.push(`claims ${name}, which ${fault}`);
  }
  const answered = new Set(described.map(({ name }) => name));
  for (const [name, { isOptional }] of claim.columns)
    if (!isOptional && !answered.has(name)) faults.push(`claims ${name}, which is not answered`);
  return faults;
}

/** The parameters for which a value is handed over whose type knows no null. */
function givenValues({ call }: CallSite, checker: ts.TypeChecker): Set<number> {
  const given = new Set<number>();
  const values = ts.isCallExpression(call) ? call.arguments.at(-1) : undefined;
  if (!values || !ts.isArrayLiteralExpression(values)) return given;
  for (const [index, value] of values.elements.entries()) {
    if (ts.isSpreadElement(value)) break;
    const type = checker.getTypeAtLocation(value);
    const [element] = checker.isArrayType(type) ? checker.getTypeArguments(type as ts.TypeReference) : [];
    if (!admitsNull(type) && !(element && admitsNull(element))) given.add(index + 1);
  }
  return given;
}

function admitsNull(type: ts.Type): boolean {
  const nothing = ts.TypeFlags.Null | ts.TypeFlags.Undefined | ts.TypeFlags.Unknown | ts.TypeFlags.Any;
  return (type.isUnion() ? type.types : [type]).some(({ flags }) => flags & nothing);
}

function isClient(receiver: ts.Expression, checker: ts.TypeChecker): boolean {
  return /^(Client|ClientBase|Pool|PoolClient)$/.test(checker.getTypeAtLocation(receiver).getSymbol()?.name ?? '');
}
