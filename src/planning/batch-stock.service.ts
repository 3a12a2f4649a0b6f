import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { setWanted } from '../batches/inputs.js';
import { allocate, type Supply } from '../kernel/plan/allocation.js';
import { dayOf } from '../kernel/measure/day.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { conflict, type Problem } from '../platform/problem.js';
import { type NewReservation, StockService } from '../stock/stock.service.js';
import { amountText } from '../ui/amounts.js';

/** A lot (or a batch's or delivery's code) and how much of it was taken or given back. */
export interface LotAmount {
  item: string;
  lot: string;
  quantity: number;
}

interface Held {
  id: number;
  inputId: number;
  position: number;
  item: string;
  source: string;
  open: number;
  needOn: string;
  /** Whether the source is there, and still good, on the day it is needed. */
  fits: boolean | null;
}

/** What one batch of a committed plan has set aside, and how that follows a change of the batch. */
@Injectable()
export class BatchStock {
  constructor(private readonly stock: StockService) {}

  /** What is set aside for a batch now. */
  async reservedLots(tx: EntityManager, batchId: number): Promise<LotAmount[]> {
    return (await heldFor(tx, batchId)).map(({ item, source, open }) => ({ item, lot: source, quantity: open }));
  }

  /**
   * After a batch has moved: what still fits is kept for the new day, what does not is given back and taken from
   * elsewhere. Answers what was taken and what given back. Throws 409 `short`.
   */
  async follow(tx: EntityManager, batchId: number): Promise<[LotAmount[], LotAmount[]]> {
    const taken: LotAmount[] = [];
    const freed: LotAmount[] = [];
    for (const held of await heldFor(tx, batchId)) {
      if (held.fits) {
        await tx.query('select move_reservation($1, $2)', [held.id, held.needOn]);
        continue;
      }
      await this.stock.freeReservation(tx, held.id, held.open);
      freed.push({ item: held.item, lot: held.source, quantity: held.open });
      taken.push(...(await this.take(tx, held.inputId, held.open)));
    }
    return [taken, freed];
  }

  /** After a batch's sheet has changed: takes or gives back the difference of each input (amounts by position). */
  async resize(
    tx: EntityManager,
    batchId: number,
    wanted: ReadonlyMap<number, number>,
  ): Promise<[LotAmount[], LotAmount[]]> {
    const taken: LotAmount[] = [];
    const freed: LotAmount[] = [];
    const held = await heldFor(tx, batchId);
    const inputs = await tx.query<{ id: number; position: number; quantity: number; stocked: boolean }[]>(
      `select i.id, i.position, i.quantity, it.stocked from batch_input i join item it on it.id = i.item_id
       where i.batch_id = $1 order by i.position`,
      [batchId],
    );
    for (const input of inputs) {
      const amount = wanted.get(input.position) ?? 0;
      if (amount === 0)
        throw conflict('too-small', `So small a batch leaves nothing to weigh of line ${input.position}.`);
      await setWanted(tx, input.id, amount);
      const mine = held.filter((row) => row.inputId === input.id);
      const more = amount - input.quantity;
      if (more > 0 && input.stocked) taken.push(...(await this.take(tx, input.id, more)));
      let less = Math.max(0, -more);
      for (const row of mine.toReversed()) {
        const quantity = await this.stock.freeReservation(tx, row.id, Math.min(less, row.open));
        if (quantity > 0) freed.push({ item: row.item, lot: row.source, quantity });
        less -= quantity;
      }
    }
    return [taken, freed];
  }

  /** Sets aside more for one input: first expired first out, then from the batches that already feed it. */
  private async take(tx: EntityManager, inputId: number, quantity: number): Promise<LotAmount[]> {
    const sources = await tx.query<Source[]>(SOURCES, [inputId]);
    const needOn = sources[0]?.needOn ?? '1970-01-01';
    const supplies = sources.map((row): Supply => ({
      key: row.code,
      quantity: row.free,
      from: 0,
      until: row.expiresOn === null ? Number.POSITIVE_INFINITY : dayOf(row.expiresOn),
      arrived: row.lotId !== null,
    }));
    const day = dayOf(needOn);
    const takes = allocate(supplies, [{ quantity, day, until: day, tier: 0 }]);
    const missing = quantity - takes.reduce((sum, take) => sum + take.quantity, 0);
    if (missing > 0) throw await shortOf(tx, inputId, missing);
    const reservations = takes.map((take): NewReservation => {
      const { lotId, batchId, runId } = sources[take.supply]!;
      return { runId, lotId, batchId, batchInputId: inputId, quantity: take.quantity, needOn };
    });
    await this.stock.reserve(tx, reservations);
    return takes.map((take) => {
      const { item, code } = sources[take.supply]!;
      return { item, lot: code, quantity: take.quantity };
    });
  }
}

async function shortOf(tx: EntityManager, inputId: number, missing: number): Promise<Problem> {
  const [{ item, measure }] = await tx.query<[{ item: string; measure: Measure }]>(
    'select it.code as item, it.measure from batch_input i join item it on it.id = i.item_id where i.id = $1',
    [inputId],
  );
  return conflict('short', `${amountText(missing, measure)} more of ${item} is needed than is free by its day.`);
}

interface Source {
  code: string;
  item: string;
  lotId: number | null;
  batchId: number | null;
  runId: number | null;
  free: number;
  expiresOn: string | null;
  needOn: string;
}

const SOURCES = `
  select l.code, it.code as item, l.id as "lotId", null::bigint as "batchId", b.run_id as "runId",
    l.on_hand - l.reserved - it.heel as free, l.expires_on as "expiresOn", i.need_on as "needOn"
  from batch_input i join batch b on b.id = i.batch_id join item it on it.id = i.item_id
    join lot l on l.item_id = i.item_id
  where i.id = $1 and l.status = 'released' and l.on_hand - l.reserved > it.heel
    and (l.expires_on is null or l.expires_on >= i.need_on)
  union all
  select distinct s.code, it.code, null::bigint, s.id, b.run_id, coalesce(s.made, s.output) - s.promised, s.expires_on, i.need_on
  from batch_input i join batch b on b.id = i.batch_id join item it on it.id = i.item_id
    join reservation r on r.batch_input_id = i.id join batch s on s.id = r.batch_id
  where i.id = $1 and s.status in ('planned', 'reserved', 'weighed', 'resting') and s.ready_on <= i.need_on
    and coalesce(s.made, s.output) > s.promised
  order by 1`;

function heldFor(tx: EntityManager, batchId: number): Promise<Held[]> {
  return tx.query(
    `select r.id, i.id as "inputId", i.position, it.code as item, r.open, i.need_on as "needOn",
       coalesce(l.code, s.code, d.code, '') as source,
       case when r.lot_id is not null then l.expires_on is null or l.expires_on >= i.need_on
         when r.batch_id is not null then s.ready_on <= i.need_on
         else d.expected_on + coalesce((select receiving_days from workshop), 1) <= i.need_on
           and (dl.expires_on is null or dl.expires_on >= i.need_on) end as fits
     from reservation r join batch_input i on i.id = r.batch_input_id join item it on it.id = i.item_id
       left join lot l on l.id = r.lot_id left join batch s on s.id = r.batch_id
       left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
     where i.batch_id = $1 and r.open > 0 order by r.lot_id, r.batch_id, r.delivery_line_id, r.id`,
    [batchId],
  );
}
