import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { amountOf } from '../catalog/amount.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, invalid, notFound } from '../platform/problem.js';
import type { CountCreate, Counted } from './acts.schema.js';
import { dayOfAct, refuseBefore } from './day-of-act.js';
import type { LockedLot } from './locked-lot.js';
import { lockLots } from './locked-lot.js';
import { freeLatest } from './promises.js';
import { StockService } from './stock.service.js';
import { amountText } from '../ui/amounts.js';

/** A count that was posted, and what the book holds at its place that it did not name. */
export interface CountView {
  id: number;
  place: string | null;
  countedOn: string;
  reason: string;
  by: string;
  lots: {
    lot: string;
    item: string;
    name: string;
    measure: Measure;
    expected: number;
    counted: number;
    valueE4: number;
  }[];
  notCounted: string[];
}

type CountedLot = Counted['lots'][number];

/** What is really on the shelf. */
@Injectable()
export class CountService {
  constructor(
    private readonly database: Database,
    private readonly stock: StockService,
    private readonly clock: Clock,
  ) {}

  /**
   * Compares what was counted with the book at the end of that day and posts the differences, whatever the lots' status.
   * A loss first gives back the latest promises it leaves nothing for and names them; a gain is worth nothing, because
   * what came in was paid for already.
   */
  async count(who: string, body: CountCreate): Promise<Counted> {
    const countedOn = dayOfAct(await this.clock.today(), body.countedOn, '/countedOn');
    refuseTwice(body);
    return this.database.act({ who, why: body.reason }, async (tx) => {
      const lots = await lockLots(
        tx,
        body.lots.map(({ lot }, at) => ({ code: lot, pointer: `/lots/${at}/lot` })),
      );
      const book = await bookAtEndOf(tx, countedOn, [...lots.values()]);
      const place = body.place ?? null;
      const [{ id }] = await tx.query<[{ id: number }]>(
        'insert into shelf_count (place, counted_on, reason) values ($1, $2, $3) returning id',
        [place, countedOn, body.reason],
      );
      const answer: CountedLot[] = [];
      for (const [at, row] of body.lots.entries()) {
        const lot = lots.get(row.lot)!;
        refuseBefore(lot, countedOn, `/lots/${at}/lot`);
        const line = {
          lot: lot.code,
          item: lot.item,
          expected: book.get(lot.id) ?? 0,
          counted: amountOf(row.counted, lot, `/lots/${at}/counted`),
        };
        const posted = await this.post(tx, lot, line.counted - line.expected, countedOn, body.reason);
        await tx.query(
          `insert into shelf_count_line (shelf_count_id, lot_id, expected, counted, movement_id)
           values ($1, $2, $3, $4, $5)`,
          [id, lot.id, line.expected, line.counted, posted.movement],
        );
        answer.push({ ...line, ...posted });
      }
      return { id, place, countedOn, lots: answer, notCounted: await notCounted(tx, place, [...lots.values()]) };
    });
  }

  /** A count as it was posted. Throws a 404 problem. */
  get(id: number): Promise<CountView> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<CountView[]>(COUNT_VIEW, [id]);
      if (!rows[0]) throw notFound('count', id);
      return rows[0];
    });
  }

  private async post(
    tx: EntityManager,
    lot: LockedLot,
    difference: number,
    doneOn: string,
    reason: string,
  ): Promise<Pick<CountedLot, 'difference' | 'valueE4' | 'movement' | 'freed'>> {
    if (difference === 0) return { difference, valueE4: 0, movement: null, freed: [] };
    // of a count of a past day, what was lost may have been used since: then one of the two was booked wrong
    if (-difference > lot.onHand) {
      const [missing, now] = [amountText(-difference, lot.measure), amountText(lot.onHand, lot.measure)];
      throw conflict(
        'not-enough',
        `Lot ${lot.code} misses ${missing} since ${doneOn}, but has only ${now} now. Count it anew.`,
      );
    }
    const freed = await freeLatest(tx, lot.id, -difference - (lot.onHand - lot.reserved));
    const movement = await this.stock.moveLot(tx, {
      lotId: lot.id,
      cause: 'count',
      quantity: difference,
      doneOn,
      reason,
    });
    const [row] = await tx.query<{ value: number }[]>('select value_e4 as value from movement where id = $1', [
      movement,
    ]);
    return { difference, valueE4: row!.value, movement, freed };
  }
}

function refuseTwice(body: CountCreate): void {
  const seen = new Set<string>();
  for (const [at, { lot }] of body.lots.entries()) {
    if (seen.has(lot)) throw invalid(`/lots/${at}/lot`, `Lot ${lot} is counted twice.`, 'given-twice');
    seen.add(lot);
  }
}

async function bookAtEndOf(tx: EntityManager, day: string, lots: readonly LockedLot[]): Promise<Map<number, number>> {
  const rows = await tx.query<{ id: number; quantity: number }[]>(
    `select lot_id as id, sum(quantity)::bigint as quantity from movement
     where lot_id = any($1::bigint[]) and done_on <= $2 group by lot_id`,
    [lots.map(({ id }) => id), day],
  );
  return new Map(rows.map(({ id, quantity }) => [id, quantity]));
}

async function notCounted(tx: EntityManager, place: string | null, lots: readonly LockedLot[]): Promise<string[]> {
  if (place === null) return [];
  const rows = await tx.query<{ code: string }[]>(
    'select code from lot where place = $1 and on_hand > 0 and not id = any($2::bigint[]) order by code limit 1000',
    [place, lots.map(({ id }) => id)],
  );
  return rows.map(({ code }) => code);
}

const COUNT_VIEW = `
  select c.id, c.place, c.counted_on as "countedOn", c.reason, c.created_by as by, (
    select coalesce(json_agg(json_build_object('lot', l.code, 'item', i.code, 'name', i.name, 'measure', i.measure,
      'expected', n.expected, 'counted', n.counted, 'valueE4', coalesce(m.value_e4, 0)) order by lower(i.name), l.code), '[]')
    from shelf_count_line n join lot l on l.id = n.lot_id join item i on i.id = l.item_id
      left join movement m on m.id = n.movement_id
    where n.shelf_count_id = c.id) as lots, (
    select coalesce(json_agg(code), '[]') from (select l.code from lot l
      where l.place = c.place and l.on_hand > 0 and l.came_on <= c.counted_on
        and not exists (select from shelf_count_line n where n.shelf_count_id = c.id and n.lot_id = l.id)
      order by l.code limit 1000) missed) as "notCounted"
  from shelf_count c where c.id = $1`;
