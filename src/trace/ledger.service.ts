import { Readable, pipeline } from 'node:stream';
import { Injectable } from '@nestjs/common';
import { stringify } from 'csv-stringify';
import type { EntityManager } from 'typeorm';
import { itemByCode } from '../catalog/items.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { dayOfAct } from '../stock/day-of-act.js';
import type { LedgerQuery, StockOnDay, StockQuery } from './ledger.schema.js';

const ROWS_AT_ONCE = 1000;

const COLUMNS = [
  'movement',
  'doneOn',
  'recordedAt',
  'item',
  'lot',
  'cause',
  'quantity',
  'unit',
  'valueE4',
  'reason',
  'by',
  'batch',
  'order',
  'otherLot',
  'reverses',
] as const;

type CsvRow = Record<(typeof COLUMNS)[number], string | number | null>;

/** What the ledger says of a day, and all of it as a table. */
@Injectable()
export class LedgerService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /**
   * What was on hand at the end of a day and what it was worth, summed from the ledger by the day each act was done, not
   * the instant it was written down: an entry made later for that day, or a correction of one, is in it. So a past day
   * shows what is known of it now, and today equals the balances.
   */
  async onDay(query: StockQuery): Promise<StockOnDay> {
    const asOf = dayOfAct(await this.clock.today(), query.asOf, '/query/asOf');
    return this.database.read(async (tx) => {
      const only = query.item === undefined ? null : (await itemByCode(tx, query.item)).id;
      const page = await tx.query<{ id: number; code: string }[]>(
        `select i.id, i.code from item i where i.code > $1 and ($2::bigint is null or i.id = $2)
           and exists (select from lot l where l.item_id = i.id) order by i.code limit $3`,
        [query.after ?? '', only, query.limit + 1],
      );
      const shown = page.slice(0, query.limit);
      const items = await sumsOnDay(
        tx,
        asOf,
        shown.map(({ id }) => id),
      );
      return { asOf, items, next: page.length > query.limit ? shown.at(-1)!.code : null };
    });
  }

  /**
   * The ledger as CSV (RFC 4180, UTF-8 with a byte order mark), streamed by pages of its growing ids, so that neither
   * memory nor a transaction grows with it; what is written after the first page was asked for is left out. Text that a
   * spreadsheet would take for a formula gets a leading quote; numbers are numbers.
   */
  async csv(query: LedgerQuery): Promise<Readable> {
    if (query.from !== undefined && query.to !== undefined && query.from > query.to)
      throw invalid('/query/to', 'This day is before the first one.', 'dates-cross');
    const [item, last] = await this.database.read(async (tx) => {
      const rows = await tx.query<{ last: number }[]>('select coalesce(max(id), 0) as last from movement');
      return [query.item === undefined ? null : (await itemByCode(tx, query.item)).id, rows[0]!.last] as const;
    });
    const lines = stringify({
      header: true,
      columns: [...COLUMNS],
      bom: true,
      record_delimiter: 'windows',
      escape_formulas: true,
      // the library quotes for its own record delimiter only, and a lone line end would end the record elsewhere
      quoted_match: /[\r\n]/,
    });
    const filter = [query.from ?? null, query.to ?? null, item, last];
    // ends both when one fails or the client goes away
    return pipeline(Readable.from(this.rows(filter)), lines, () => {});
  }

  private async *rows(filter: readonly (string | number | null)[]): AsyncGenerator<CsvRow> {
    for (let after = 0; ;) {
      const rows = await this.database.read((tx) =>
        tx.query<(CsvRow & { movement: number })[]>(ROWS, [...filter, after, ROWS_AT_ONCE]),
      );
      yield* rows;
      if (rows.length < ROWS_AT_ONCE) return;
      after = rows.at(-1)!.movement;
    }
  }
}

async function sumsOnDay(tx: EntityManager, day: string, itemIds: readonly number[]): Promise<StockOnDay['items']> {
  const rows = await tx.query<{ item: string; lot: string; onHand: number; valueE4: number }[]>(
    `select i.code as item, l.code as lot, sum(m.quantity)::bigint as "onHand", sum(m.value_e4)::bigint as "valueE4"
     from movement m join lot l on l.id = m.lot_id join item i on i.id = l.item_id
     where l.item_id = any($1::bigint[]) and m.done_on <= $2
     group by i.code, l.code having sum(m.quantity) <> 0 or sum(m.value_e4) <> 0 order by i.code, l.code`,
    [itemIds, day],
  );
  const items: StockOnDay['items'] = [];
  for (const { item, ...lot } of rows) {
    if (items.at(-1)?.item !== item) items.push({ item, onHand: 0, valueE4: 0, lots: [] });
    const sum = items.at(-1)!;
    sum.onHand += lot.onHand;
    sum.valueE4 += lot.valueE4;
    sum.lots.push(lot);
  }
  return items;
}

const ROWS = `
  select m.id as movement, m.done_on as "doneOn",
    to_char(m.recorded_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"') as "recordedAt", i.code as item,
    l.code as lot, m.cause, m.quantity, case i.measure when 'weighed' then 'mg' else 'each' end as unit,
    m.value_e4 as "valueE4", m.reason, m.created_by as by, b.code as batch, o.channel || '/' || o.number as "order",
    other.code as "otherLot", m.reverses_id as reverses
  from movement m join lot l on l.id = m.lot_id join item i on i.id = l.item_id
    left join batch b on b.id = m.batch_id left join lot other on other.id = m.other_lot_id
    left join order_line ol on ol.id = m.order_line_id left join customer_order o on o.id = ol.order_id
  where ($1::date is null or m.done_on >= $1) and ($2::date is null or m.done_on <= $2)
    and ($3::bigint is null or l.item_id = $3) and m.id <= $4 and m.id > $5
  order by m.id limit $6`;
