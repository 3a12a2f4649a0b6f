import { Injectable } from '@nestjs/common';
import { closePacked, noteMade } from '../batches/outcome.js';
import { closeAllInputs } from '../batches/inputs.js';
import { pegBatch } from '../planning/pegs.js';
import type { EntityManager } from 'typeorm';
import { BatchesService } from '../batches/batches.service.js';
import { labourOf } from '../kernel/bench/closing.js';
import { batchMinutes } from '../kernel/plan/sheet.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { conflict } from '../platform/problem.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { refuseUnusable, setLotStatus } from '../stock/locked-lot.js';
import { StockService } from '../stock/stock.service.js';
import { refuseUnchecked } from '../checks/checks.service.js';
import { count } from '../ui/words.js';

/** So many units of a set, out of these lots. */
export interface SetPacking {
  setId: number;
  set: string;
  quantity: number;
  orderLineId: number;
  parts: readonly { lot: LockedLot; quantity: number }[];
  on: string;
  /** Where it stands until it goes. */
  place: string;
}

interface SetFormula {
  id: number;
  version: number;
  minutesBatch: number;
  secondsUnit: number;
  lines: { position: number; itemId: number; item: string; step: string; amount: number }[];
}

/** Gift sets that are put together when they are packed. */
@Injectable()
export class SetPackingService {
  constructor(
    private readonly batches: BatchesService,
    private readonly stock: StockService,
  ) {}

  /**
   * Puts a set together in the caller's act: a batch of its own, at once weighed, closed and released, so that its parts
   * are found from it and it from them. It keeps as long as the first of its parts, and is worth what they were and the
   * hands on it. Throws 409 `set-incomplete` unless the parts are exactly what its formula says. The lots are locked.
   */
  async pack(tx: EntityManager, packing: SetPacking): Promise<{ lotId: number; lot: string }> {
    const formula = await formulaOf(tx, packing);
    refuseIncomplete(packing, formula);
    for (const { lot } of packing.parts) refuseUnusable(lot, packing.on);
    const { set, quantity, on } = packing;
    const minutes = batchMinutes(formula, quantity);
    const batch = await this.batches.create(tx, {
      runId: null,
      item: set,
      formulaVersion: formula.version,
      vessel: null,
      day: on,
      readyOn: on,
      emptiedOn: on,
      output: quantity,
      putInMg: 0,
      minutes,
      expiresOn: null,
      inputs: formula.lines.map(({ position, item, step, amount }) => ({
        position,
        item,
        step,
        needOn: on,
        quantity: amount * quantity,
      })),
    });
    await pegBatch(tx, batch.id, [{ orderLineId: packing.orderLineId, forBatchId: null, quantity }]);
    const ids = [batch.id];
    await this.batches.setStatus(tx, ids, 'reserved');
    const inputsE4 = await this.takeParts(tx, packing, formula, batch);
    await this.batches.setStatus(tx, ids, 'weighed');
    const labourE4 = labourOf(minutes, (await workshopOf(tx)).labourRateE4);
    const lot = await this.stock.receive(tx, {
      item: { id: packing.setId, code: set, shelfLifeDays: null, quarantinedOnArrival: true, stocked: true },
      cause: 'production',
      quantity,
      cameOn: on,
      expiresOn: earliest(packing.parts.map(({ lot: { expiresOn } }) => expiresOn)),
      valueE4: inputsE4 + labourE4,
      place: packing.place,
      batchId: batch.id,
      reason: `batch ${batch.code}, packed to be sent`,
    });
    await closePacked(tx, batch.id, { on, made: quantity, minutes, labourE4, inputsE4 });
    await noteMade(tx, batch.id, lot.id);
    await closeAllInputs(tx, batch.id);
    await this.batches.setStatus(tx, ids, 'resting');
    await refuseUnchecked(tx, batch.id);
    await this.batches.setStatus(tx, ids, 'released');
    await setLotStatus(tx, lot.id, 'released');
    return { lotId: lot.id, lot: lot.code };
  }

  /** Answers what the parts were worth. Throws 409 `not-enough` for what is promised to others. */
  private async takeParts(
    tx: EntityManager,
    { parts, on }: SetPacking,
    formula: SetFormula,
    batch: { id: number; code: string; inputs: Map<number, number> },
  ): Promise<number> {
    const movements = [...parts]
      .sort((a, b) => a.lot.id - b.lot.id)
      .map(({ lot, quantity }) => ({
        lotId: lot.id,
        cause: 'consumption' as const,
        quantity: -quantity,
        doneOn: on,
        reason: `batch ${batch.code}`,
        batchId: batch.id,
        batchInputId: batch.inputs.get(formula.lines.find(({ itemId }) => itemId === lot.itemId)!.position)!,
      }));
    await this.stock.moveLots(tx, movements);
    const [sum] = await tx.query<{ valueE4: number }[]>(
      `select coalesce(-sum(value_e4), 0)::bigint as "valueE4" from movement where batch_id = $1 and cause = 'consumption'`,
      [batch.id],
    );
    return sum!.valueE4;
  }
}

async function formulaOf(tx: EntityManager, { setId, set }: SetPacking): Promise<SetFormula> {
  const [formula] = await tx.query<Omit<SetFormula, 'lines'>[]>(
    `select id, version, minutes_batch as "minutesBatch", seconds_unit as "secondsUnit" from formula
     where item_id = $1 and not withdrawn order by version desc limit 1`,
    [setId],
  );
  if (!formula) throw conflict('no-formula', `Nobody has said what is in ${set}.`);
  const lines = await tx.query<SetFormula['lines']>(
    `select fl.position, i.id as "itemId", i.code as item, fl.step, fl.amount from formula_line fl
       join item i on i.id = fl.item_id
     where fl.formula_id = $1 and fl.basis = 'each' and fl.amount is not null and i.stocked order by fl.position`,
    [formula.id],
  );
  return { ...formula, lines };
}

/** Exactly what the formula says, of each of its lines, and of nothing else. */
function refuseIncomplete({ set, quantity, parts }: SetPacking, { lines }: SetFormula): void {
  const wrong = lines.flatMap(({ itemId, item, amount }) => {
    const given = parts.filter(({ lot }) => lot.itemId === itemId).reduce((sum, part) => sum + part.quantity, 0);
    return given === amount * quantity
      ? []
      : [`${count(given, 'piece')} of ${count(amount * quantity, 'piece')} ${item}`];
  });
  const strange = parts
    .filter(({ lot }) => !lines.some(({ itemId }) => itemId === lot.itemId))
    .map(({ lot }) => `${lot.code}, which is ${lot.item}`);
  if (wrong.length + strange.length === 0) return;
  throw conflict(
    'set-incomplete',
    `${count(quantity, 'piece')} of ${set} cannot be packed of ${[...wrong, ...strange].join('; ')}.`,
  );
}

const earliest = (days: readonly (string | null)[]): string | null =>
  days.reduce((first, day) => (day !== null && (first === null || day < first) ? day : first), null);
