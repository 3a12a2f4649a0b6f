import { parseSync } from 'libpg-query';

/** A node of PostgreSQL's parse tree as plain data. */
export type Node = Record<string, unknown>;

export interface TablesOfStatement {
  /** Tables and views that are read, and those a row of is added, changed, removed or emptied. */
  reads: Set<string>;
  writes: Set<string>;
  /** Functions that are called, the database's own among them. */
  calls: Set<string>;
  /** Temporary tables that are made. */
  makes: Set<string>;
  /** Kinds of statement nobody foresaw, which could do anything. */
  unknown: Set<string>;
}

const WRITING = new Set(['InsertStmt', 'UpdateStmt', 'DeleteStmt', 'MergeStmt']);
/** What changes no row of the tables named in it. */
const HARMLESS = new Set([
  'SelectStmt',
  'VariableSetStmt',
  'TransactionStmt',
  'LockStmt',
  'IndexStmt',
  'VacuumStmt',
  'DiscardStmt',
]);

/**
 * What a text of one or more statements touches. A name of a WITH is no table where it is in sight. Throws what
 * PostgreSQL's parser says.
 */
export function tablesOf(sql: string): TablesOfStatement {
  const tables: TablesOfStatement = {
    reads: new Set(),
    writes: new Set(),
    calls: new Set(),
    makes: new Set(),
    unknown: new Set(),
  };
  const { stmts = [] } = parseSync(sql) as { stmts?: { stmt: Node }[] };
  for (const { stmt } of stmts) walk(stmt, new Set(), tables);
  return tables;
}

function walk(value: unknown, names: ReadonlySet<string>, tables: TablesOfStatement): void {
  if (typeof value !== 'object' || value === null) return;
  for (const [kind, inner] of Object.entries(value)) {
    // FOR UPDATE OF names what stands in the FROM already
    if (kind === 'lockedRels') continue;
    if (/^[A-Z]\w*Stmt$/.test(kind)) statement(kind, inner as Node, names, tables);
    else if (isRange(inner)) note(tables.reads, inner, names);
    else {
      if (kind === 'FuncCall') tables.calls.add(lastName((inner as Node)['funcname']));
      walk(inner, names, tables);
    }
  }
}

function isRange(value: unknown): value is Node {
  return typeof value === 'object' && value !== null && 'relname' in value;
}

function statement(kind: string, node: Node, outer: ReadonlySet<string>, tables: TablesOfStatement): void {
  const { withClause, relation, relations, into, ...rest } = node;
  const names = new Set(outer);
  const ctes = ((withClause as Node | undefined)?.['ctes'] ?? []) as { CommonTableExpr: Node }[];
  const nameOf = (cte: { CommonTableExpr: Node }) => cte.CommonTableExpr['ctename'] as string;
  // with RECURSIVE every name is in sight of all of them, else only of those after it
  if ((withClause as Node | undefined)?.['recursive']) for (const cte of ctes) names.add(nameOf(cte));
  for (const cte of ctes) {
    walk(cte.CommonTableExpr['ctequery'], names, tables);
    names.add(nameOf(cte));
  }
  const made =
    kind === 'CreateTableAsStmt' ? ((into as Node)['rel'] as Node) : kind === 'CreateStmt' ? relation : undefined;
  if (made && (made as Node)['relpersistence'] === 't') note(tables.makes, made as Node, NONE);
  else if (WRITING.has(kind)) note(tables.writes, relation as Node, NONE);
  else if (kind === 'TruncateStmt')
    for (const range of relations as Node[]) note(tables.writes, range['RangeVar'] as Node, NONE);
  else if (HARMLESS.has(kind)) walk({ relation, relations }, names, tables);
  else tables.unknown.add(kind);
  walk(rest, names, tables);
}

const NONE: ReadonlySet<string> = new Set();

function note(into: Set<string>, range: Node, names: ReadonlySet<string>): void {
  const schema = range['schemaname'] as string | undefined;
  const name = range['relname'] as string;
  if (schema === undefined && names.has(name)) return;
  into.add(schema === undefined || schema === 'public' ? name : `${schema}.${name}`);
}

function lastName(names: unknown): string {
  const parts = names as { String: { sval: string } }[];
  return parts.at(-1)!.String.sval;
}

/** `a.b` as its parts, where the expression is a reference to a column; `*` for all. */
export function fieldsOf(value: Node): string[] | undefined {
  const reference = value['ColumnRef'] as
    | { fields: ({ String?: { sval: string } } | { A_Star: unknown })[] }
    | undefined;
  return reference?.fields.map((field) => ('String' in field ? field.String!.sval : '*'));
}
