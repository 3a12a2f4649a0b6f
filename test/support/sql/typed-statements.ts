import { parseSync } from 'libpg-query';
import type { Client } from 'pg';
import ts from 'typescript';
import type { CallSite } from './call-sites.js';
import { describeStatement } from './describe.js';
import type { Described } from './describe.js';
import { columnsOf } from './row-scope.js';
import type { Catalogue, Column } from './row-scope.js';
import { claimOf, mismatch } from './row-claims.js';
import type { Node } from './statement-tables.js';
import { tablesOf } from './statement-tables.js';

/** What the database says of itself: columns of tables in their order, and names of types. */
export interface DatabaseShape {
  tables: Catalogue;
  types: ReadonlyMap<number, string>;
}

export async function readShape(client: Client): Promise<DatabaseShape> {
  const { rows: types } = await client.query<{ oid: number; name: string }>('select oid::int4, typname as name from pg_type');
  const { rows } = await client.query<{ of: string; name: string; nullable: boolean }>(`
    select c.relname as of, a.attname as name, not a.attnotnull as nullable
    from pg_attribute a join pg_class c on c.oid = a.attrelid
    where c.relkind in ('r', 'p', 'v') and a.attnum > 0 and not a.attisdropped
      and (c.relnamespace = 'public'::regnamespace or c.relpersistence = 't' or c.relnamespace = 'pg_catalog'::regnamespace)
    order by c.oid, a.attnum`);
  const tables = new Map<string, Column[]>();
  for (const { of, name, nullable } of rows) tables.set(of, [...(tables.get(of) ?? []), { name, nullable }]);
  return { tables, types: new Map(types.map(({ oid, name }) => [oid, name])) };
}

/**
 * Begins a transaction in which the temporary tables of the sources stand, so that what uses them can be asked for. It is
 * taken back with the connection.
 */
export async function beginWithTemporaryTables(client: Client, sites: readonly CallSite[]): Promise<void> {
  await client.query('begin');
  for (const text of sites.flatMap(({ texts }) => texts ?? [])) if (tablesOf(text).makes.size > 0) await client.query(text);
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
    const described = await ask(client, text);
    if (typeof described === 'string') {
      faults.add(`${where} is refused: ${described}`);
      continue;
    }
    checked += 1;
    for (const fault of compare(site, stmts[0]!.stmt, described, shape, checker)) faults.add(`${where} ${fault}`);
  }
  return { faults: [...faults], checked };
}

async function ask(client: Client, text: string): Promise<Described[] | string> {
  await client.query('savepoint asked');
  try {
    return await describeStatement(client, text);
  } catch (error) {
    return (error as Error).message;
  } finally {
    await client.query('rollback to savepoint asked');
  }
}

function compare(site: CallSite, statement: Node, described: readonly Described[], shape: DatabaseShape, checker: ts.TypeChecker): string[] {
  const kind = Object.keys(statement)[0]!;
  const isDriver = ts.isCallExpression(site.call) && ts.isPropertyAccessExpression(site.call.expression) && isClient(site.call.expression.expression, checker);
  // the library answers these two, and only these, as rows beside their number
  const claim = claimOf(site, checker, !isDriver && (kind === 'UpdateStmt' || kind === 'DeleteStmt'));
  if (claim.kind === 'nothing' || (claim.kind === 'bad' && described.length === 0)) return [];
  if (claim.kind === 'bad') return [claim.sentence];
  const faults: string[] = [];
  const known = described.length > 0 ? columnsOf(statement, shape.tables) : [];
  if (known.length !== described.length) return [`answers ${described.length} columns, of which ${known.length} are understood`];
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

function isClient(receiver: ts.Expression, checker: ts.TypeChecker): boolean {
  return /^(Client|ClientBase|Pool|PoolClient)$/.test(checker.getTypeAtLocation(receiver).getSymbol()?.name ?? '');
}
