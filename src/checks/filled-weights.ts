import type { EntityManager } from 'typeorm';
import type { NetBasis, NetJudgement, NetRule } from '../kernel/bench/net-contents.js';
import { judgeNetContents } from '../kernel/bench/net-contents.js';
import { invalid } from '../platform/problem.js';
import type { CheckedBatch } from './checked-batch.js';

export const NET_NOTICE = 'Judged by the rule you chose; local law decides.';

interface Stated {
  basis: NetBasis;
  label: number | null;
  allowedShort: number | null;
  densityUgPerMl: number | null;
}

/**
 * Judges the contents of filled units by what the product's label states. Of a label by volume the weights are turned into
 * volumes by the density of the bulk that was filled, as it was measured, else as its item says; of several the highest,
 * which makes the volumes smallest. Throws 422 problems at `/weights`.
 */
export async function judgeWeights(
  tx: EntityManager,
  batch: CheckedBatch,
  weightsMg: readonly number[],
  rule: NetRule,
): Promise<NetJudgement & { notice: string }> {
  const { basis, label, allowedShort, densityUgPerMl } = await statedOf(tx, batch);
  if (label === null)
    throw invalid('/weights', `Say first what the label of ${batch.item} states as contents.`, 'no-net-contents');
  if (basis === 'volume' && densityUgPerMl === null)
    throw invalid(
      '/weights',
      'A volume is judged by weight only where the density of the bulk is known.',
      'needs-density',
    );
  // a microlitre weighs density / 1000 milligrams: micrograms per millilitre are nanograms per microlitre
  const contents = weightsMg.map((mg) => (basis === 'weight' ? mg : Math.floor((mg * 1_000_000) / densityUgPerMl!)));
  const lotSize = Math.max(batch.output, weightsMg.length);
  return { ...judgeNetContents({ rule, basis, label, contents, lotSize, allowedShort }), notice: NET_NOTICE };
}

/** Meets the rule, or nothing speaks against it and as many were weighed as this workshop asks for. */
export function isEnough(judgement: NetJudgement, unitsLeast: number | null): boolean {
  if (judgement.verdict === 'meets') return true;
  if (judgement.verdict === 'fails' || unitsLeast === null || judgement.weighed < unitsLeast) return false;
  const isFull = judgement.mean >= judgement.label && judgement.beyond <= judgement.beyondMost;
  return isFull && judgement.units.every(({ mark }) => mark !== 'unjudged');
}

async function statedOf(tx: EntityManager, batch: CheckedBatch): Promise<Stated> {
  const rows = await tx.query<Stated[]>(
    `select case when l.net_ul is null then 'weight' else 'volume' end as basis, coalesce(l.net_mg, l.net_ul) as label,
       l.allowed_short as "allowedShort",
       (select max(coalesce(f.density_ug_per_ml, i.density_ug_per_ml))
        from batch_input bi join item i on i.id = bi.item_id and i.kind = 'bulk'
          left join standing_movement m on m.batch_input_id = bi.id and m.cause = 'consumption'
          left join batch_output o on o.lot_id = m.lot_id and o.kind = 'made'
          left join batch_finish f on f.batch_id = o.batch_id
        where bi.batch_id = $1) as "densityUgPerMl"
     from (select) one left join item_label l on l.item_id = $2`,
    [batch.id, batch.itemId],
  );
  return rows[0]!;
}
