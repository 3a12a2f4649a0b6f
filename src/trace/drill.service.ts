import { randomInt } from 'node:crypto';
import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict } from '../platform/problem.js';
import { nextCode } from './complaints.js';
import type { DrillCreate, RecallView } from './recall.schema.js';
import { addEntry, recallListOf, recallRow, recallViewOf } from './recalls.js';
import { insertRecall, keepResult } from './recalls.service.js';
import { traceOf } from './trace.service.js';

const SEED_MAX = 2_147_483_647;

/** A recall that only looks, to see whether one would succeed. */
@Injectable()
export class DrillService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * Draws a lot that was used or sold, follows it both ways, lists who got it and accounts for all of it, and keeps how
   * long that took and how much is reconciled. Throws 409 `nothing-used` where no lot was ever used.
   */
  async drill(who: string, body: DrillCreate): Promise<RecallView> {
    const today = await this.clock.today();
    const seed = body.seed ?? randomInt(SEED_MAX);
    const began = performance.now();
    return this.database.act({ who, why: 'drill' }, async (tx) => {
      const lot = await draw(tx, seed);
      const code = await nextCode(tx, 'recall', 'D', today);
      const { id } = await insertRecall(tx, { code, lotId: lot.id, why: 'drill', openedOn: today, seed });
      const trace = await traceOf(tx, lot.code, 'both');
      const recall = await recallRow(tx, code);
      const list = await recallListOf(tx, recall);
      const traced = performance.now();
      await addEntry(
        tx,
        id,
        'opened',
        `Lot ${lot.code}, drawn with ${seed}: ${trace.lots.length} lots, ${trace.deliveries.length} deliveries, ` +
          `${list.recipients.length} recipients.`,
      );
      await keepResult(tx, recall, began, traced);
      return recallViewOf(tx, code);
    });
  }
}

async function draw(tx: EntityManager, seed: number): Promise<{ id: number; code: string }> {
  const used = `from lot l where exists (select from standing_movement m where m.lot_id = l.id and m.cause in ('consumption', 'shipment'))`;
  const [count] = await tx.query<{ lots: number }[]>(`select count(*)::int as lots ${used}`);
  if (count!.lots === 0) throw conflict('nothing-used', 'No lot was used or sold yet, so there is nothing to follow.');
  const place = Math.floor(fractionOf(seed) * count!.lots);
  const [row] = await tx.query<{ id: number; code: string }[]>(
    `select l.id, l.code ${used} order by l.id offset $1 limit 1`,
    [place],
  );
  return row!;
}

/** From 0 to below 1, evenly spread and always the same for a seed (the finish of mulberry32). */
function fractionOf(seed: number): number {
  const state = (seed + 0x6d2b79f5) >>> 0;
  let t = Math.imul(state ^ (state >>> 15), state | 1);
  t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
  return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
}
