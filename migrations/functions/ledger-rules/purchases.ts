import type { LedgerRule } from './rule.js';

/** What purchase orders promise. */
export const PURCHASE_RULES: LedgerRule[] = [
  {
    // what was confirmed is expected: the same item and pack, as much as the packs hold
    rule: 'purchase expected',
    rows: 'purchase_part',
    faults: `select o.code || ' line ' || l.position, concat_ws(' ', dl.item_id, dl.pack_id, dl.packs, dl.quantity),
        concat_ws(' ', p.item_id, l.pack_id, x.packs, x.packs * p.size)
      from purchase_part x join purchase_line l on l.id = x.purchase_line_id join pack p on p.id = l.pack_id
        join purchase_order o on o.id = l.purchase_order_id left join delivery_line dl on dl.id = x.delivery_line_id
      where (dl.item_id, dl.pack_id, dl.packs, dl.quantity) is distinct from (p.item_id, l.pack_id, x.packs, x.packs * p.size)`,
  },
  {
    // goods at the confirmed prices and the freight: not a part of a cent more or less
    rule: 'landed cost',
    rows: `purchase_order where exists (select from purchase_line l join purchase_part x on x.purchase_line_id = l.id
        where l.purchase_order_id = purchase_order.id)`,
    faults: `select o.code, s.cost_e4::text, (s.goods_e4 + o.freight_e4)::text
      from purchase_order o join (
        select l.purchase_order_id, sum(dl.cost_e4) as cost_e4, sum(x.packs * coalesce(l.confirmed_price_e4, l.price_e4)) as goods_e4
        from purchase_line l join purchase_part x on x.purchase_line_id = l.id
          join delivery_line dl on dl.id = x.delivery_line_id group by 1) s on s.purchase_order_id = o.id
      where s.cost_e4 <> s.goods_e4 + o.freight_e4`,
  },
];
