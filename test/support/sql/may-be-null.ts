import { columnsOf, isColumnNullable, isKnown, isListWithoutNull, isSingleAndThere, scopeWhere } from './row-scope.js';
import type { Catalogue, Scope } from './row-scope.js';
import { fieldsOf } from './statement-tables.js';
import type { Node } from './statement-tables.js';
import { LOOKS_INSIDE } from './strict.js';

const words = (text: string) => new Set(text.split(/\s+/));

/** Never null, whatever they are given; the last are this database's own. */
const NEVER_NULL =
  words(`count row_number rank dense_rank now clock_timestamp concat jsonb_build_object json_build_object
  jsonb_build_array json_build_array gen_random_uuid num_nonnulls num_nulls pg_try_advisory_xact_lock txid_current
  pg_current_xact_id pg_snapshot_xmin pg_current_snapshot pg_try_advisory_lock pg_postmaster_start_time free_reservation
  forget_customer customer_traces erasure_refusals acting_person`);
/** Null only of a null. */
const STRICT =
  words(`lower upper length char_length octet_length abs floor ceil ceiling round sign trunc replace trim btrim
  ltrim rtrim left right lpad rpad substr to_char date_trunc date_part extract timezone cardinality to_jsonb to_json
  row_to_json regexp_replace md5 sha256 encode decode hashtext hashtextextended split_part reverse repeat ascii chr position
  strpos starts_with make_date mod div power pg_advisory_xact_lock set_config array_to_string jsonb_array_length
  json_array_length jsonb_strip_nulls array_cat array_append string_to_array convert_from convert_to int8range daterange
  isempty age to_number overlay initcap jsonb_set jsonb_path_query_array make_interval`);
/** Of the rows they see: null of none. */
const AGGREGATES = words(`sum min max avg bool_or bool_and every string_agg`);
/** Lists hold a null of a null, so they are null only of no row. */
const LISTING = words(`array_agg json_agg jsonb_agg json_object_agg jsonb_object_agg`);
/** Kinds of expression that are never null. */
const ALWAYS_THERE = words(`NullTest BooleanTest A_ArrayExpr RowExpr SQLValueFunction GroupingFunc JsonObjectConstructor
  JsonArrayConstructor JsonArrayQueryConstructor`);

/** The scope of a whole statement: the tables there are, and the numbers of the parameters that are never null. */
export function scopeOfAll(named: Catalogue, given: ReadonlySet<number>): Scope {
  return { sources: [], named, given, known: new Set(), isGrouped: false, mayBeNull };
}

/** Whether an expression may be null, as far as PostgreSQL's own rules tell; true where nothing is known. */
function mayBeNull(expression: Node, scope: Scope): boolean {
  const [kind, node] = Object.entries(expression)[0]! as [string, Node];
  const some = (...parts: unknown[]) =>
    (parts.flat() as (Node | undefined)[]).some((part) => part !== undefined && mayBeNull(part, scope));
  const all = (parts: unknown) => (parts as Node[]).every((part) => mayBeNull(part, scope));
  if (ALWAYS_THERE.has(kind) || isKnown(expression, scope)) return false;
  switch (kind) {
    case 'A_Const':
      return node['isnull'] === true;
    case 'ColumnRef':
      return isColumnNullable(fieldsOf(expression)!, scope);
    case 'TypeCast':
    case 'CollateClause':
      return some(node['arg']);
    case 'CoalesceExpr':
    case 'MinMaxExpr':
      return all(node['args']);
    case 'ParamRef':
      return !scope.given.has((node['number'] as number) ?? 0);
    case 'NamedArgExpr':
      return some(node['arg']);
    case 'BoolExpr':
      return conditionMayBeNull(node, scope);
    case 'A_Expr':
      return operatorMayBeNull(node, some);
    case 'CaseExpr':
      return caseMayBeNull(node, scope);
    case 'FuncCall':
      return callMayBeNull(node, scope, some);
    case 'SubLink':
      return subqueryMayBeNull(node, scope, some);
    case 'List':
      return some(node['items']);
    default:
      return true;
  }
}

type Some = (...parts: unknown[]) => boolean;

/** What stands behind `x is null or` is looked at where x is there, and what stands behind `x and` where x holds. */
function conditionMayBeNull(node: Node, scope: Scope): boolean {
  let inner = scope;
  return (node['args'] as Node[]).some((part) => {
    if (mayBeNull(part, inner)) return true;
    const holds = node['boolop'] === 'AND_EXPR' ? part : node['boolop'] === 'OR_EXPR' ? oppositeOf(part) : undefined;
    if (holds) inner = scopeWhere(holds, inner);
    return false;
  });
}

function oppositeOf(condition: Node): Node | undefined {
  const test = condition['NullTest'] as Node | undefined;
  return test?.['nulltesttype'] === 'IS_NULL' ? { NullTest: { ...test, nulltesttype: 'IS_NOT_NULL' } } : undefined;
}

function operatorMayBeNull(node: Node, some: Some): boolean {
  const kind = node['kind'] as string;
  if (kind === 'AEXPR_DISTINCT' || kind === 'AEXPR_NOT_DISTINCT') return false;
  if (kind === 'AEXPR_NULLIF') return true;
  const operator = ((node['name'] as Node[]).at(-1)!['String'] as { sval: string }).sval;
  return LOOKS_INSIDE.has(operator) || some(node['lexpr'], node['rexpr']);
}

function caseMayBeNull(node: Node, scope: Scope): boolean {
  const branches = (node['args'] as { CaseWhen: { expr: Node; result: Node } }[]).map(({ CaseWhen }) => CaseWhen);
  const otherwise = node['defresult'] as Node | undefined;
  if (!otherwise || mayBeNull(otherwise, scope)) return true;
  return branches.some(({ expr, result }) => mayBeNull(result, node['arg'] ? scope : scopeWhere(expr, scope)));
}

function callMayBeNull(node: Node, scope: Scope, some: Some): boolean {
  const name = ((node['funcname'] as Node[]).at(-1)!['String'] as { sval: string }).sval;
  const args = (node['args'] ?? []) as Node[];
  if (NEVER_NULL.has(name)) return false;
  if (name === 'concat_ws') return some(args[0]);
  if (name === 'current_setting') return args.length > 1;
  if (name === 'unnest') return !isListWithoutNull(args[0]!, scope);
  if (STRICT.has(name)) return some(args);
  // over a window there is always the row itself
  const hasRows = (scope.isGrouped || node['over'] !== undefined) && !node['agg_filter'];
  if (LISTING.has(name)) return !hasRows;
  if (AGGREGATES.has(name)) return !hasRows || some(args);
  return true;
}

function subqueryMayBeNull(node: Node, scope: Scope, some: Some): boolean {
  const select = node['subselect'] as Node;
  switch (node['subLinkType']) {
    case 'EXISTS_SUBLINK':
    case 'ARRAY_SUBLINK':
      return false;
    case 'EXPR_SUBLINK':
      return !isSingleAndThere(select, scope);
    default:
      return some(node['testexpr']) || columnsOf(select, scope).some(({ nullable }) => nullable);
  }
}
