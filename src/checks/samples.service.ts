import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { positiveAmountOf } from '../catalog/amount.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import { dayOfAct, refuseBefore } from '../stock/day-of-act.js';
import { lockLots, refuseMoreThanHeld } from '../stock/locked-lot.js';
import { freeLatest } from '../stock/promises.js';
import { StockService } from '../stock/stock.service.js';
import { checkedBatch } from './checks.service.js';
import type { KeptSample, SampleCreate, SampleDiscard, SamplePage, SampleQuery } from './samples.schema.js';

/** Some of each batch that is kept, to compare with and to look at when somebody complains. */
@Injectable()
export class SamplesService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  list(query: SampleQuery): Promise<SamplePage> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<KeptSample[]>(
        `${SAMPLES} where s.id > $1 and ($2::date is null or (s.discarded_on is null and s.discard_on <= $2))
         order by s.id limit $3`,
        [query.after ?? 0, query.dueBy ?? null, query.limit + 1],
      );
      const samples = rows.slice(0, query.limit);
      return { samples, next: rows.length > query.limit ? samples.at(-1)!.id : null };
    });
  }

  /** Those of one batch. Throws a 404 problem. */
  ofBatch(code: string): Promise<{ samples: KeptSample[] }> {
    return this.database.read(async (tx) => samplesOf(tx, (await checkedBatch(tx, code)).id));
  }

  /**
   * Takes a sample out of what a batch made and says where it stands and until when. What it was promised to is given
   * back where it no longer fits, the latest need first.
   */
  async keep(who: string, code: string, body: SampleCreate): Promise<{ samples: KeptSample[] }> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    if (body.discardOn <= day) throw invalid('/discardOn', 'It is kept for some time: choose a later day.');
    return this.database.act({ who, why: `kept of batch ${code}` }, async (tx) => {
      const batch = await checkedBatch(tx, code);
      const name = body.lot ?? (await madeLot(tx, batch.id, code));
      const lot = (await lockLots(tx, [{ code: name, pointer: '/lot' }])).get(name)!;
      const [of] = await tx.query<unknown[]>('select from lot where id = $1 and batch_id = $2', [lot.id, batch.id]);
      if (!of) throw conflict('other-batch', `Lot ${lot.code} is not of batch ${code}.`);
      refuseBefore(lot, day, '/on');
      const quantity = positiveAmountOf(body.quantity, lot, '/quantity');
      refuseMoreThanHeld(lot, quantity);
      await freeLatest(tx, lot.id, quantity - (lot.onHand - lot.reserved));
      const movementId = await this.stock.moveLot(tx, {
        lotId: lot.id,
        cause: 'sample',
        quantity: -quantity,
        doneOn: day,
        reason: `kept of batch ${code}, at ${body.place}`,
      });
      await tx.query('insert into kept_sample (batch_id, movement_id, place, discard_on) values ($1, $2, $3, $4)', [
        batch.id,
        movementId,
        body.place,
        body.discardOn,
      ]);
      return samplesOf(tx, batch.id);
    });
  }

  /** Writes down that it was thrown away, once. */
  async discard(who: string, id: number, body: SampleDiscard): Promise<KeptSample> {
    const day = dayOfAct(await this.clock.today(), body.on, '/on');
    return this.database.act({ who }, async (tx) => {
      const [before] = await tx.query<KeptSample[]>(`${SAMPLES} where s.id = $1 for update of s`, [id]);
      if (!before) throw notFound('kept sample with id', id);
      if (before.discardedOn !== null) throw conflict('already-so', `It was thrown away on ${before.discardedOn}.`);
      if (day < before.keptOn) throw invalid('/on', `It was kept on ${before.keptOn}, after this day.`);
      await tx.query('update kept_sample set discarded_on = $2, discarded_by = acting_person() where id = $1', [
        id,
        day,
      ]);
      return (await tx.query<KeptSample[]>(`${SAMPLES} where s.id = $1`, [id]))[0]!;
    });
  }
}

/** Throws 409 where the batch has made nothing yet. */
async function madeLot(tx: EntityManager, batchId: number, code: string): Promise<string> {
  const [made] = await tx.query<{ code: string }[]>(
    `select l.code from batch_output o join lot l on l.id = o.lot_id where o.batch_id = $1 and o.kind = 'made'`,
    [batchId],
  );
  if (!made) throw conflict('wrong-state', `Batch ${code} has made no lot yet, so nothing of it can be kept.`);
  return made.code;
}

/** What is kept of a batch, and what was and is thrown away by now; in the order it was kept. */
export async function samplesOf(tx: EntityManager, batchId: number): Promise<{ samples: KeptSample[] }> {
  return { samples: await tx.query<KeptSample[]>(`${SAMPLES} where s.batch_id = $1 order by s.id`, [batchId]) };
}

const SAMPLES = `
  select s.id, b.code as batch, i.code as item, l.code as lot, -m.quantity as quantity, i.measure, s.place, m.done_on as "keptOn",
    s.created_by as "keptBy", s.discard_on as "discardOn", s.discarded_on as "discardedOn",
    s.discarded_by as "discardedBy"
  from kept_sample s join batch b on b.id = s.batch_id join standing_movement m on m.id = s.movement_id
    join lot l on l.id = m.lot_id join item i on i.id = l.item_id`;
