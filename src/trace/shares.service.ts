import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { lotIdOf, lotsById } from './trace.service.js';
import { byText } from '../kernel/measure/text-order.js';
import type { SharedGroup, SharesView } from './trace.schema.js';
import { linkRows, lookUp, walkEach, walkLots } from './walk.js';

/** So many sources are looked at, so many pairs of source and lot, and so many lots of a group are named. */
const SOURCES_MAX = 2_000;
const PAIRS_MAX = 200_000;
const NAMED_MAX = 50;

/** What a lot has in common with others. */
@Injectable()
export class SharesService {
  constructor(private readonly database: Database) {}

  /**
   * What else came of the same delivery, of the same material, of a batch of the same day, from the same vessel, from the
   * same hands: of a lot that was made, everything on its way here counts; of one that was bought, what it went into.
   */
  shares(code: string): Promise<SharesView> {
    return this.database.read((tx) => sharesOf(tx, code));
  }
}

export async function sharesOf(tx: EntityManager, code: string): Promise<SharesView> {
  await lookUp(tx);
  const id = await lotIdOf(tx, code);
  const back = (await walkLots(tx, 'back', [id], SOURCES_MAX)).slice(0, SOURCES_MAX);
  const { used, outputs } = await linkRows(tx, 'back', back);
  const batchIds = new Set([...used, ...outputs].map(({ batchId }) => batchId));
  if (batchIds.size === 0) for (const { batchId } of (await linkRows(tx, 'forward', [id])).used) batchIds.add(batchId);
  const groups = [
    ...(await sharedDeliveries(tx, back)),
    ...(await sharedMaterials(tx, id, back)),
    ...(await sharedBatches(tx, id, [...batchIds])),
  ];
  return { lot: code, shares: await named(tx, groups) };
}

interface Group {
  by: SharedGroup['by'];
  what: string;
  name: string;
  lotIds: number[];
}

async function named(tx: EntityManager, groups: readonly Group[]): Promise<SharedGroup[]> {
  const shown = groups.filter(({ lotIds }) => lotIds.length > 0);
  const newest = shown.map((group) => ({ ...group, lotIds: [...group.lotIds].sort((a, b) => b - a) }));
  const ids = new Set(newest.flatMap(({ lotIds }) => lotIds.slice(0, NAMED_MAX)));
  const lots = await lotsById(tx, [...ids]);
  return newest
    .map(({ by, what, name, lotIds }) => ({
      by,
      what,
      name,
      count: lotIds.length,
      lots: lotIds.slice(0, NAMED_MAX).map((id) => {
        const { code, item, onHand, status } = lots.get(id)!;
        return { code, item, onHand, status };
      }),
    }))
    .sort((a, b) => ORDER.indexOf(a.by) - ORDER.indexOf(b.by) || a.count - b.count || byText(a.what, b.what));
}

const ORDER: SharedGroup['by'][] = ['delivery', 'material', 'vessel', 'day', 'person'];

/** Other lots that came with the same delivery, or bear the same supplier's lot, as something this lot comes of. */
async function sharedDeliveries(tx: EntityManager, lotIds: readonly number[]): Promise<Group[]> {
  const rows = await tx.query<{ what: string; name: string; lotIds: number[] }[]>(
    `select d.code as what, s.name, array_agg(distinct other.lot_id) as "lotIds"
     from (select distinct dl.delivery_id from standing_movement m join delivery_line dl on dl.id = m.delivery_line_id
         where m.lot_id = any($1::bigint[]) and m.cause = 'receipt') came
       join delivery d on d.id = came.delivery_id join supplier s on s.id = d.supplier_id
       join delivery_line dl on dl.delivery_id = d.id
       join standing_movement other on other.delivery_line_id = dl.id and other.cause = 'receipt'
     where not other.lot_id = any($1::bigint[])
     group by d.code, s.name
     union all
     select s.code || ' ' || l.supplier_lot, s.name, array_agg(distinct other.id)
     from lot l join supplier s on s.id = l.supplier_id
       join lot other on other.supplier_id = l.supplier_id and other.supplier_lot = l.supplier_lot
         and other.item_id = l.item_id
     where l.id = any($1::bigint[]) and l.supplier_lot <> '' and not other.id = any($1::bigint[])
     group by s.code, l.supplier_lot, s.name`,
    [lotIds],
  );
  return rows.map((row) => ({ by: 'delivery', ...row }));
}

/** What else was made of each of its sources: products, and bulks that are not this lot's own way here. */
async function sharedMaterials(tx: EntityManager, id: number, back: readonly number[]): Promise<Group[]> {
  const sources = await lotsById(tx, back);
  const pairs = await walkEach(tx, 'forward', back, PAIRS_MAX);
  const own = new Set(back);
  const made = new Map<number, number[]>();
  for (const { start, id: reached } of pairs) {
    if (own.has(reached)) continue;
    const known = made.get(start);
    if (known) known.push(reached);
    else made.set(start, [reached]);
  }
  return [...made].map(([start, lotIds]) => {
    const { code, name, item } = sources.get(start)!;
    return {
      by: 'material' as const,
      what: code,
      name: start === id ? `this lot, ${name}` : `${item}, ${name}`,
      lotIds,
    };
  });
}

/** What other batches of the same day, vessel or person made. */
async function sharedBatches(tx: EntityManager, id: number, batchIds: readonly number[]): Promise<Group[]> {
  const rows = await tx.query<{ by: Group['by']; what: string; name: string; lotIds: number[] }[]>(
    `with mine as materialized (select id, day, vessel_id from batch where id = any($1::bigint[])),
     hands as materialized (
       select created_by as who from standing_movement
         where batch_id = any($1::bigint[]) and cause = 'consumption' and created_by <> ''
       union select created_by from batch_finish where batch_id = any($1::bigint[])
     ), other as (
       select 'day' as by, b.day::text as what, '' as name, b.id from batch b
         where b.day in (select day from mine) and not b.id = any($1::bigint[])
       union
       select 'vessel', v.code, v.kind, b.id from batch b join vessel v on v.id = b.vessel_id
         where b.vessel_id in (select vessel_id from mine) and not b.id = any($1::bigint[])
       union
       select 'person', h.who, '', f.batch_id from hands h join batch_finish f on f.created_by = h.who
         where not f.batch_id = any($1::bigint[])
       union
       select 'person', h.who, '', m.batch_id from hands h join standing_movement m on m.created_by = h.who
           and m.cause = 'consumption' and m.batch_id is not null
         where not m.batch_id = any($1::bigint[])
     )
     select other.by, other.what, other.name, array_agg(distinct o.lot_id) as "lotIds"
     from other join batch_output o on o.batch_id = other.id and o.kind = 'made' and o.lot_id <> $2
     group by 1, 2, 3`,
    [batchIds, id],
  );
  return rows;
}
