import { Injectable } from '@nestjs/common';
import { freeInputExcess, rescale } from '../batches/inputs.js';
import type { EntityManager } from 'typeorm';
import { workshopOf } from '../catalog/workshop.service.js';
import { comingMg, rescaled } from '../kernel/formula/rescaling.js';
import { releasePegs } from '../planning/pegs.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import { type NewReservation, StockService } from '../stock/stock.service.js';
import { batchViewByCode } from './bench.service.js';
import { lockBatch, refuseUnlessAtBench } from './locked-batch.js';
import type { Rescaled, RescaleCreate } from './bench.schema.js';
import type { PartLine } from './weigh-effect.js';
import { effectOf, partLinesOf } from './weigh-effect.js';
import { amountText } from '../ui/amounts.js';

/** The rest of a batch brought into proportion with what is in it already. */
@Injectable()
export class RescaleService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Gives the lines nothing is weighed of yet new targets. What the sheet meant first is kept, and the change is written
   * down as a deviation. Less is given back; more is set aside as far as lots have it free. Throws 409
   * `nothing-to-rescale` and `vessel-too-small`.
   */
  async rescale(who: string, code: string, body: RescaleCreate): Promise<Rescaled> {
    const today = await this.clock.today();
    return this.database.act({ who, why: body.why }, async (tx) => {
      const batch = await lockBatch(tx, code);
      refuseUnlessAtBench(batch, 'weighed');
      const lines = await partLinesOf(tx, batch.id);
      const targets = rescaled(lines, (await workshopOf(tx)).scaleStepMg);
      if (!targets)
        throw conflict('nothing-to-rescale', `Batch ${code} has no line left to weigh, or none that is begun.`);
      const changed = lines.flatMap((line, at) => {
        const to = targets[at] ?? line.targetMg;
        return to === line.targetMg || to === 0 ? [] : [{ line, position: line.position, from: line.targetMg, to }];
      });
      await refusePastVessel(tx, batch.id, lines, targets);
      for (const { line, to } of changed) {
        await rescale(tx, line.id, to);
        if (to < line.targetMg) await freeInputExcess(tx, line.id);
      }
      await this.reserveMore(tx, batch.id, changed, today);
      await releasePegs(tx, batch.id);
      const shown = changed.map(({ position, from, to }) => ({ position, from, to }));
      if (shown.length > 0)
        await tx.query(
          `insert into bench_entry (batch_id, kind, note, targets, done_on) values ($1, 'deviation', $2, $3, $4)`,
          [
            batch.id,
            `rest of the batch rescaled${body.why === undefined ? '' : `: ${body.why}`}`,
            JSON.stringify(shown),
            today,
          ],
        );
      return { changed: shown, effect: await effectOf(tx, batch.id), batch: await batchViewByCode(tx, code) };
    });
  }

  private async reserveMore(
    tx: EntityManager,
    batchId: number,
    changed: readonly { line: PartLine; from: number; to: number }[],
    today: string,
  ): Promise<void> {
    const more = new Map(changed.filter(({ from, to }) => to > from).map(({ line, from, to }) => [line.id, to - from]));
    const lots = await tx.query<
      { inputId: number; lotId: number; free: number; needOn: string; runId: number | null }[]
    >(
      `select bi.id as "inputId", l.id as "lotId", l.on_hand - l.reserved as free,
         greatest(bi.need_on, $2::date) as "needOn", b.run_id as "runId"
       from batch_input bi join batch b on b.id = bi.batch_id join lot l on l.item_id = bi.item_id
       where bi.batch_id = $1 and bi.id = any($3::bigint[]) and l.status = 'released' and l.on_hand > l.reserved
         and (l.expires_on is null or l.expires_on >= greatest(bi.need_on, $2::date))
       order by l.expires_on nulls last, l.id`,
      [batchId, today, [...more.keys()]],
    );
    const anew: NewReservation[] = [];
    const taken = new Map<number, number>();
    for (const { inputId, lotId, free, needOn, runId } of lots) {
      const quantity = Math.min(free - (taken.get(lotId) ?? 0), more.get(inputId)!);
      if (quantity <= 0) continue;
      anew.push({ runId, lotId, batchInputId: inputId, quantity, needOn });
      more.set(inputId, more.get(inputId)! - quantity);
      taken.set(lotId, (taken.get(lotId) ?? 0) + quantity);
    }
    await this.stock.reserve(tx, anew);
  }
}

async function refusePastVessel(
  tx: EntityManager,
  batchId: number,
  lines: readonly PartLine[],
  targets: readonly (number | null)[],
): Promise<void> {
  const totalMg = lines.reduce((sum, line, at) => sum + (targets[at] ?? comingMg(line)), 0);
  const [vessel] = await tx.query<{ code: string; capacityMg: number }[]>(
    `select v.code, v.capacity_mg as "capacityMg" from batch b join vessel v on v.id = b.vessel_id where b.id = $1`,
    [batchId],
  );
  if (vessel && totalMg > vessel.capacityMg)
    throw conflict('vessel-too-small', `${vessel.code} is too small for ${amountText(totalMg, 'weighed')}.`);
}
