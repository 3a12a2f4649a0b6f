import { provenIn, strictIn } from './strict.js';
import { fieldsOf } from './statement-tables.js';
import type { Node } from './statement-tables.js';

/** A column of a table or of what a statement answers. */
export interface Column {
  name: string;
  nullable: boolean;
}

/** One name of a FROM and its columns. */
export interface Source {
  alias: string;
  columns: readonly Column[];
  /** On the side of an outer join that may have no row. */
  isMissing: boolean;
  /** Columns that are not null in the rows that are left. */
  known: Set<string>;
}

/** What is in sight of an expression. */
export interface Scope {
  sources: Source[];
  /** Names of a WITH, the tables of the database, and, as `name()`, its functions that answer rows. */
  named: Catalogue;
  /** Numbers of the parameters that are never null. */
  given: ReadonlySet<number>;
  /** Whole expressions that are not null, as a condition says. */
  known: Set<string>;
  outer?: Scope;
  /** Without GROUP BY one row is answered of no rows, so that a sum is null. */
  isGrouped: boolean;
  /** Whether an expression may be null where this is in sight. */
  mayBeNull: (expression: Node, scope: Scope) => boolean;
}

/** Columns of tables, by the table's name. */
export type Catalogue = ReadonlyMap<string, readonly Column[]>;

function within(outer: Scope, named: Catalogue, isGrouped = false): Scope {
  return { ...outer, sources: [], named, known: new Set(), outer, isGrouped };
}

/** The columns a parsed statement answers, in their order; those that are not provably there count as nullable. */
export function columnsOf(statement: Node, outer: Scope): Column[] {
  const [kind, node] = Object.entries(statement)[0]! as [string, Node];
  const inSight = withNames(node, outer);
  if (kind === 'SelectStmt') return columnsOfSelect(node, { ...outer, named: inSight });
  const scope = within(outer, inSight);
  const target = node['relation'] as Node;
  scope.sources.push(sourceOf(target, inSight.get(target['relname'] as string) ?? []));
  const others = [node['fromClause'], node['usingClause'], node['sourceRelation']]
    .flat()
    .filter((item) => item !== undefined);
  for (const item of others) scope.sources.push(...sourcesIn(item as Node, scope));
  narrow(scope.sources, node['whereClause'] as Node | undefined, scope);
  return targets((node['returningList'] ?? returningOf(node)) as Node[], scope);
}

/** PostgreSQL 18 keeps what RETURNING names in a node of its own. */
function returningOf(node: Node): Node[] {
  return ((node['returningClause'] as Node | undefined)?.['exprs'] ?? []) as Node[];
}

function withNames(node: Node, outer: Scope): Catalogue {
  const clause = node['withClause'] as Node | undefined;
  if (!clause) return outer.named;
  const all = new Map(outer.named);
  const scope = { ...outer, named: all };
  for (const { CommonTableExpr: cte } of clause['ctes'] as { CommonTableExpr: Node }[]) {
    const name = cte['ctename'] as string;
    const renamed = (columns: Column[]) => rename(columns, cte['aliascolnames']);
    const query = cte['ctequery'] as Node;
    const union = query['SelectStmt'] as Node | undefined;
    // what refers to itself starts as its first half and is read again until no column turns out nullable any more
    if (clause['recursive'] && union?.['larg']) all.set(name, renamed(columnsOf({ SelectStmt: union['larg'] }, scope)));
    let before: string;
    do {
      before = JSON.stringify(all.get(name));
      all.set(name, renamed(columnsOf(query, scope)));
    } while (clause['recursive'] && before !== JSON.stringify(all.get(name)));
  }
  return all;
}

function rename(columns: readonly Column[], names: unknown): Column[] {
  const given = ((names ?? []) as { String: { sval: string } }[]).map(({ String: { sval } }) => sval);
  return columns.map((column, index) => ({ ...column, name: given[index] ?? column.name }));
}

function columnsOfSelect(node: Node, outer: Scope): Column[] {
  if (node['valuesLists']) return columnsOfValues(node, within(outer, outer.named));
  if (node['larg']) {
    const left = columnsOf({ SelectStmt: node['larg'] }, outer);
    const right = columnsOf({ SelectStmt: node['rarg'] }, outer);
    return left.map(({ name, nullable }, index) => ({ name, nullable: nullable || (right[index]?.nullable ?? true) }));
  }
  return targets((node['targetList'] ?? []) as Node[], scopeOf(node, outer));
}

/** What the expressions of a SELECT see: its FROM, less the rows its WHERE leaves out. */
function scopeOf(node: Node, outer: Scope): Scope {
  const groups = (node['groupClause'] ?? []) as Node[];
  const scope = within(outer, outer.named, groups.length > 0);
  for (const item of (node['fromClause'] ?? []) as Node[]) scope.sources.push(...sourcesIn(item, scope));
  narrow(scope.sources, node['whereClause'] as Node | undefined, scope);
  // a grouping set leaves out some of what is grouped by
  if (groups.some((group) => 'GroupingSet' in group)) for (const source of scope.sources) source.isMissing = true;
  return scope;
}

