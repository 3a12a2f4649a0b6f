import type { EntityManager } from 'typeorm';
import { dayOf, isoOf, weekdayOf } from '../kernel/measure/day.js';
import type { Offer } from '../kernel/buy/order-amount.js';
import type { Terms } from '../kernel/buy/order-groups.js';
import type { Service } from '../kernel/buy/reorder-point.js';

/** Years of use that are looked at. */
const HISTORY_WEEKS = 156;

export interface Settings {
  serviceKind: 'fill-rate' | 'cycle' | 'none';
  servicePpb: number;
  reviewDays: number;
  orderCostE4: number;
  coverMostDays: number;
}

/** Until somebody says otherwise: what the columns default to. */
export const DEFAULTS: Settings = {
  serviceKind: 'fill-rate',
  servicePpb: 980_000_000,
  reviewDays: 7,
  orderCostE4: 20_000,
  coverMostDays: 56,
};

export interface Rule {
  serviceKind: Settings['serviceKind'] | null;
  servicePpb: number | null;
  trialDays: number;
}

/** What is said of an item's use: that it is used like another, or how much of it. */
export interface SaidOf {
  like: string | null;
  /** Of what the other uses. */
  likePpb: number | null;
  /** In the item's base unit. */
  quantity: number | null;
  per: 'week' | 'month' | null;
  /** Null: all of its own use counts. */
  from: string | null;
}

/** Packs of one item that one supplier sells, with what is known of the supplier. */
export interface Sold {
  supplier: string;
  offers: Offer[];
  /** As stated; the longest of the packs. */
  leadDays: number;
  orderDays: number[];
  /** What past deliveries of the item took, oldest first. */
  tookDays: number[];
}

export interface SupplierTerms extends Terms {
  name: string;
  orderDays: number[];
}

/** All that reordering asks of the database beyond what a plan is made from, each read in one statement for all items. */
export interface Known {
  settings: Settings;
  rules: Map<string, Rule>;
  said: Map<string, SaidOf>;
  names: Map<string, { name: string; family: string; measure: 'weighed' | 'counted' }>;
  sold: Map<string, Sold[]>;
  suppliers: SupplierTerms[];
  /** Use of whole weeks, oldest first, the last one ended on Sunday. */
  history: Map<string, number[]>;
  /** Asked for and not yet confirmed, by the day it is likely to come. */
  ordered: Map<string, { day: number; quantity: number }[]>;
  /** Open drafts of purchase orders and the items on them, by supplier. */
  drafts: Map<string, { code: string; items: Set<string> }>;
  /** Set aside on lots and deliveries, by the day it is needed. */
  reserved: Map<string, { day: number; quantity: number }[]>;
}

export async function readKnown(tx: EntityManager, today: string): Promise<Known> {
  const [settings] = await tx.query<Settings[]>(`
    select service_kind as "serviceKind", service_ppb as "servicePpb", review_days as "reviewDays",
      order_cost_e4 as "orderCostE4", cover_most_days as "coverMostDays" from reorder_setting`);
  const rules = await tx.query<(Rule & { item: string })[]>(`
    select i.code as item, r.service_kind as "serviceKind", r.service_ppb as "servicePpb", r.trial_days as "trialDays"
    from reorder_rule r join item i on i.id = r.item_id`);
  const said = await tx.query<(SaidOf & { item: string })[]>(`
    select i.code as item, o.code as like, s.like_ppb as "likePpb", s.quantity, s.per, s.from_day::text as "from"
    from said_use s join item i on i.id = s.item_id left join item o on o.id = s.like_id`);
  const names = await tx.query<{ code: string; name: string; family: string; measure: 'weighed' | 'counted' }[]>(
    `select code, name, family, measure from item where kind = 'material'`,
  );
  const suppliers = await tx.query<SupplierTerms[]>(`
    select code as supplier, name, order_days as "orderDays", minimum_order_e4 as "minimumE4", freight_e4 as "freightE4",
      freight_free_from_e4 as "freightFreeFromE4" from supplier order by code`);
  return {
    settings: settings ?? DEFAULTS,
    rules: new Map(rules.map(({ item, ...rule }) => [item, rule])),
    said: new Map(said.map(({ item, ...row }) => [item, row])),
    names: new Map(names.map(({ code, ...named }) => [code, named])),
    sold: await readSold(tx, suppliers),
    suppliers,
    history: await readHistory(tx, today),
    ordered: await readOrdered(tx, today),
    drafts: await readDrafts(tx),
    reserved: await readReserved(tx),
  };
}

