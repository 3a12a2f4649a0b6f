import { Injectable } from '@nestjs/common';
import type { Family } from '../catalog/item.entity.js';
import { itemByCode, itemViewOf } from '../catalog/items.service.js';
import type { ItemView } from '../catalog/items.schema.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { likePart } from '../platform/like-part.js';
import type { LotStatus } from '../stock/stock.entity.js';

/** A lot whose last day is nearer than this counts as soon over. */
export const SOON_DAYS = 30;
/** What is used in so many days should lie on the shelf or be on its way, else an item runs low. */
export const USE_DAYS = 28;
const ROWS_AT_ONCE = 50;
const LOTS_MAX = 200;

export interface ShelfQuery {
  family?: Family;
  /** A part of the code or the name. */
  search?: string;
  only?: 'low' | 'expiring';
  /** The code of the last item of the page before. */
  after?: string;
}

/** One item on the shelf; amounts in its base unit. */
export interface ShelfRow {
  code: string;
  name: string;
  family: Family;
  measure: Measure;
  onHand: number;
  reserved: number;
  /** Usable today and not set aside. */
  free: number;
  /** On hand, but held, waiting for release, rejected or past its date. */
  unusable: number;
  /** Still to come by deliveries, or out of batches that are planned or under way. */
  coming: number;
  /** The nearest last day of its lots on hand. */
  nextDate: string | null;
  /** What should lie there: its target, or for a material without one what four weeks used. */
  wanted: number;
  wantedFor: 'target' | 'use';
  isLow: boolean;
}

export interface ShelfPage {
  today: string;
  rows: ShelfRow[];
  next: string | null;
}

export interface ShelfLot {
  code: string;
  status: LotStatus;
  onHand: number;
  reserved: number;
  valueE4: number;
  cameOn: string;
  expiresOn: string | null;
  place: string;
}

export interface ShelfItem {
  today: string;
  item: ItemView;
  /** Of all its lots on hand; free is what may be used today and is not set aside. */
  totals: { lots: number; onHand: number; reserved: number; free: number; valueE4: number };
  /** Those of them that are to be used first, the first first. */
  lots: ShelfLot[];
  coming: { code: string; by: 'delivery' | 'batch'; quantity: number; promised: number; day: string }[];
}

export interface PlaceLot {
  lot: string;
  item: string;
  name: string;
  measure: Measure;
  status: LotStatus;
  onHand: number;
  expiresOn: string | null;
}

/** What lies on the shelf, item by item and place by place. */
@Injectable()
export class ShelfService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** One page of the items that are kept in lots, by name. */
  async list(query: ShelfQuery): Promise<ShelfPage> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const rows = await tx.query<ShelfRow[]>(SHELF_ROWS, [
        today,
        query.family ?? null,
        likePart(query.search),
        query.after ?? null,
        query.only ?? null,
        ROWS_AT_ONCE + 1,
      ]);
      const shown = rows.slice(0, ROWS_AT_ONCE);
      return { today, rows: shown, next: rows.length > ROWS_AT_ONCE ? shown.at(-1)!.code : null };
    });
  }

  /** One item with its lots on hand and what is on its way. Throws a 404 problem. */
  async item(code: string): Promise<ShelfItem> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const item = await itemByCode(tx, code);
      const lots = await tx.query<ShelfLot[]>(
        `select code, status, on_hand as "onHand", reserved, value_e4 as "valueE4", came_on as "cameOn",
           expires_on as "expiresOn", place
         from lot where item_id = $1 and on_hand > 0 order by expires_on nulls last, came_on, code limit ${LOTS_MAX}`,
        [item.id],
      );
      const [totals] = await tx.query<[ShelfItem['totals']]>(TOTALS_OF_ITEM, [item.id, today]);
      const coming = await tx.query<ShelfItem['coming']>(COMING_OF_ITEM, [item.id]);
      return { today, item: itemViewOf(item), totals, lots, coming };
    });
  }

  /** Where lots lie, and how many. */
  places(): Promise<{ place: string; lots: number }[]> {
    return this.database.read((tx) =>
      tx.query(`select place, count(*)::int as lots from lot where on_hand > 0 group by place order by place`),
    );
  }

  /** What the book holds at a place, by item. */
  at(place: string, limit: number): Promise<PlaceLot[]> {
    return this.database.read((tx) =>
      tx.query<PlaceLot[]>(
        `select l.code as lot, i.code as item, i.name, i.measure, l.status, l.on_hand as "onHand",
           l.expires_on as "expiresOn"
         from lot l join item i on i.id = l.item_id
         where l.place = $1 and l.on_hand > 0 order by lower(i.name), i.code, l.expires_on nulls last, l.code limit $2`,
        [place, limit],
      ),
    );
  }
}