function columnsOfValues(node: Node, scope: Scope): Column[] {
  const rows = (node['valuesLists'] as { List: { items: Node[] } }[]).map(({ List }) => List.items);
  return rows[0]!.map((_, index) => ({
    name: `column${index + 1}`,
    nullable: rows.some((row) => scope.mayBeNull(row[index]!, scope)),
  }));
}

function targets(list: readonly Node[], scope: Scope): Column[] {
  return list.flatMap((item) => {
    const { name, val } = item['ResTarget'] as { name?: string; val: Node };
    const parts = fieldsOf(val);
    if (parts?.at(-1) !== '*') return [{ name: name ?? nameOf(val), nullable: scope.mayBeNull(val, scope) }];
    const of = parts.length > 1 ? scope.sources.filter(({ alias }) => alias === parts[0]) : scope.sources;
    return of.flatMap((source) =>
      source.columns.map((column) => ({ name: column.name, nullable: isNullable(source, column) })),
    );
  });
}

/** The name PostgreSQL gives what has none. */
function nameOf(value: Node): string {
  const parts = fieldsOf(value);
  if (parts) return parts.at(-1)!;
  const { TypeCast: cast, FuncCall: call } = value as { TypeCast?: { arg: Node }; FuncCall?: { funcname: Node[] } };
  if (cast) return nameOf(cast.arg);
  if (call) return (call.funcname.at(-1) as { String: { sval: string } }).String.sval;
  return 'CoalesceExpr' in value ? 'coalesce' : 'CaseExpr' in value ? 'case' : '?column?';
}

function sourcesIn(item: Node, scope: Scope): Source[] {
  const [kind, node] = Object.entries(item)[0]! as [string, Node];
  if (kind === 'JoinExpr') return sourcesOfJoin(node, scope);
  if (kind === 'RangeVar') return [sourceOf(node, scope.named.get(node['relname'] as string) ?? [])];
  if (kind === 'RangeSubselect') return [sourceOf(node, columnsOf(node['subquery'] as Node, scope))];
  if (kind === 'RangeFunction') return [sourceOf(node, columnsOfFunction(node, scope))];
  throw new Error(`a FROM has a ${kind}, which is not known here`);
}

function sourcesOfJoin(node: Node, scope: Scope): Source[] {
  const left = sourcesIn(node['larg'] as Node, scope);
  // what is LATERAL sees what is to its left
  const right = sourcesIn(node['rarg'] as Node, { ...scope, sources: [...scope.sources, ...left] });
  const all = [...left, ...right];
  const kind = node['jointype'] as string;
  const seen = { ...scope, sources: [...scope.sources, ...all] };
  if (kind === 'JOIN_INNER') {
    narrow(all, node['quals'] as Node | undefined, seen);
    for (const { String: using } of (node['usingClause'] ?? []) as { String: { sval: string } }[])
      for (const source of all) if (source.columns.some(({ name }) => name === using.sval)) found(source, using.sval);
  }
  // of a row that is joined the condition holds
  if (kind === 'JOIN_LEFT') narrow(right, node['quals'] as Node | undefined, { ...seen, sources: right });
  if (kind !== 'JOIN_INNER' && kind !== 'JOIN_RIGHT') for (const source of right) source.isMissing = true;
  if (kind === 'JOIN_RIGHT' || kind === 'JOIN_FULL') for (const source of left) source.isMissing = true;
  return all;
}

function sourceOf(node: Node, columns: readonly Column[]): Source {
  const alias = node['alias'] as { aliasname: string; colnames?: unknown } | undefined;
  return {
    alias: alias?.aliasname ?? (node['relname'] as string) ?? '',
    columns: rename(columns, alias?.colnames),
    isMissing: false,
    known: new Set(),
  };
}

/** Functions whose rows hold no null, whatever they are given. */
const ROWS_WITHOUT_NULL = new Set([
  'generate_series',
  'jsonb_array_elements',
  'json_array_elements',
  'jsonb_object_keys',
  'jsonb_each',
]);
for (const name of ['generate_subscripts', 'regexp_split_to_table', 'string_to_table']) ROWS_WITHOUT_NULL.add(name);

function columnsOfFunction(node: Node, scope: Scope): Column[] {
  const alias = node['alias'] as { aliasname: string; colnames?: unknown[] } | undefined;
  const calls = (node['functions'] as { List: { items: Node[] } }[]).map(({ List }) => List.items[0]!);
  const defined = (node['coldeflist'] ?? []) as { ColumnDef: { colname: string } }[];
  if (defined.length > 0) return defined.map(({ ColumnDef }) => ({ name: ColumnDef.colname, nullable: true }));
  const columns = calls.flatMap((call) => {
    const name = nameOf(call);
    // several lists side by side are as long as the longest, and the others end in null
    const made = scope.named.get(`${name}()`);
    if (made) return made;
    const lists = name === 'unnest' ? ((call['FuncCall'] as Node)['args'] as Node[]) : [call];
    const nullable = !(
      ROWS_WITHOUT_NULL.has(name) ||
      (name === 'unnest' && lists.length === 1 && isListWithoutNull(lists[0]!, scope))
    );
    const wanted = Math.max(lists.length, (alias?.colnames?.length ?? 0) - (node['ordinality'] ? 1 : 0));
    return Array.from({ length: wanted }, () => ({ name: alias?.aliasname ?? name, nullable }));
  });
  return node['ordinality'] ? [...columns, { name: 'ordinality', nullable: false }] : columns;
}

