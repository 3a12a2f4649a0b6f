import ts from 'typescript';
import type { CallSite } from './call-sites.js';

/** One property of the rows a call says it gets. */
export interface ClaimedColumn {
  types: ts.Type[];
  isOptional: boolean;
}

/** What a call says of the rows it gets. */
export type Claim =
  /** Its answer is looked at by nobody, or claimed to be unknown. */
  { kind: 'nothing' } | { kind: 'rows'; columns: Map<string, ClaimedColumn> } | { kind: 'bad'; sentence: string };

/**
 * The type of the rows as the compiler reads it: of a list, of a list of one, of what the driver answers, and, for an UPDATE
 * or DELETE, of the rows beside their number.
 */
export function claimOf(site: CallSite, checker: ts.TypeChecker, answersNumberToo: boolean): Claim {
  if (!ts.isCallExpression(site.call)) return { kind: 'bad', sentence: 'is handed on without being called' };
  const signature = checker.getResolvedSignature(site.call);
  const promised = signature && checker.getReturnTypeOfSignature(signature);
  const answer = promised && (checker.getAwaitedType(promised) ?? promised);
  if (!answer) return { kind: 'bad', sentence: 'has no type that can be read' };
  if (answer.flags & (ts.TypeFlags.Unknown | ts.TypeFlags.Void) || isUnused(site.call)) return { kind: 'nothing' };
  if (answer.getSymbol()?.name === 'QueryResult')
    return rowClaim(checker.getTypeArguments(answer as ts.TypeReference)[0]!, checker);
  if (answer.flags & ts.TypeFlags.Any) return { kind: 'bad', sentence: 'does not say what its rows are' };
  const parts =
    checker.isArrayType(answer) || checker.isTupleType(answer)
      ? checker.getTypeArguments(answer as ts.TypeReference)
      : [];
  if (!answersNumberToo)
    return parts.length === 1 ? rowClaim(parts[0]!, checker) : { kind: 'bad', sentence: 'claims no list of rows' };
  const [rows, count] = parts;
  const isNumber = count !== undefined && (count.flags & ts.TypeFlags.Number) !== 0;
  if (parts.length !== 2 || !rows || !isNumber || !checker.isArrayType(rows))
    return { kind: 'bad', sentence: 'claims no rows beside their number, as an UPDATE or DELETE answers' };
  return rowClaim(checker.getTypeArguments(rows as ts.TypeReference)[0]!, checker);
}

/** `await tx.query(...)` as a sentence of its own, or as the last thing of a function that answers nothing. */
function isUnused(call: ts.CallExpression): boolean {
  let node: ts.Node = call;
  while (
    ts.isAwaitExpression(node.parent) ||
    ts.isParenthesizedExpression(node.parent) ||
    ts.isVoidExpression(node.parent)
  )
    node = node.parent;
  return ts.isExpressionStatement(node.parent);
}

function rowClaim(row: ts.Type, checker: ts.TypeChecker): Claim {
  if (row.flags & ts.TypeFlags.Unknown) return { kind: 'nothing' };
  if (row.flags & (ts.TypeFlags.Any | ts.TypeFlags.TypeParameter))
    return { kind: 'bad', sentence: 'does not say what its rows are' };
  const columns = new Map<string, ClaimedColumn>();
  const parts = row.isUnion() ? row.types : [row];
  for (const property of parts.flatMap((part) => checker.getPropertiesOfType(part))) {
    const known = columns.get(property.name);
    const isOptional = (property.flags & ts.SymbolFlags.Optional) !== 0;
    const types = [...(known?.types ?? []), checker.getTypeOfSymbol(property)];
    columns.set(property.name, { types, isOptional: isOptional || (known?.isOptional ?? false) });
  }
  for (const [name, column] of columns)
    if (!parts.every((part) => checker.getPropertyOfType(part, name))) column.isOptional = true;
  return { kind: 'rows', columns };
}

/** What the driver makes of a value, by the type's name in PostgreSQL; see `poolOptions`. */
const READ_AS: Readonly<Record<string, string>> = {
  int2: 'number',
  int4: 'number',
  int8: 'number',
  float4: 'number',
  float8: 'number',
  oid: 'number',
  numeric: 'string',
  text: 'string',
  varchar: 'string',
  name: 'string',
  date: 'string',
  time: 'string',
  uuid: 'string',
  xid8: 'string',
  regclass: 'string',
  void: 'string',
  bool: 'boolean',
  timestamptz: 'Date',
  bytea: 'Buffer',
  json: 'json',
  jsonb: 'json',
};

/** Why a claimed type is not what a column holds, or undefined when it is. */
export function mismatch(
  claimed: ClaimedColumn,
  typeName: string,
  isNullable: boolean,
  checker: ts.TypeChecker,
): string | undefined {
  for (const type of claimed.types) {
    if (type.flags & ts.TypeFlags.Unknown) continue;
    if (type.flags & ts.TypeFlags.Any) return 'is any';
    const there = checker.getNonNullableType(type);
    const wanted = wantedOf(typeName);
    if (!wanted) return `is ${typeName}, which is not known here`;
    if (!fits(there, wanted, checker))
      return `is ${checker.typeToString(there)} and comes as ${wanted.name}${'[]'.repeat(wanted.depth)}`;
  }
  const admitsNull = claimed.types.some((type) =>
    (type.isUnion() ? type.types : [type]).some(({ flags }) => flags & (ts.TypeFlags.Null | ts.TypeFlags.Unknown)),
  );
  return isNullable && !admitsNull ? 'may be null' : undefined;
}

function wantedOf(typeName: string): { name: string; depth: number } | undefined {
  const isArray = typeName.startsWith('_');
  const name = READ_AS[isArray ? typeName.slice(1) : typeName];
  return name === undefined ? undefined : { name, depth: isArray ? 1 : 0 };
}

function fits(type: ts.Type, { name, depth }: { name: string; depth: number }, checker: ts.TypeChecker): boolean {
  if (depth > 0) {
    const [element] = checker.isArrayType(type) ? checker.getTypeArguments(type as ts.TypeReference) : [];
    return element !== undefined && fits(checker.getNonNullableType(element), { name, depth: 0 }, checker);
  }
  switch (name) {
    case 'number':
      return isEither(type, checker.getNumberType(), checker);
    case 'string':
      return isEither(type, checker.getStringType(), checker);
    case 'boolean':
      return isEither(type, checker.getBooleanType(), checker);
    case 'json':
      return !['Date', 'Buffer', 'Uint8Array'].includes(type.getSymbol()?.name ?? '');
    default:
      return (
        [name, 'Uint8Array'].includes(type.getSymbol()?.name ?? '') &&
        (name === 'Buffer' || type.getSymbol()!.name === name)
      );
  }
}

/** Narrower, as a list of known words is, or wider: both are told of by a name of one's own. */
function isEither(claimed: ts.Type, comes: ts.Type, checker: ts.TypeChecker): boolean {
  return checker.isTypeAssignableTo(claimed, comes) || checker.isTypeAssignableTo(comes, claimed);
}
