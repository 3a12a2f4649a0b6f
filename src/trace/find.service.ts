import { Injectable } from '@nestjs/common';
import { Database } from '../platform/database.js';
import { likePart } from '../platform/like-part.js';

/** Something a code names, or nearly. */
export interface Found {
  kind: 'order' | 'lot' | 'batch' | 'item' | 'purchase-order' | 'supplier' | 'vessel' | 'customer' | 'complaint';
  code: string;
  /** What it is: the name of the item, whose order it is, what is complained about. */
  name: string;
  /** Of an order. */
  channel: string | null;
  /** The plan a batch belongs to. */
  runId: number | null;
  /** Of a customer, who has no code. */
  customerId: number | null;
  /** It is called exactly so, in whatever case. */
  isExact: boolean;
}

/** Of each kind. */
const FOUND_MAX = 20;

/** What a code that somebody reads on a bottle, a label or a letter stands for. */
@Injectable()
export class FindService {
  constructor(private readonly database: Database) {}

  /**
   * All that is called `text`, or has it in its code, its name, its customer or its reporter, the supplier's own number, or
   * a shop's code; what is called exactly so first.
   */
  find(text: string): Promise<Found[]> {
    const part = likePart(text);
    return this.database.read((tx) => tx.query<Found[]>(FIND, [text, part, FOUND_MAX]));
  }
}

const FIND = `
  select kind, code, name, channel, "runId", "customerId", "isExact" from (
    (select 1 as place, 'item' as kind, i.code, i.name, null as channel, null::bigint as "runId",
        null::bigint as "customerId", i.code = upper($1) as "isExact"
      from item i
      where i.code ilike $2 or i.name ilike $2
        or exists (select from shop_code s where s.item_id = i.id and s.code ilike $2)
      order by i.code <> upper($1), i.code limit $3)
    union all
    (select 2, 'lot', l.code, i.name, null, null, null, lower(l.code) = lower($1)
      from lot l join item i on i.id = l.item_id
      where l.code ilike $2 or l.supplier_lot ilike $2
      order by lower(l.code) <> lower($1), l.id desc limit $3)
    union all
    (select 3, 'batch', b.code, i.name, null, b.run_id, null, lower(b.code) = lower($1)
      from batch b join item i on i.id = b.item_id
      where b.code ilike $2
      order by lower(b.code) <> lower($1), b.id desc limit $3)
    union all
    (select 4, 'order', o.number, coalesce(c.name, ch.name), o.channel, null, null,
        lower($1) in (lower(o.number), o.channel || '/' || lower(o.number))
      from customer_order o join channel ch on ch.code = o.channel left join customer c on c.id = o.customer_id
      where o.number ilike $2 or c.name ilike $2 or o.channel || '/' || lower(o.number) = lower($1)
      order by lower(o.number) <> lower($1), o.id desc limit $3)
    union all
    (select 5, 'customer', c.name, '', null, null, c.id, lower(c.name) = lower($1)
      from customer c
      where c.name ilike $2
      order by lower(c.name) <> lower($1), c.name limit $3)
    union all
    (select 6, 'purchase-order', p.code, s.name, null, null, null, p.code = upper($1)
      from purchase_order p join supplier s on s.id = p.supplier_id
      where p.code ilike $2 or p.reference ilike $2 or s.name ilike $2
      order by p.code <> upper($1), p.id desc limit $3)
    union all
    (select 7, 'supplier', s.code, s.name, null, null, null, upper($1) in (s.code, upper(s.name))
      from supplier s
      where s.code ilike $2 or s.name ilike $2
      order by s.code <> upper($1), s.code limit $3)
    union all
    (select 8, 'vessel', v.code, v.kind, null, null, null, v.code = upper($1)
      from vessel v
      where v.code ilike $2 or v.kind ilike $2
      order by v.code <> upper($1), v.code limit $3)
    union all
    (select 9, 'complaint', k.code, k.reporter, null, null, null, k.code = upper($1)
      from complaint k
      where k.code ilike $2 or k.reporter ilike $2
      order by k.code <> upper($1), k.id desc limit $3)
  ) found order by not "isExact", place, code`;
