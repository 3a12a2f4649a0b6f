import { Injectable } from '@nestjs/common';
import { addReworkInput } from '../batches/inputs.js';
import { pegBatch } from '../planning/pegs.js';
import type { EntityManager } from 'typeorm';
import { BatchesService } from '../batches/batches.service.js';
import { positiveAmountOf } from '../catalog/amount.js';
import type { Item } from '../catalog/item.entity.js';
import { itemByCode, itemsByCode } from '../catalog/items.service.js';
import { addDays } from '../kernel/measure/day.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid } from '../platform/problem.js';
import type { LockedLot } from '../stock/locked-lot.js';
import { lockLot, refuseMoreThanHeld } from '../stock/locked-lot.js';
import { StockService } from '../stock/stock.service.js';
import { batchViewByCode } from './bench.service.js';
import { lockBatch, refuseUnlessAtBench } from './locked-batch.js';
import type { BatchView } from './bench.schema.js';
import type { ReworkBatchCreate, WorkInCreate } from './rework.schema.js';
import { amountText } from '../ui/amounts.js';

/** Rejected lots that go into another batch. */
@Injectable()
export class ReworkService {
  constructor(
    private readonly database: Database,
    private readonly batches: BatchesService,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /** Works a rejected lot that is set aside for it into a batch at the bench, on top of what its sheet says. */
  async workIn(who: string, code: string, body: WorkInCreate): Promise<BatchView> {
    const today = await this.clock.today();
    return this.database.act({ who, why: body.why }, async (tx) => {
      const batch = await lockBatch(tx, code);
      refuseUnlessAtBench(batch, 'worked on');
      const lot = await lockSetAside(tx, body.lot);
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      refuseMoreThanHeld(lot, quantity);
      const inputId = await addReworkInput(tx, batch.id, {
        itemId: lot.itemId,
        lotId: lot.id,
        needOn: today,
        quantity,
      });
      await this.stock.moveLot(tx, {
        lotId: lot.id,
        cause: 'consumption',
        quantity: -quantity,
        doneOn: today,
        reason: `worked into batch ${code}: ${body.why}`,
        batchId: batch.id,
        batchInputId: inputId,
      });
      await tx.query(
        `insert into bench_entry (batch_id, kind, batch_input_id, note, done_on) values ($1, 'deviation', $2, $3, $4)`,
        [
          batch.id,
          inputId,
          `worked in ${amountText(quantity, lot.measure)} of the rejected lot ${lot.code}: ${body.why}`,
          today,
        ],
      );
      return batchViewByCode(tx, code);
    });
  }

  /** A batch of its own that mends a rejected lot: it takes the lot and what is added to it. */
  async open(who: string, lotCode: string, body: ReworkBatchCreate): Promise<BatchView> {
    const today = await this.clock.today();
    const day = body.day ?? today;
    if (day < today) throw invalid('/day', `${day} is over.`);
    return this.database.act({ who, why: body.why }, async (tx) => {
      const lot = await lockSetAside(tx, lotCode);
      const item = await itemByCode(tx, body.item ?? lot.item);
      const quantity = body.quantity === undefined ? lot.onHand : positiveAmountOf(body.quantity, lot, '/quantity');
      refuseMoreThanHeld(lot, quantity);
      if (quantity === 0) throw conflict('not-enough', `Nothing is left of lot ${lotCode}.`);
      const added = await additionsOf(tx, body);
      const weighedMg = [{ item: lot, quantity }, ...added].reduce(
        (sum, row) => sum + (row.item.measure === 'weighed' ? row.quantity : 0),
        0,
      );
      const output = outputOf(body, item, lot, quantity, weighedMg);
      const formula = await formulaOf(tx, item);
      const inputs = [
        { item: lot.item, quantity },
        ...added.map((row) => ({ item: row.item.code, quantity: row.quantity })),
      ];
      const {
        id,
        code,
        inputs: ids,
      } = await this.batches.create(tx, {
        runId: null,
        item: item.code,
        formulaVersion: formula.version,
        vessel: null,
        day,
        readyOn: addDays(day, formula.restDays),
        emptiedOn: addDays(day, formula.restDays),
        output,
        putInMg: weighedMg,
        minutes: formula.minutes,
        expiresOn: item.shelfLifeDays === null ? null : addDays(day, item.shelfLifeDays),
        inputs: inputs.map((input, at) => ({ ...input, position: at + 1, step: 'make', needOn: day })),
        reworks: { lotId: lot.id, position: 1 },
      });
      await pegBatch(tx, id, [{ orderLineId: null, forBatchId: null, quantity: output }]);
      await this.batches.setStatus(tx, [id], 'reserved');
      await tx.query(
        `insert into bench_entry (batch_id, kind, batch_input_id, note, done_on) values ($1, 'deviation', $2, $3, $4)`,
        [id, ids.get(1), `mends the rejected lot ${lot.code}: ${body.why}`, today],
      );
      return batchViewByCode(tx, code);
    });
  }
}

async function lockSetAside(tx: EntityManager, code: string): Promise<LockedLot> {
  const lot = await lockLot(tx, code);
  const rows = await tx.query<unknown[]>('select from rework where lot_id = $1', [lot.id]);
  if (rows.length === 0 || lot.status !== 'rejected')
    throw conflict('not-set-aside', `Lot ${code} is not set aside to go into another batch.`);
  return lot;
}

async function additionsOf(tx: EntityManager, body: ReworkBatchCreate): Promise<{ item: Item; quantity: number }[]> {
  const named = body.additions.map(({ item: code }, at) => ({ code, pointer: `/additions/${at}/item` }));
  const items = await itemsByCode(tx, named);
  return body.additions.map(({ item: code, quantity }, at) => {
    const item = items.get(code)!;
    return { item, quantity: positiveAmountOf(quantity, item, `/additions/${at}/quantity`) };
  });
}

function outputOf(body: ReworkBatchCreate, item: Item, lot: LockedLot, quantity: number, weighedMg: number): number {
  if (item.kind === 'material') throw invalid('/item', `${item.code} is bought, not made.`);
  if (body.output !== undefined) return positiveAmountOf(body.output, item, '/output');
  if (item.measure === 'weighed' && lot.measure === 'weighed') return weighedMg;
  if (item.id === lot.itemId) return quantity;
  throw invalid('/output', `Say how much ${item.code} is meant to come out.`);
}

async function formulaOf(
  tx: EntityManager,
  item: Item,
): Promise<{ version: number; restDays: number; minutes: number }> {
  const rows = await tx.query<{ version: number; restDays: number; minutes: number }[]>(
    `select version, rest_days as "restDays", minutes_batch as minutes from formula
     where item_id = $1 and not withdrawn order by version desc limit 1`,
    [item.id],
  );
  if (!rows[0]) throw conflict('no-formula', `There is no formula of ${item.code}.`);
  return rows[0];
}
