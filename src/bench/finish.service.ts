import { Injectable } from '@nestjs/common';
import { isAfterRest } from '../batches/inputs.js';
import { close, noteLeftover, noteMade } from '../batches/outcome.js';
import type { EntityManager } from 'typeorm';
import { markWeighed, putToRest } from '../batches/states.js';
import { positiveAmountOf } from '../catalog/amount.js';
import { densityOf } from '../catalog/items.service.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { labourOf, lossOf, valueOfPart } from '../kernel/bench/closing.js';
import { addDays } from '../kernel/measure/day.js';
import { type Measure, partOf } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, Problem } from '../platform/problem.js';
import { dayOfAct } from '../stock/day-of-act.js';
import { freeLatestOfBatch } from '../stock/promises.js';
import { StockService } from '../stock/stock.service.js';
import { batchViewByCode } from './bench.service.js';
import { madeMgOf, putInOf, usableUntil } from './closing.js';
import type { Finished, FinishCreate } from './finish.schema.js';
import { closingOfBatch } from './closing.js';
import type { BatchLine, LockedBatch } from './locked-batch.js';
import { closeLines, linesOfBatch, lockBatch, refuseUnlessAtBench } from './locked-batch.js';
import { amountText } from '../ui/amounts.js';

interface Leftover {
  line: BatchLine;
  quantity: number;
  place: string;
  valueE4: number;
}

/** What came out of a batch. */
@Injectable()
export class FinishService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Closes a batch at the bench: what is set aside for it and not used is free again, all lots it made come to be at
   * once, and what went in is in them or explained as loss, to the milligram and to the last part of a cent. What it made
   * waits in quarantine for its release. Throws 409 `not-weighed` with the lines that lack something, and 422
   * `explain-loss`.
   */
  async finish(who: string, code: string, body: FinishCreate): Promise<Finished> {
    const on = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who, why: body.why }, async (tx) => {
      const batch = await lockBatch(tx, code);
      refuseUnlessAtBench(batch, 'finished');
      const lines = await linesOfBatch(tx, batch.id);
      const made = positiveAmountOf(body.made, batch, '/made');
      const closed = lines.filter((line) => !isAfterRest(line, lines, batch.restDays));
      await this.refuseBeforeWeighing(tx, batch, on);
      await leaveOut(tx, { batch, lines: await lackingAt(tx, closed, batch, made), body, on });
      const leftovers = leftoversOf(body, lines);
      const act = { batch, lines, leftovers, made, on, body };
      const sums = await closingSums(tx, act);
      const freed = await freeLatestOfBatch(tx, batch.id, batch.promised - made);
      const lot = await this.makeLots(tx, act, sums);
      await markWeighed(tx, batch.id);
      await putToRest(tx, batch.id, { on, readyOn: addDays(on, batch.restDays), expiresOn: lot.expiresOn });
      await closeLines(
        tx,
        closed.map(({ id }) => id),
      );
      return {
        lot: lot.code,
        leftovers: lot.leftovers,
        closing: (await closingOfBatch(tx, batch.id))!,
        freed: freed.toReversed(),
        batch: await batchViewByCode(tx, code),
      };
    });
  }

  private async refuseBeforeWeighing(tx: EntityManager, batch: LockedBatch, on: string): Promise<void> {
    const [weighed] = await tx.query<{ last: string | null }[]>(
      `select max(m.done_on) as last from standing_movement m where m.batch_id = $1 and m.cause = 'consumption'`,
      [batch.id],
    );
    if (weighed!.last === null) throw conflict('not-weighed', `Nothing is weighed into batch ${batch.code} yet.`);
    if (on < weighed!.last) throw invalid('/on', `The last of it was weighed on ${weighed!.last}, after this day.`);
  }

  private async makeLots(tx: EntityManager, act: Act, sums: Sums) {
    const { batch, body, on, made, leftovers } = act;
    const reason = `batch ${batch.code}`;
    const until = await usableUntil(tx, batch, on);
    const [lot] = await this.stock.receiveAll(tx, [
      {
        item: { id: batch.itemId, code: batch.item, shelfLifeDays: null, quarantinedOnArrival: true, stocked: true },
        cause: 'production',
        quantity: made,
        cameOn: on,
        status: 'quarantine',
        expiresOn: until.expiresOn,
        valueE4: sums.madeE4,
        place: body.place,
        batchId: batch.id,
        reason,
      },
    ]);
    const rest = await this.stock.receiveAll(
      tx,
      await Promise.all(
        leftovers.map(async ({ line, quantity, place, valueE4 }) => ({
          item: { id: line.itemId, code: line.item, shelfLifeDays: null, quarantinedOnArrival: false, stocked: true },
          cause: 'production' as const,
          quantity,
          cameOn: on,
          ...(await sourcesOf(tx, line)),
          valueE4,
          place,
          batchId: batch.id,
          reason: `left over from ${reason}`,
        })),
      ),
    );
    await insertFinish(tx, act, sums, until);
    await noteMade(tx, batch.id, lot!.id);
    for (const [at, { line }] of leftovers.entries()) await noteLeftover(tx, batch.id, rest[at]!.id, line.id);
    return {
      ...lot!,
      leftovers: leftovers.map(({ line, quantity }, at) => ({
        position: line.position,
        lot: rest[at]!.code,
        quantity,
      })),
    };
  }
}

