import type { EntityManager } from 'typeorm';
import { partOf, PPB_ONE } from '../kernel/measure/quantity.js';
import type { WeighedLine } from '../kernel/formula/rescaling.js';
import { rescaled, sharesOf } from '../kernel/formula/rescaling.js';
import { workshopOf } from '../catalog/workshop.service.js';
import type { WeighEffect } from './bench.schema.js';

/** A line that is a part of the goods by weight. */
export interface PartLine extends WeighedLine {
  id: number;
  position: number;
  item: string;
  itemId: number;
  family: string;
  isRework: boolean;
}

/** The lines of a batch that make up the 100 % of what is in it, with what is worked in. */
export function partLinesOf(tx: EntityManager, batchId: number): Promise<PartLine[]> {
  return tx.query<PartLine[]>(
    `select bi.id, bi.position, i.code as item, i.id as "itemId", i.family, bi.rework_lot_id is not null as "isRework",
       coalesce(bi.meant, bi.quantity) as "meantMg", bi.quantity as "targetMg", bi.closed as "isClosed",
       bi.weighed + (select coalesce(sum(e.quantity), 0)::bigint from bench_entry e where e.batch_input_id = bi.id)
         as "weighedMg"
     from batch_input bi join item i on i.id = bi.item_id join batch b on b.id = bi.batch_id
       left join formula_line fl on fl.formula_id = b.formula_id and fl.position = bi.position
         and fl.item_id = bi.item_id and bi.rework_lot_id is null and not b.is_rework
     where bi.batch_id = $1 and bi.step = 'make' and i.measure = 'weighed' and coalesce(fl.basis, 'share') not in ('each', 'fixed')
     order by bi.position`,
    [batchId],
  );
}

/**
 * What the weights so far make of the formula: each line's part of the whole as meant and as it comes out, fragrances
 * beside the use limits their certificates state, and whether the rest can be brought into proportion.
 */
export async function effectOf(tx: EntityManager, batchId: number): Promise<WeighEffect> {
  const lines = await partLinesOf(tx, batchId);
  const { scaleStepMg, weighTolerancePpb } = await workshopOf(tx);
  const shares = sharesOf(lines);
  const limits = await tx.query<{ item: string; category: string; limitPpb: number }[]>(
    `select i.code as item, u.category, u.limit_ppb as "limitPpb" from use_limit u join item i on i.id = u.item_id
     where u.item_id = any($1::bigint[]) order by i.code, u.category`,
    [lines.map(({ itemId }) => itemId)],
  );
  const fragrances = [...new Set(lines.filter(({ family }) => family === 'fragrance').map(({ item }) => item))];
  return {
    lines: lines.map(({ position, item }, at) => ({ position, item, ...shares[at]! })),
    fragrances: fragrances.map((item) => {
      const sharePpb = lines.reduce((sum, line, at) => sum + (line.item === item ? shares[at]!.sharePpb : 0), 0);
      return {
        item,
        sharePpb,
        limits: limits
          .filter((limit) => limit.item === item)
          .map(({ category, limitPpb }) => ({ category, limitPpb, isOver: sharePpb > limitPpb })),
      };
    }),
    canRescale: isWorthRescaling(lines, scaleStepMg, weighTolerancePpb),
  };
}

/** Whether new targets for the rest would differ from the present ones by more than counts as right. */
function isWorthRescaling(lines: readonly PartLine[], stepMg: number, tolerancePpb: number): boolean {
  const targets = rescaled(lines, stepMg);
  if (!targets) return false;
  return targets.some((target, at) => {
    const { targetMg } = lines[at]!;
    return (
      target !== null &&
      Math.abs(target - targetMg) > Math.max(stepMg, partOf(targetMg, Math.min(tolerancePpb, PPB_ONE), 'floor'))
    );
  });
}
