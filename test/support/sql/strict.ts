import { fieldsOf } from './statement-tables.js';
import type { Node } from './statement-tables.js';

/** Operators that look into JSON, whose answer may be null of what is not. */
export const LOOKS_INSIDE = new Set(['->', '->>', '#>', '#>>']);
/** Comparisons that are null, so not true, where an operand is null. */
const COMPARING = new Set([
  'AEXPR_OP',
  'AEXPR_OP_ANY',
  'AEXPR_OP_ALL',
  'AEXPR_IN',
  'AEXPR_LIKE',
  'AEXPR_ILIKE',
  'AEXPR_SIMILAR',
]);
for (const kind of ['AEXPR_BETWEEN', 'AEXPR_NOT_BETWEEN', 'AEXPR_BETWEEN_SYM']) COMPARING.add(kind);
/** Functions that are null where their argument is. */
const STRICT = new Set(['lower', 'upper', 'length', 'abs', 'trim', 'btrim', 'floor', 'starts_with', 'date_trunc']);

/** References that are certainly not null where this condition is true. */
export function strictIn(condition: Node): string[][] {
  const [kind, node] = Object.entries(condition)[0]! as [string, Node];
  if (kind === 'BoolExpr') {
    const parts = (node['args'] as Node[]).map((argument) =>
      node['boolop'] === 'NOT_EXPR' ? operands(argument) : strictIn(argument),
    );
    if (node['boolop'] !== 'OR_EXPR') return parts.flat();
    const written = parts.map((some) => new Set(some.map((one) => one.join('.'))));
    return parts[0]!.filter((one) => written.every((some) => some.has(one.join('.'))));
  }
  if (kind === 'NullTest') return node['nulltesttype'] === 'IS_NOT_NULL' ? operands(node['arg'] as Node) : [];
  if (kind === 'SubLink')
    return node['subLinkType'] === 'ANY_SUBLINK' ? operands(node['testexpr'] as Node | undefined) : [];
  return operands(condition);
}

/** Expressions of which a condition says in so many words that they are not null. */
export function provenIn(condition: Node): Node[] {
  const { BoolExpr: both, NullTest: test } = condition as { BoolExpr?: Node; NullTest?: Node };
  if (both?.['boolop'] === 'AND_EXPR') return (both['args'] as Node[]).flatMap(provenIn);
  return test?.['nulltesttype'] === 'IS_NOT_NULL' ? [test['arg'] as Node] : [];
}

/** References of which a null makes the whole expression null. */
function operands(expression: Node | undefined): string[][] {
  if (!expression) return [];
  const [kind, node] = Object.entries(expression)[0]! as [string, Node];
  const fields = fieldsOf(expression);
  if (fields) return fields.includes('*') ? [] : [fields];
  if (kind === 'TypeCast' || kind === 'CollateClause') return operands(node['arg'] as Node);
  if (kind === 'A_Expr' && COMPARING.has(node['kind'] as string)) {
    const inner = [node['lexpr'], node['rexpr']].flat() as (Node | undefined)[];
    // of a list only the left side counts: a null among its members need not decide
    return node['kind'] === 'AEXPR_IN' ? operands(inner[0]) : inner.flatMap((part) => operands(part));
  }
  if (kind === 'FuncCall') {
    const name = ((node['funcname'] as Node[]).at(-1)!['String'] as { sval: string }).sval;
    return STRICT.has(name) ? ((node['args'] ?? []) as Node[]).flatMap((part) => operands(part)) : [];
  }
  return [];
}
