import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { moveTo, putInto, setSize } from '../batches/planned-batch.js';
import { decide } from '../batches/states.js';
import { refuseTakenVessel } from '../batches/vessels.js';
import { addDays, dayOf } from '../kernel/measure/day.js';
import { parseQuantity, QuantityError } from '../kernel/measure/quantity.js';
import { batchMinutes, sheetFor } from '../kernel/plan/sheet.js';
import type { Snapshot, SnapshotFormula } from '../kernel/plan/snapshot.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import { BatchStock, type LotAmount } from './batch-stock.service.js';
import { hoursOf, type Work } from './day-hours.js';
import { releasePegs, repeg } from './pegs.js';
import { lockPlan } from './runs.js';
import type { ChangeBatch, ChangedBatch } from './planning.schema.js';
import { rewash } from './rewash.js';
import { SnapshotService } from './snapshot.service.js';
import { freeAll } from './undo.service.js';
import { amountText } from '../ui/amounts.js';

interface BatchRow {
  id: number;
  code: string;
  status: string;
  item: string;
  formulaVersion: number;
  day: string;
  readyOn: string;
  emptiedOn: string;
  vessel: string | null;
  output: number;
  promised: number;
  putInMg: number;
  minutes: number;
  skill: string | null;
  wash: ChangedBatch['wash'];
}

/** Carries the answer of a preview out of the transaction, which is then rolled back. */
class Previewed extends Error {
  constructor(readonly answer: ChangedBatch) {
    super('preview');
  }
}

/** Changes one batch of a committed plan: gives back and takes only what the change asks for. */
@Injectable()
export class ChangeService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly snapshots: SnapshotService,
    private readonly stock: BatchStock,
  ) {}

  /**
   * Moves a batch to another day or vessel, changes what is to come out, or cancels it. With `preview` it answers what
   * that would do and does nothing. Throws 409 with the reason where the vessel is taken, its bulk is not ready, others
   * need it earlier, or lots do not suffice.
   */
  async change(who: string, runId: number, code: string, body: ChangeBatch): Promise<ChangedBatch> {
    const today = await this.clock.today();
    try {
      return await this.database.act({ who, why: body.why }, async (tx) => {
        await lockPlan(tx);
        const answer = await this.apply(tx, today, await findBatch(tx, runId, code), body);
        if (body.preview) throw new Previewed(answer);
        return answer;
      });
    } catch (error) {
      if (error instanceof Previewed) return error.answer;
      throw error;
    }
  }

  private async apply(tx: EntityManager, today: string, batch: BatchRow, body: ChangeBatch): Promise<ChangedBatch> {
    if (batch.status !== 'planned' && batch.status !== 'reserved')
      throw conflict('begun', `Batch ${batch.code} is ${batch.status}, so its plan no longer changes.`);
    if (body.cancel) return this.cancel(tx, batch);
    const { snapshot } = await this.snapshots.take(tx, today, today);
    const changes: LotAmount[][] = [[], []];
    const merge = ([taken, freed]: [LotAmount[], LotAmount[]]): void => {
      changes[0]!.push(...taken);
      changes[1]!.push(...freed);
    };
    if (body.day !== undefined && body.day !== batch.day) merge(await this.move(tx, today, batch, body.day));
    if (body.vessel !== undefined) await this.useVessel(tx, batch, body.vessel, snapshot);
    if (body.output !== undefined)
      merge(await this.resize(tx, batch, outputOf(body.output, batch, snapshot), snapshot));
    await refuseTakenVessel(tx, [batch.id]);
    await rewash(tx, [batch.vessel, body.vessel ?? null]);
    return this.answer(tx, batch.id, { taken: changes[0]!, freed: changes[1]!, broken: [] });
  }

  private async cancel(tx: EntityManager, batch: BatchRow): Promise<ChangedBatch> {
    const promised = await openPromises(tx, { batchIds: [batch.id] });
    const freed = await this.stock.reservedLots(tx, batch.id);
    await freeAll(tx, 'r.batch_id = $1 or r.batch_input_id in (select id from batch_input where batch_id = $1)', [
      batch.id,
    ]);
    await decide(tx, batch.id, 'cancelled');
    await rewash(tx, [batch.vessel]);
    await releasePegs(tx, batch.id);
    const broken = promised.map((promise) => brokenOf(promise, promise.quantity));
    return this.answer(tx, batch.id, { taken: [], freed, broken });
  }

  /** Moves a batch with its rest; lots that would not last that long are given back and others taken. */
  private async move(
    tx: EntityManager,
    today: string,
    batch: BatchRow,
    day: string,
  ): Promise<[LotAmount[], LotAmount[]]> {
    if (day < today) throw invalid('/day', `${day} is over.`);
    const readyOn = addDays(day, dayOf(batch.readyOn) - dayOf(batch.day));
    const [late] = await tx.query<{ code: string; readyOn: string }[]>(
      `select s.code, s.ready_on as "readyOn" from reservation r join batch s on s.id = r.batch_id
       join batch_input i on i.id = r.batch_input_id
       where i.batch_id = $1 and r.open > 0 and s.ready_on > $2 order by s.ready_on desc`,
      [batch.id, day],
    );
    if (late)
      throw conflict('not-ready', `${batch.code} is made from ${late.code}, which is ready on ${late.readyOn}.`);
    const [waiting] = await tx.query<{ code: string; needOn: string }[]>(
      `select c.code, i.need_on as "needOn" from reservation r join batch_input i on i.id = r.batch_input_id
       join batch c on c.id = i.batch_id where r.batch_id = $1 and r.open > 0 and i.need_on < $2 order by i.need_on`,
      [batch.id, readyOn],
    );
    if (waiting) throw conflict('needed-earlier', `${waiting.code} needs ${batch.code} on ${waiting.needOn}.`);
    await moveTo(tx, batch.id, day, readyOn);
    return this.stock.follow(tx, batch.id);
  }

  private async useVessel(tx: EntityManager, batch: BatchRow, vessel: string, snapshot: Snapshot): Promise<void> {
    const kind = formulaOf(snapshot, batch).vesselKind;
    const row = snapshot.vessels.find((v) => v.code === vessel);
    if (!row) throw notFound('vessel', vessel);
    if (row.kind !== kind) throw invalid('/vessel', `${batch.item} is made in a ${kind ?? 'place of no'} vessel.`);
    if (row.capacityMg < batch.putInMg) throw conflict('vessel-too-small', `${vessel} is too small for ${batch.code}.`);
    await putInto(tx, batch.id, vessel);
  }

  /** Changes what is to come out: a new sheet, and only the difference taken or given back. */
  private async resize(
    tx: EntityManager,
    batch: BatchRow,
    output: number,
    snapshot: Snapshot,
  ): Promise<[LotAmount[], LotAmount[]]> {
    const itemOf = (item: string) => snapshot.items.find((row) => row.code === item)!;
    if (output < batch.promised)
      throw conflict(
        'promised',
        `${amountText(batch.promised, itemOf(batch.item).measure)} of ${batch.code} is promised already; make no less, or free it first.`,
      );
    const formula = formulaOf(snapshot, batch);
    const sheet = sheetFor(formula, output, itemOf, snapshot.workshop);
    const vessel = snapshot.vessels.find((row) => row.code === batch.vessel);
    if (vessel && vessel.capacityMg < sheet.putInMg)
      throw conflict('vessel-too-small', `${vessel.code} is too small for that much.`);
    const minutes = batchMinutes(formula, output);
    await setSize(tx, batch.id, { output, putInMg: sheet.putInMg, minutes });
    await repeg(tx, batch.id, output);
    const wanted = new Map(formula.lines.map((line, at) => [line.position, sheet.amounts[at]!]));
    const changes = await this.stock.resize(tx, batch.id, wanted);
    await releasePegs(tx, batch.id);
    return changes;
  }

  private async answer(
    tx: EntityManager,
    id: number,
    effect: Pick<ChangedBatch, 'taken' | 'freed' | 'broken'>,
  ): Promise<ChangedBatch> {
    const batch = await batchById(tx, id);
    const work = await tx.query<Work[]>(
      `select b.day, b.minutes, f.skill from batch b left join formula f on f.id = b.formula_id
       where b.day = $1 and b.status in ('planned', 'reserved', 'weighed', 'resting')`,
      [batch.day],
    );
    const [hours] = await hoursOf(tx, [batch.day], work);
    const { minutesUsed, minutesOpen, few } = hours!;
    const skill = batch.skill ?? '';
    const late = await tx.query<ChangedBatch['late']>(
      `select distinct o.channel || ' ' || o.number as "order", l.ship_by as "shipBy", b.ready_on as "readyOn"
       from reservation r join batch b on b.id = r.batch_id join order_line l on l.id = r.order_line_id
       join customer_order o on o.id = l.order_id
       where r.batch_id = $1 and r.open > 0 and b.ready_on > l.ship_by order by 2, 1`,
      [id],
    );
    const { code, status, day, readyOn, emptiedOn, vessel, output, putInMg, wash } = batch;
    return {
      code,
      status,
      day,
      readyOn,
      emptiedOn,
      vessel,
      output,
      putInMg,
      wash,
      minutesUsed,
      minutesOpen,
      few: few.filter(({ skills }) => skills.includes(skill)),
      late,
      ...effect,
    };
  }
}

