import type { OrderPage } from './orders.schema.js';

export type OrderSummary = OrderPage['orders'][number];

export type SummaryRow = OrderSummary & { id: number };

export function summaryOf({ id: _id, ...summary }: SummaryRow): OrderSummary {
  return summary;
}

/** What a list says of an order, of `o`, its channel `ch`, its customer `c` and what is open of it, `l`. */
export const SUMMARY_COLUMNS = `
  o.id, o.channel, o.number, c.name as customer, o.placed_on as "placedOn", o.status, o.weight,
    coalesce(o.weight, ch.weight) as "countsAs", o.urgent, o.sends, coalesce(o.sends, ch.sends) as "sentAs", l.lines, l.open, l.ship_by as "shipBy"`;

/** Of the lines of `o`. */
export const OPEN_OF_ORDER = `
  select count(*) as lines, coalesce(sum(quantity - shipped - cancelled), 0)::bigint as open,
    min(ship_by) filter (where quantity > shipped + cancelled) as ship_by
  from order_line where order_id = o.id`;

/** The state $2, a part $3 of the number, the customer's name or a code, the channel $5; null asks for nothing. */
export const ASKED_FOR = `
  ($2::text is null or o.status = $2)
    and ($3::text is null or o.number ilike $3 or c.name ilike $3 or exists (
      select from order_line ol join item i on i.id = ol.item_id
      where ol.order_id = o.id and (ol.shop_code ilike $3 or i.code ilike $3)))
    and ($5::text is null or o.channel = $5)`;
