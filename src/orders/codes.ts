import type { EntityManager } from 'typeorm';
import type { Measure } from '../kernel/measure/quantity.js';

/** What a code of a shop stands for: so many units of one item. */
export interface CodeMeaning {
  itemId: number;
  measure: Measure;
  units: number;
}

/**
 * What each of a channel's codes stands for: its own shop code first, else one unit of the item of the same code, in
 * whatever case. A code that stands for nothing is left out.
 */
export async function itemsOfCodes(
  tx: EntityManager,
  channel: string,
  codes: readonly string[],
): Promise<Map<string, CodeMeaning>> {
  const rows = await tx.query<(CodeMeaning & { code: string })[]>(
    `select c.code, i.id as "itemId", i.measure, coalesce(s.units, 1) as units
     from (select distinct unnest($2::text[]) as code) c
       left join shop_code s on s.channel = $1 and s.code = c.code
       join item i on case when s.item_id is null then i.code = upper(c.code) else i.id = s.item_id end`,
    [channel, codes],
  );
  return new Map(rows.map(({ code, ...meaning }) => [code, meaning]));
}