/** A list written down, or one that is handed over: the compiler knows whether one of its members may be null. */
export function isListWithoutNull(list: Node, scope: Scope): boolean {
  const cast = list['TypeCast'] as { arg: Node } | undefined;
  if (cast) return isListWithoutNull(cast.arg, scope);
  const place = list['ParamRef'] as { number?: number } | undefined;
  if (place) return scope.given.has(place.number ?? 0);
  const array = list['A_ArrayExpr'] as { elements?: Node[] } | undefined;
  return array !== undefined && (array.elements ?? []).every((element) => !scope.mayBeNull(element, scope));
}

/** What a condition that holds says of the rows that are left. */
export function narrow(sources: readonly Source[], condition: Node | undefined, scope: Scope): void {
  if (!condition) return;
  for (const expression of provenIn(condition)) scope.known.add(writtenOut(expression));
  for (const parts of strictIn(condition)) {
    const source = sourceWith(parts, scope.sources);
    if (source && sources.includes(source)) found(source, parts.at(-1)!);
  }
}

/** Whether a condition says of just this expression that it is not null. */
export function isKnown(expression: Node, scope: Scope): boolean {
  return scope.known.size > 0 && scope.known.has(writtenOut(expression));
}

/** An expression without where it stands in the text. */
function writtenOut(expression: Node): string {
  return JSON.stringify(expression, (key, value: unknown) => (key === 'location' ? undefined : value));
}

function found(source: Source, column: string): void {
  source.known.add(column);
  // a column that is there is of a row that is there
  source.isMissing = false;
}

function sourceWith(parts: readonly string[], sources: readonly Source[]): Source | undefined {
  const column = parts.at(-1)!;
  if (parts.length > 1) return sources.find(({ alias }) => alias === parts.at(-2));
  return sources.find(({ columns }) => columns.some(({ name }) => name === column));
}

function isNullable(source: Source, column: Column): boolean {
  return source.isMissing || (column.nullable && !source.known.has(column.name));
}

const SYSTEM_COLUMNS = new Set(['xmin', 'ctid', 'tableoid']);

/** Whether a reference may be null; one that is not found counts as nullable. */
export function isColumnNullable(parts: readonly string[], scope: Scope): boolean {
  const source = sourceWith(parts, scope.sources);
  const isOfTheSystem = SYSTEM_COLUMNS.has(parts.at(-1)!);
  if (isOfTheSystem && (source ?? scope.sources[0])) return (source ?? scope.sources[0])!.isMissing;
  const column = source?.columns.find(({ name }) => name === parts.at(-1));
  if (source && column) return isNullable(source, column);
  // a whole row, by the name of its table
  const row = parts.length === 1 ? scope.sources.find(({ alias }) => alias === parts[0]) : undefined;
  if (row) return row.isMissing || row.columns.length === 1;
  return scope.outer ? isColumnNullable(parts, scope.outer) : true;
}

/** A scope in which a condition holds, for what stands behind it in a CASE. */
export function scopeWhere(condition: Node, scope: Scope): Scope {
  const copies = scope.sources.map((source) => ({ ...source, known: new Set(source.known) }));
  const inner = { ...scope, sources: copies, known: new Set(scope.known) };
  narrow(copies, condition, inner);
  return inner;
}

/** Whether a subquery answers one row even of none, as a sum of everything does, and that is not null. */
export function isSingleAndThere(select: Node, scope: Scope): boolean {
  const node = select['SelectStmt'] as Node;
  const isOneRow = !node['fromClause'] && !node['whereClause'] && !node['valuesLists'] && !node['larg'];
  const [target] = (node['targetList'] ?? []) as Node[];
  const isSum = !node['groupClause'] && !node['havingClause'] && target !== undefined && hasAggregate(target);
  return (isOneRow || isSum) && !node['limitOffset'] && columnsOf(select, scope)[0]?.nullable === false;
}

const AGGREGATES = new Set([
  'count',
  'sum',
  'min',
  'max',
  'avg',
  'array_agg',
  'json_agg',
  'jsonb_agg',
  'string_agg',
  'bool_or',
  'bool_and',
]);

function hasAggregate(value: unknown): boolean {
  if (typeof value !== 'object' || value === null) return false;
  return Object.entries(value).some(([kind, inner]) => {
    if (kind === 'SubLink') return false;
    if (kind === 'FuncCall' && !(inner as Node)['over'] && AGGREGATES.has(nameOf({ FuncCall: inner }))) return true;
    return hasAggregate(inner);
  });
}