const BATCH = `select b.id, b.code, b.status, i.code as item, f.version as "formulaVersion", b.day, b.ready_on as "readyOn",
  b.emptied_on as "emptiedOn", v.code as vessel, b.output, b.promised, b.put_in_mg as "putInMg", b.minutes, f.skill,
  case when b.wash_after_id is not null then json_build_object('minutes', b.wash_minutes, 'after', wi.code) end as wash
  from batch b join item i on i.id = b.item_id join formula f on f.id = b.formula_id
  left join vessel v on v.id = b.vessel_id left join item wi on wi.id = b.wash_after_id`;

async function findBatch(tx: EntityManager, runId: number, code: string): Promise<BatchRow> {
  const rows = await tx.query<BatchRow[]>(`${BATCH} where b.run_id = $1 and b.code = $2 for update of b`, [
    runId,
    code,
  ]);
  if (!rows[0]) throw notFound(`batch in the plan ${runId} called`, code);
  return rows[0];
}

async function batchById(tx: EntityManager, id: number): Promise<BatchRow> {
  return (await tx.query<BatchRow[]>(`${BATCH} where b.id = $1`, [id]))[0]!;
}

/** The formula it was planned by, which must still be the current one. */
function formulaOf(snapshot: Snapshot, batch: BatchRow): SnapshotFormula {
  const formula = snapshot.formulas.find((row) => row.item === batch.item);
  if (formula?.version !== batch.formulaVersion)
    throw conflict('newer-formula', `${batch.item} has another formula now: cancel ${batch.code} and plan again.`);
  return formula;
}

function outputOf(output: number | string, batch: BatchRow, snapshot: Snapshot): number {
  const { measure } = snapshot.items.find((row) => row.code === batch.item)!;
  try {
    const parsed = typeof output === 'number' ? output : parseQuantity(output, { measure });
    if (parsed > 0) return parsed;
  } catch (error) {
    if (!(error instanceof QuantityError)) throw error;
    throw invalid('/output', error.message);
  }
  throw invalid('/output', 'Something has to come out; cancel the batch instead.');
}
