import { parsePlPgSQLSync, parseSync } from 'libpg-query';
import type { Node } from './statement-tables.js';

/** A function of the database, or the query of a view. */
export interface DatabaseFunction {
  name: string;
  language: 'sql' | 'plpgsql' | 'view';
  /** `create function ...`; of a view its query. */
  definition: string;
  /** The text between the quotes. */
  body: string;
}

/** Every function and view somebody of this project made, from the database as it is. */
export const FUNCTIONS = `
  select p.proname as name, l.lanname as language, pg_get_functiondef(p.oid) as definition, p.prosrc as body
  from pg_proc p join pg_language l on l.oid = p.prolang
  where p.pronamespace = 'public'::regnamespace
    and not exists (select from pg_depend d where d.objid = p.oid and d.deptype = 'e')
  union all
  select viewname, 'view', definition, definition from pg_views where schemaname = 'public'
  order by name`;

export interface Body {
  /** Statements, each one a text the parser reads. */
  statements: string[];
  /** Text that is put together and run: its statements are known only then. */
  dynamic: string[];
}

/** What a function runs. */
export function bodyOf({ language, definition, body }: DatabaseFunction): Body {
  if (language !== 'plpgsql') return { statements: [body], dynamic: [] };
  const found: Body = { statements: [], dynamic: [] };
  collect(parsePlPgSQLSync(definition), false, found);
  return found;
}

function collect(value: unknown, isDynamic: boolean, found: Body): void {
  if (typeof value !== 'object' || value === null) return;
  for (const [kind, inner] of Object.entries(value)) {
    if (kind === 'PLpgSQL_expr') {
      const { query, parseMode = 0 } = inner as { query: string; parseMode?: number };
      found.statements.push(asStatement(query, parseMode));
      if (isDynamic) {
        const text = constantOf(query);
        if (text === undefined) found.dynamic.push(query);
        else found.statements.push(text);
      }
    } else if (kind.startsWith('PLpgSQL_stmt_dyn')) {
      const { query, ...rest } = inner as Node;
      collect(query, true, found);
      collect(rest, false, found);
    } else collect(inner, kind === 'dynquery', found);
  }
}

/** PL/pgSQL keeps an expression bare (2), an assignment with its target (3 and more), and a statement whole (0). */
function asStatement(query: string, parseMode: number): string {
  if (parseMode === 0) return query;
  return `select ${parseMode === 2 ? query : query.slice(query.indexOf(':=') + 2)}`;
}

/** The text that is run, where it stands there as it is. */
function constantOf(query: string): string | undefined {
  const { stmts } = parseSync(`select ${query}`) as { stmts: { stmt: { SelectStmt: { targetList: Node[] } } }[] };
  const target = stmts[0]!.stmt.SelectStmt.targetList[0]!['ResTarget'] as {
    val: { A_Const?: { sval?: { sval: string } } };
  };
  return target.val.A_Const?.sval?.sval;
}