interface Act {
  batch: LockedBatch;
  lines: BatchLine[];
  leftovers: Leftover[];
  made: number;
  on: string;
  body: FinishCreate;
}

interface Sums {
  putInMg: number;
  unbookedMg: number;
  madeMg: number;
  leftMg: number;
  lossMg: number;
  expectedLossMg: number;
  inputsE4: number;
  labourE4: number;
  minutes: number;
  madeE4: number;
}

/** Weights and money of the closing. Throws 422 `explain-loss`. */
async function closingSums(tx: EntityManager, { batch, lines, leftovers, made, body }: Act): Promise<Sums> {
  const workshop = await workshopOf(tx);
  const { putInMg, unbookedMg } = await putInOf(tx, batch, lines);
  const madeMg = await madeMgOf(tx, batch, made);
  const leftMg = leftovers.reduce((sum, { quantity }) => sum + quantity, 0);
  const loss = lossOf({ ...batch, putInMg, madeMg, leftMg, tolerancePpb: workshop.lossTolerancePpb });
  if (!loss.isExpected && !body.lossReason) {
    const weight = (mg: number): string => amountText(mg, 'weighed');
    const detail =
      `${weight(putInMg)} went in, ${weight(madeMg + leftMg)} came out: ${weight(loss.lossMg)} lost where ` +
      `${weight(loss.expectedLossMg)} is expected, give or take ${weight(loss.toleranceMg)}. Say why.`;
    const errors = [{ pointer: '/lossReason', detail, code: 'explain-loss' }];
    const { lossMg, expectedLossMg, toleranceMg } = loss;
    throw new Problem({
      status: 422,
      code: 'explain-loss',
      detail,
      errors,
      extra: { lossMg, expectedLossMg, toleranceMg },
    });
  }
  const inputsE4 = lines.reduce((sum, { valueE4 }) => sum + valueE4, 0);
  const minutes = body.minutes ?? batch.minutes;
  const labourE4 = labourOf(minutes, workshop.labourRateE4);
  const leftE4 = leftovers.reduce((sum, { valueE4 }) => sum + valueE4, 0);
  const { lossMg, expectedLossMg } = loss;
  const madeE4 = inputsE4 + labourE4 - leftE4;
  return { putInMg, unbookedMg, madeMg, leftMg, lossMg, expectedLossMg, inputsE4, labourE4, minutes, madeE4 };
}

async function insertFinish(
  tx: EntityManager,
  { batch, made, on, body }: Act,
  sums: Sums,
  until: { keepsUntil: string | null; materialsUntil: string | null },
): Promise<void> {
  if (body.density !== undefined && batch.kind !== 'bulk') throw invalid('/density', 'Only a bulk has a density.');
  await close(tx, batch.id, {
    ...sums,
    on,
    made,
    lossReason: body.lossReason ?? '',
    densityUgPerMl: body.density === undefined ? null : densityOf(body.density),
    lostE4: 0,
    keepsUntil: until.keepsUntil,
    materialsUntil: until.materialsUntil,
  });
}

