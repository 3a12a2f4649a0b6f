import type { EntityManager } from 'typeorm';
import { invalid } from '../platform/problem.js';
import { likePart } from '../platform/like-part.js';
import {
  ASKED_FOR,
  OPEN_OF_ORDER,
  type OrderSummary,
  SUMMARY_COLUMNS,
  summaryOf,
  type SummaryRow,
} from './order-summary.js';
import type { OrderQuery } from './orders.schema.js';

/** What is to be done about an order, the most pressing first. */
export const NEEDS = ['trouble', 'to-send', 'waiting', 'done'] as const;
export type Need = (typeof NEEDS)[number];

export interface OrdersByNeed {
  orders: (OrderSummary & { need: Need })[];
  /** Of each that stands on this page, how many there are on all pages. */
  counts: Partial<Record<Need, number>>;
  next: string | null;
}

/**
 * One page of orders: the troubled, those to send, those that wait, those that are done. Of each the one that must go first
 * comes first; of those that are done the newest.
 */
export async function listByNeed(
  tx: EntityManager,
  query: OrderQuery,
  { troubled, onlyTroubled }: { troubled: readonly number[]; onlyTroubled: boolean },
): Promise<OrdersByNeed> {
  const rows = await tx.query<(SummaryRow & { place: number; count: number; due: string })[]>(BY_NEED, [
    troubled,
    query.status ?? null,
    likePart(query.search),
    query.limit + 1,
    query.channel ?? null,
    onlyTroubled,
    ...afterPlace(query.after),
  ]);
  const page = rows.slice(0, query.limit);
  const last = page.at(-1);
  return {
    orders: page.map(({ place, count: _count, due: _due, ...row }) => ({ ...summaryOf(row), need: NEEDS[place]! })),
    counts: Object.fromEntries(page.map(({ place, count }) => [NEEDS[place]!, count])),
    next: rows.length > query.limit && last ? `${last.place}_${last.due}_${last.id}` : null,
  };
}

/** The day nothing has that must go: after all others. */
const NEVER = '9999-12-31';

const BY_NEED = `
  with placed as materialized (
    select o.id, n.place, coalesce(l.ship_by, date '${NEVER}') as due
    from customer_order o left join customer c on c.id = o.customer_id
      cross join lateral (select case when o.id = any($1::bigint[]) then 0 when o.status = 'confirmed' then 1
        when o.status = 'waiting' then 2 else 3 end as place) n
      left join lateral (
        select min(ship_by) filter (where quantity > shipped + cancelled) as ship_by
        from order_line where order_id = o.id and n.place < 3) l on true
    where ${ASKED_FOR} and (not $6::boolean or o.id = any($1::bigint[]))
  ), counted as (
    select place, count(*) as count from placed group by place
  ), shown as (
    select id, place, due from placed
    where (place, due, -id) > ($7::int, $8::date, -$9::bigint)
    order by place, due, id desc limit $4
  )
  select ${SUMMARY_COLUMNS}, s.place, k.count, s.due
  from shown s join customer_order o on o.id = s.id join counted k on k.place = s.place
    join channel ch on ch.code = o.channel left join customer c on c.id = o.customer_id
    cross join lateral (${OPEN_OF_ORDER}) l
  order by s.place, s.due, o.id desc`;

const PLACE = /^([0-3])_(\d{4}-\d{2}-\d{2})_(\d{1,15})$/;

function afterPlace(after: string | undefined): [place: number, due: string, id: number] {
  if (after === undefined) return [-1, NEVER, 0];
  const [, place, due, id] = PLACE.exec(after) ?? [];
  if (due === undefined || Number.isNaN(Date.parse(due)))
    throw invalid('/query/after', 'Give "next" of the page before, unchanged.');
  return [Number(place), due, Number(id)];
}
