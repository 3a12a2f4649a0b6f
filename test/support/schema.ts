import { parse } from 'libpg-query';
import type { TestDatabase } from './database.js';

const WHO = `case a.grantee when 0 then 'everybody' else a.grantee::regrole::text end
  || case when a.is_grantable then ' and may pass it on' else '' end`;

/**
 * Each query answers lines. Order and names do not depend on how a schema came about: columns go by name, NOT NULL by its
 * column, and rights that nobody changed are written out.
 */
const QUERIES = [
  // tables, views and sequences
  `select format('%s %s', relkind, relname) from pg_class
    where relnamespace = 'public'::regnamespace and relkind in ('r', 'v', 'S')`,
  `select format('column %s.%s %s%s%s%s', c.relname, a.attname, format_type(a.atttypid, a.atttypmod),
      case when a.attnotnull then ' not null' else '' end, ' default ' || pg_get_expr(d.adbin, d.adrelid),
      ' identity ' || nullif(a.attidentity::text, ''))
    from pg_attribute a join pg_class c on c.oid = a.attrelid
      left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
    where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'v') and a.attnum > 0 and not a.attisdropped`,
  `select format('constraint %s %s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid), convalidated)
    from pg_constraint where connamespace = 'public'::regnamespace and contype not in ('n', 't')`,
  `select 'index ' || indexdef from pg_indexes where schemaname = 'public'`,
  `select format('trigger %s %s', pg_get_triggerdef(t.oid), t.tgenabled)
    from pg_trigger t join pg_class c on c.oid = t.tgrelid
    where c.relnamespace = 'public'::regnamespace and not t.tgisinternal`,
  `select 'function ' || pg_get_functiondef(oid) from pg_proc where pronamespace = 'public'::regnamespace`,
  `select format('view %s %s', viewname, definition) from pg_views where schemaname = 'public'`,
  // rights
  `select format('right %s %s to %s', a.privilege_type, c.relname, ${WHO}) from pg_class c
      cross join lateral aclexplode(coalesce(c.relacl,
        acldefault(case c.relkind when 'S' then 's' else 'r' end::"char", c.relowner))) a
    where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'v', 'S')`,
  `select format('right %s %s.%s to %s', a.privilege_type, c.relname, t.attname, ${WHO})
    from pg_attribute t join pg_class c on c.oid = t.attrelid cross join lateral aclexplode(t.attacl) a
    where c.relnamespace = 'public'::regnamespace and not t.attisdropped`,
  `select format('right %s %s to %s', a.privilege_type, p.oid::regprocedure, ${WHO}) from pg_proc p
      cross join lateral aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) a
    where p.pronamespace = 'public'::regnamespace`,
  `select format('right %s schema %s to %s', a.privilege_type, n.nspname, ${WHO}) from pg_namespace n
      cross join lateral aclexplode(coalesce(n.nspacl, acldefault('n', n.nspowner))) a where n.nspname = 'public'`,
  `select format('right %s future %s to %s', a.privilege_type, d.defaclobjtype, ${WHO})
    from pg_default_acl d cross join lateral aclexplode(d.defaclacl) a
    where d.defaclnamespace = 'public'::regnamespace`,
  `select format('owner %s %s', relowner::regrole, relname) from pg_class
    where relnamespace = 'public'::regnamespace and relkind in ('r', 'v', 'S')`,
  `select format('owner %s %s', proowner::regrole, oid::regprocedure) from pg_proc
    where pronamespace = 'public'::regnamespace`,
  // rows that migrations write
  `select format('transition %s', t) from transition t`,
  `select format('migration %s', name) from migrations`,
  `select format('made %s %s', name, hash) from database_function`,
];

/**
 * A condition that was written down and read again has other brackets: `(a and b) and c` comes back as `a and b and c`. So of
 * a CHECK and of a trigger's WHEN the meaning is compared, with what is joined alike joined in one.
 */
async function withoutBrackets(line: string): Promise<string> {
  const [, about, sql] = /^(trigger |constraint (?=\S+ \S+ CHECK))(.*) \S+$/s.exec(line) ?? [];
  if (sql === undefined) return line;
  const [, name, check] = about === 'trigger ' ? ['', '', ''] : /^(\S+ \S+) (.*)$/s.exec(sql)!;
  const tree = await parse(check === '' ? sql : `alter table t add ${check}`);
  const meaning = JSON.stringify(tree, (key, value: unknown) => (key === 'location' ? undefined : joined(value)));
  return check === '' ? meaning : `${about}${name} ${meaning}`;
}

interface Joined {
  BoolExpr?: { boolop: string; args: Joined[] };
}

/** `and` of `and`, and `or` of `or`, as one. */
function joined(value: unknown): unknown {
  const { BoolExpr: outer } = (value ?? {}) as Joined;
  if (outer === undefined || outer.boolop === 'NOT_EXPR') return value;
  const args = outer.args.flatMap((arg) => {
    const { BoolExpr: inner } = joined(arg) as Joined;
    return inner?.boolop === outer.boolop ? inner.args : [arg];
  });
  return { BoolExpr: { boolop: outer.boolop, args } };
}

/** The whole schema the application works on, a line for each thing in it, sorted. */
export async function schemaOf(database: Pick<TestDatabase, 'query'>): Promise<string[]> {
  const lines: string[] = [];
  for (const sql of QUERIES) {
    const rows = await database.query<{ line: string }>(`select * from (${sql}) as x (line)`);
    if (rows.length === 0) throw new Error(`nothing is found by: ${sql}`);
    lines.push(...(await Promise.all(rows.map(({ line }) => withoutBrackets(line)))));
  }
  return lines.sort();
}