/** Lines that lack something though the batch is closed: fewer containers than units, a weight short of its tolerance. */
async function lackingAt(
  tx: EntityManager,
  lines: readonly BatchLine[],
  batch: LockedBatch,
  made: number,
): Promise<Lacking[]> {
  const { weighTolerancePpb } = await workshopOf(tx);
  return lines.flatMap((line) => {
    if (!line.stocked) return [];
    const { position, item, measure, weighed } = line;
    const perUnit = line.basis === 'each' && batch.measure === 'counted';
    if (perUnit && line.measure === 'counted') {
      const wanted = made * line.amount!;
      return weighed < wanted ? [{ id: line.id, position, item, measure, weighed, wanted }] : [];
    }
    // of what is filled, so much is used as the units hold: the closing explains the rest
    const wanted = perUnit ? 1 : line.quantity - partOf(line.quantity, weighTolerancePpb, 'floor');
    return weighed < wanted && !(line.closed && weighed > 0)
      ? [{ id: line.id, position, item, measure, weighed, wanted: line.quantity }]
      : [];
  });
}

export interface Lacking {
  id: number;
  position: number;
  item: string;
  measure: Measure;
  weighed: number;
  wanted: number;
}

/** Leaves out what lacks, as a deviation with its reason. Throws 409 `not-weighed`, or 422 where no reason is given. */
export async function leaveOut(
  tx: EntityManager,
  act: { batch: LockedBatch; lines: readonly Lacking[]; body: { leaveOut: boolean; why?: string }; on: string },
): Promise<void> {
  const { batch, lines, body, on } = act;
  if (lines.length === 0) return;
  const lacking = lines.map(({ position, item, weighed, wanted }) => ({ position, item, weighed, wanted }));
  if (!body.leaveOut) {
    const names = lacking.map(({ position, item }) => `${item} (line ${position})`).join(', ');
    const detail = `Batch ${batch.code} still lacks ${names}. Weigh it, or leave it out and say why.`;
    throw new Problem({ status: 409, code: 'not-weighed', detail, extra: { lacking } });
  }
  if (body.why === undefined) throw invalid('/why', 'Say why it is left out.', 'explain');
  for (const line of lines)
    await tx.query(
      `insert into bench_entry (batch_id, kind, batch_input_id, note, done_on) values ($1, 'deviation', $2, $3, $4)`,
      [
        batch.id,
        line.id,
        `left out ${amountText(line.wanted - line.weighed, line.measure)} of ${amountText(line.wanted, line.measure)}: ${body.why}`,
        on,
      ],
    );
}

function leftoversOf(body: FinishCreate, lines: readonly BatchLine[]): Leftover[] {
  const seen = new Set<number>();
  return body.leftovers.map(({ position, quantity: input, place = '' }, at) => {
    const pointer = `/leftovers/${at}`;
    const line = lines.find((row) => row.position === position);
    if (!line || line.measure !== 'weighed' || line.weighed === 0)
      throw invalid(`${pointer}/position`, `Nothing is weighed of a line ${position}.`, 'unknown-line');
    if (seen.has(position)) throw invalid(`${pointer}/position`, 'This line is named twice.', 'given-twice');
    seen.add(position);
    const quantity = positiveAmountOf(input, line, `${pointer}/quantity`);
    if (quantity > line.weighed)
      throw invalid(
        `${pointer}/quantity`,
        `Only ${amountText(line.weighed, 'weighed')} of ${line.item} was weighed.`,
        'not-enough',
      );
    return { line, quantity, place, valueE4: valueOfPart(line.valueE4, quantity, line.weighed) };
  });
}

/** What is left over is as good as what it came from: the earliest date, and held where one of those lots is not released. */
async function sourcesOf(
  tx: EntityManager,
  line: BatchLine,
): Promise<{ expiresOn: string | null; status: 'released' | 'held' }> {
  const [row] = await tx.query<{ expiresOn: string | null; isReleased: boolean | null }[]>(
    `select min(l.expires_on) as "expiresOn", bool_and(l.status = 'released') as "isReleased"
     from lot l where l.id in (select lot_id from standing_movement where batch_input_id = $1)`,
    [line.id],
  );
  return { expiresOn: row!.expiresOn, status: row!.isReleased ? 'released' : 'held' };
}
