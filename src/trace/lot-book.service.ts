import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import type { ItemKind, LotDateKind } from '../catalog/item.entity.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import type { SetAside } from '../stock/acts.schema.js';
import { lotViewByCode } from '../stock/lots.service.js';
import { brokenOf, openPromises } from '../stock/promises.js';
import type { LotStatus } from '../stock/stock.entity.js';
import type { LotView } from '../stock/stock.schema.js';

const ENTRIES_AT_ONCE = 50;

export interface LotBookEntry {
  kind: 'date' | 'movement' | 'status' | 'retest';
  /** Of a movement: its cause. */
  cause: string | null;
  doneOn: string | null;
  /** The instant it was written down. */
  at: Date;
  quantity: number | null;
  /** On hand once this was written down. */
  balance: number | null;
  valueE4: number | null;
  /** A status or a date. */
  from: string | null;
  to: string | null;
  why: string;
  by: string;
  otherLot: string | null;
  batch: string | null;
  /** As channel and number. */
  order: { channel: string; number: string } | null;
}

export interface LotBook {
  today: string;
  lot: LotView;
  item: { code: string; name: string; kind: ItemKind; measure: Measure; lotDateKind: LotDateKind };
  /** Lots that were split off it or came back out of it. */
  children: { code: string; onHand: number; place: string }[];
  /** Whom it is set aside for, the one needed first first. */
  setAside: SetAside[];
  /** What it may become by decision. */
  mayBecome: LotStatus[];
  /** One page of what happened to it, the newest first. */
  entries: LotBookEntry[];
  hasOlder: boolean;
}

/** Everything that is known of one lot. */
@Injectable()
export class LotBookService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** `page` counts from 1. Throws a 404 problem. */
  async book(code: string, page: number): Promise<LotBook> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const lot = await lotViewByCode(tx, code);
      const [row] = await tx.query<[LotBook['item'] & { id: number }]>(
        `select l.id, i.code, i.name, i.kind, i.measure, i.lot_date_kind as "lotDateKind"
         from lot l join item i on i.id = l.item_id where l.code = $1`,
        [code],
      );
      const { id, ...item } = row;
      const entries = await tx.query<LotBookEntry[]>(ENTRIES, [id, ENTRIES_AT_ONCE + 1, (page - 1) * ENTRIES_AT_ONCE]);
      if (page > 1 && entries.length === 0) throw notFound('page', page);
      return {
        today,
        lot,
        item,
        children: await tx.query(
          `select code, on_hand as "onHand", place from lot where parent_lot_id = $1 order by id desc limit 50`,
          [id],
        ),
        setAside: (await openPromises(tx, { lotIds: [id] })).map((promise) => ({
          id: promise.id,
          lot: code,
          ...brokenOf(promise, promise.quantity),
        })),
        mayBecome: await nextStatuses(tx, lot),
        entries: entries.slice(0, ENTRIES_AT_ONCE),
        hasOlder: entries.length > ENTRIES_AT_ONCE,
      };
    });
  }
}

async function nextStatuses(tx: EntityManager, lot: LotView): Promise<LotStatus[]> {
  const rows = await tx.query<{ status: LotStatus }[]>(
    `select to_status as status from transition where subject = 'lot' and from_status = $1 order by to_status desc`,
    [lot.status],
  );
  return rows.map(({ status }) => status).filter((status) => status !== 'released' || !lot.neverRelease);
}

const ENTRIES = `
  with entry as (
    select 'movement' as kind, m.id, m.cause, m.done_on, m.recorded_at as at, m.quantity,
      sum(m.quantity) over (order by m.id)::bigint as balance, m.value_e4, null as from_, null as to_, m.reason as why,
      m.created_by as by, other.code as other_lot, b.code as batch,
      case when o.id is not null then json_build_object('channel', o.channel, 'number', o.number) end as order_
    from movement m
      left join lot other on other.id = m.other_lot_id
      left join batch b on b.id = m.batch_id
      left join order_line ol on ol.id = m.order_line_id
      left join customer_order o on o.id = ol.order_id
    where m.lot_id = $1
    union all
    select 'status', id, null, null, done_at, null, null, null, from_status, to_status, why, done_by, null, null, null
    from state_change where subject = 'lot' and subject_id = $1
    union all
    select case when is_correction then 'date' else 'retest' end, id, null, examined_on, created_at, null, null, null, from_date::text, to_date::text, evidence,
      created_by, null, null, null
    from retest where lot_id = $1
  )
  select kind, cause, done_on as "doneOn", at, quantity, balance, value_e4 as "valueE4", from_ as "from", to_ as "to", why,
    by, other_lot as "otherLot", batch, order_ as "order"
  from entry order by at desc, kind, id desc limit $2 offset $3`;