/** Batches from which something will come. */
const UNDER_WAY = `('planned', 'reserved', 'weighed', 'resting')`;

const SHELF_ROWS = `
  with coming as materialized (
    select item_id, sum(quantity)::bigint as quantity from (
      select dl.item_id, greatest(0, dl.quantity - dl.received) as quantity
      from delivery d join delivery_line dl on dl.delivery_id = d.id where d.status = 'expected'
      union all
      select item_id, output from batch where status in ${UNDER_WAY}) sources
    group by item_id
  ), used as materialized (
    select l.item_id, -sum(m.quantity)::bigint as quantity from standing_movement m join lot l on l.id = m.lot_id
    where m.done_on > $1::date - ${USE_DAYS} and m.cause in ('consumption', 'shipment', 'own-use') group by l.item_id
  ), shelf as (
    select i.code, i.name, i.family, i.measure, stock.on_hand as "onHand", stock.reserved, stock.free,
      stock.on_hand - stock.usable as unusable, coalesce(coming.quantity, 0) as coming, stock.next_date as "nextDate",
      wanted.quantity as wanted, wanted.reason as "wantedFor",
      stock.free + coalesce(coming.quantity, 0) < wanted.quantity as "isLow"
    from item i
      cross join lateral (
        select coalesce(sum(on_hand), 0)::bigint as on_hand, coalesce(sum(reserved), 0)::bigint as reserved,
          coalesce(sum(on_hand) filter (where usable), 0)::bigint as usable,
          coalesce(sum(on_hand - reserved) filter (where usable), 0)::bigint as free, min(expires_on) as next_date
        from (select l.*, l.status = 'released' and (l.expires_on is null or l.expires_on >= $1::date) as usable
          from lot l where l.item_id = i.id and l.on_hand > 0) lots) stock
      left join coming on coming.item_id = i.id
      left join used on used.item_id = i.id
      cross join lateral (
        select case when i.policy in ('to-stock', 'seasonal') and i.target > 0 then i.target
            when i.kind = 'material' and i.policy <> 'discontinued' then coalesce(used.quantity, 0)
            else 0 end as quantity,
          case when i.policy in ('to-stock', 'seasonal') and i.target > 0 then 'target' else 'use' end as reason) wanted
    where i.stocked and ($2::text is null or i.family = $2)
      and ($3::text is null or i.code ilike $3 or i.name ilike $3)
      and ($4::text is null or (lower(i.name), i.code) > (select lower(name), code from item where code = $4))
  )
  select * from shelf
  where $5::text is null or ($5 = 'low' and "isLow")
    or ($5 = 'expiring' and "nextDate" <= $1::date + ${SOON_DAYS})
  order by lower(name), code limit $6`;

const TOTALS_OF_ITEM = `
  select count(*)::int as lots, coalesce(sum(on_hand), 0)::bigint as "onHand", coalesce(sum(reserved), 0)::bigint as reserved,
    coalesce(sum(on_hand - reserved) filter (where status = 'released' and (expires_on is null or expires_on >= $2)),
      0)::bigint as free, coalesce(sum(value_e4), 0)::bigint as "valueE4"
  from lot where item_id = $1 and on_hand > 0`;

const COMING_OF_ITEM = `
  select d.code, 'delivery' as by, dl.quantity - dl.received as quantity, dl.promised, d.expected_on as day
  from delivery_line dl join delivery d on d.id = dl.delivery_id
  where dl.item_id = $1 and d.status = 'expected' and dl.quantity > dl.received
  union all
  select code, 'batch', output, promised, ready_on from batch where item_id = $1 and status in ${UNDER_WAY}
  order by day, code limit 100`;