async function readSold(tx: EntityManager, suppliers: readonly SupplierTerms[]): Promise<Map<string, Sold[]>> {
  const packs = await tx.query<(Offer & { item: string; supplier: string; leadDays: number })[]>(`
    select i.code as item, s.code as supplier, s.code || '/' || p.code as key, p.size, p.price_e4 as "priceE4",
      p.least_packs as "leastPacks", p.lead_days as "leadDays", coalesce((
        select json_agg(json_build_object('fromPacks', b.from_packs, 'priceE4', b.price_e4) order by b.from_packs)
        from pack_break b where b.pack_id = p.id), '[]') as breaks
    from pack p join supplier s on s.id = p.supplier_id join item i on i.id = p.item_id
    where not p.withdrawn order by i.code, s.code, p.code`);
  const took = await tx.query<{ item: string; supplier: string; days: number[] }[]>(`
    select i.code as item, s.code as supplier, array_agg(l.days order by l.last_on, l.line_id) as days
    from lead_time l join item i on i.id = l.item_id join supplier s on s.id = l.supplier_id group by i.code, s.code`);
  const tookBy = new Map(took.map(({ item, supplier, days }) => [`${supplier}/${item}`, days]));
  const orderDays = new Map(suppliers.map((row) => [row.supplier, row.orderDays]));
  const sold = new Map<string, Sold[]>();
  for (const { item, supplier, leadDays, ...offer } of packs) {
    const ofItem = sold.get(item) ?? [];
    sold.set(item, ofItem);
    const known = ofItem.at(-1);
    if (known?.supplier === supplier) {
      known.offers.push(offer);
      known.leadDays = Math.max(known.leadDays, leadDays);
    } else {
      const tookDays = tookBy.get(`${supplier}/${item}`) ?? [];
      ofItem.push({ supplier, offers: [offer], leadDays, orderDays: orderDays.get(supplier) ?? [], tookDays });
    }
  }
  return sold;
}

/** What counts as use. */
const USE = `('consumption', 'shipment', 'own-use', 'trial', 'sample')`;

async function readHistory(tx: EntityManager, today: string): Promise<Map<string, number[]>> {
  const monday = isoOf(dayOf(today) - weekdayOf(dayOf(today)));
  const rows = await tx.query<{ item: string; weeks: number[]; used: number[] }[]>(
    `select i.code as item, array_agg(u.week) as weeks, array_agg(u.used) as used
     from (
       select l.item_id, ($1::date - 1 - m.done_on) / 7 as week, -sum(m.quantity)::bigint as used
       from standing_movement m join lot l on l.id = m.lot_id
       where m.cause in ${USE} and m.done_on < $1::date and m.done_on >= $1::date - ${HISTORY_WEEKS * 7}
       group by 1, 2
     ) u join item i on i.id = u.item_id where i.kind = 'material' group by i.code`,
    [monday],
  );
  return new Map(rows.map(({ item, weeks, used }) => [item, inOrder(weeks, used)]));
}

/** From weeks counted backwards to use by week, oldest first, up to the last whole week. */
function inOrder(weeks: readonly number[], used: readonly number[]): number[] {
  const oldest = Math.max(...weeks);
  const series = Array.from({ length: oldest + 1 }, () => 0);
  for (const [index, week] of weeks.entries()) series[oldest - week] = Math.max(0, used[index]!);
  return series;
}

/** A sent order comes after its pack's stated lead time, or today where that is past; confirmed, it is a delivery. */
async function readOrdered(
  tx: EntityManager,
  today: string,
): Promise<Map<string, { day: number; quantity: number }[]>> {
  const rows = await tx.query<{ item: string; day: string; quantity: number }[]>(
    `select i.code as item, greatest($1::date, o.sent_on + p.lead_days)::text as day, l.packs * p.size as quantity
     from purchase_order o join purchase_line l on l.purchase_order_id = o.id join pack p on p.id = l.pack_id
       join item i on i.id = p.item_id
     where o.status = 'sent' order by i.code, 2`,
    [today],
  );
  const byItem = new Map<string, { day: number; quantity: number }[]>();
  for (const { item, day, quantity } of rows)
    byItem.set(item, [...(byItem.get(item) ?? []), { day: dayOf(day), quantity }]);
  return byItem;
}

async function readDrafts(tx: EntityManager): Promise<Known['drafts']> {
  const rows = await tx.query<{ supplier: string; code: string; items: string[] }[]>(`
    select distinct on (s.code) s.code as supplier, o.code, array(
      select i.code from purchase_line l join pack p on p.id = l.pack_id join item i on i.id = p.item_id
      where l.purchase_order_id = o.id) as items
    from purchase_order o join supplier s on s.id = o.supplier_id where o.status = 'draft' order by s.code, o.id desc`);
  return new Map(rows.map(({ supplier, code, items }) => [supplier, { code, items: new Set(items) }]));
}

async function readReserved(tx: EntityManager): Promise<Map<string, { day: number; quantity: number }[]>> {
  const rows = await tx.query<{ item: string; days: string[]; quantities: number[] }[]>(`
    select i.code as item, array_agg(r.need_on::text) as days, array_agg(r.quantity) as quantities
    from (
      select coalesce(l.item_id, dl.item_id) as item_id, r.need_on, sum(r.open)::bigint as quantity
      from reservation r left join lot l on l.id = r.lot_id left join delivery_line dl on dl.id = r.delivery_line_id
      where r.open > 0 and r.batch_id is null group by 1, 2
    ) r join item i on i.id = r.item_id where i.kind = 'material' group by i.code`);
  return new Map(
    rows.map(({ item, days, quantities }) => [
      item,
      days.map((day, index) => ({ day: dayOf(day), quantity: quantities[index]! })),
    ]),
  );
}

/** What is wanted of an item: its own rule, else the workshop's. Null where nothing is to be kept for safety. */
export function serviceOf({ settings, rules }: Known, item: string): Service | null {
  const rule = rules.get(item);
  const kind = rule?.serviceKind ?? settings.serviceKind;
  const ppb = rule?.servicePpb ?? settings.servicePpb;
  return kind === 'none' ? null : { kind, share: ppb / 1e9 };
}
