/** One promise of the ledger: its name, the rows it holds for, and SQL that selects (subject, found, expected) where it fails. */
export interface LedgerRule {
  rule: string;
  rows: string;
  faults: string;
}

/** A movement with the cause it had or, of a correction, the cause it takes back. */
export const ENTRY = `(select m.*, coalesce(was.cause, m.cause) as kind
  from movement m left join movement was on was.id = m.reverses_id)`;

/** A figure that is kept on a row and must be the sum of others: zero where there are none. */
export function keptSum(table: string, name: string, column: string, key: string, sums: string): string {
  return `select t.${name}::text, t.${column}::text, coalesce(s.total, 0)::text
    from ${table} t left join (select ${key} as id, sum(amount) as total from (${sums}) as x group by 1) s on s.id = t.id
    where t.${column} <> coalesce(s.total, 0)`;
}
