import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { FAMILIES } from '../catalog/item.entity.js';
import { dayOf, isoOf } from '../kernel/measure/day.js';
import { groupOrders, type SupplierOrder } from '../kernel/buy/order-groups.js';
import { comingMonday, proposalFrom } from '../planning/planning.service.js';
import { MOMENT, SnapshotService } from '../planning/snapshot.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { PurchaseOrderView } from '../purchasing/purchase-orders.schema.js';
import { PurchaseOrdersService } from '../purchasing/purchase-orders.service.js';
import { supplierByCode } from '../purchasing/suppliers.service.js';
import { type Known, readKnown } from './known.js';
import type { ItemOutlook, ReorderDraft, ReorderList, ReorderRow, SupplierOrderView } from './reorder.schema.js';
import { isBought, type Judged, judge, rowOf, toldForecast, type World, worldOf } from './rows.js';
import { byText } from '../kernel/measure/text-order.js';

const OUTLOOK_WEEKS = 13;

/** What to buy, how much, by which day. */
@Injectable()
export class ReorderService {
  /** The last list, by the moment it shows: whoever sees the same moment sees the same rows. */
  private kept: { moment: string; list: ReorderList } | null = null;

  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly snapshots: SnapshotService,
    private readonly orders: PurchaseOrdersService,
  ) {}

  /**
   * Every bought item that will fall under what should be kept before an order after the next look, or in the weeks after
   * that, could be here; fragrances first, then by family, the soonest last day first. And what to order together from
   * whom. What is answered is shared with others who ask at the same moment: it is read, never changed.
   */
  async list(): Promise<ReorderList> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const [asked] = await tx.query<{ moment: string | null }[]>(`select ${MOMENT} as moment`);
      const moment = asked!.moment === null ? null : `${asked!.moment} ${today}`;
      if (moment !== null && this.kept?.moment === moment) return this.kept.list;
      const list = listOf(await this.world(tx, today));
      if (moment !== null) this.kept = { moment, list };
      return list;
    });
  }

  /** One item: its row on the list, if it is on it, its use by week, and how every method did on it. Throws 404. */
  async one(code: string): Promise<ItemOutlook> {
    const today = await this.clock.today();
    const { rows } = await this.list();
    return this.database.read(async (tx) => {
      const world = await this.world(tx, today);
      const item = world.snapshot.items.find((row) => row.code === code && isBought(row));
      if (!item) throw notFound('bought item', code);
      const { forecast } = judge(item, world).asked;
      return {
        today,
        row: rows.find((row) => row.item === code) ?? null,
        history: world.known.history.get(code) ?? [],
        forecast: toldForecast(forecast, world.known.said.get(code)?.like ?? null),
        errors: forecast?.errors ?? [],
        weekly: forecast?.weekly.slice(0, OUTLOOK_WEEKS) ?? [],
      };
    });
  }

  /**
   * Drafts a purchase order of what is to be ordered from a supplier now (or of these items of the list), or adds it to the
   * draft there is. Throws a 422 problem for an unknown supplier, 409 when nothing has to be.
   */
  async draft(who: string, { supplier, items }: ReorderDraft): Promise<PurchaseOrderView> {
    await this.database.read((tx) => supplierByCode(tx, supplier));
    const { rows, orders } = await this.list();
    const due = new Set(items ?? orders.find((order) => order.supplier === supplier)?.lines.map(({ item }) => item));
    const lines = rows
      .filter((row) => row.supplier === supplier && due.has(row.item))
      .flatMap((row) =>
        row.packs.map(({ key, count, priceE4 }) => ({ pack: key.slice(supplier.length + 1), packs: count, priceE4 })),
      );
    if (lines.length === 0) throw conflict('nothing-to-order', `Nothing has to be ordered from ${supplier} now.`);
    return this.orders.addToDraft(who, { supplier, lines });
  }

  private async world(tx: EntityManager, today: string): Promise<World> {
    const taken = await this.snapshots.take(tx, today, comingMonday(today));
    return worldOf(taken.snapshot, proposalFrom(taken), await readKnown(tx, today));
  }
}

function listOf(world: World): ReorderList {
  const { snapshot, known } = world;
  const today = dayOf(snapshot.today);
  const { reviewDays } = known.settings;
  const judged = snapshot.items.filter(isBought).map((item) => judge(item, world));
  const wishes = judged.flatMap(({ item, answer }) =>
    answer.ways.length === 0 ? [] : [{ item: item.code, ways: answer.ways }],
  );
  const orders = groupOrders(wishes, known.suppliers, { today, reviewDays });
  const chosen = new Map(orders.flatMap((order) => order.lines.map((line) => [line.item, line.supplier] as const)));
  const now = new Set(
    orders.flatMap((order) => (order.orderBy < today + reviewDays ? order.lines.map(({ item }) => item) : [])),
  );
  const rows = judged
    .filter(({ answer }) => answer.ways.length > 0 || isSeenShort(answer))
    .map((one) => {
      const way = one.answer.ways.find(({ supplier }) => supplier === chosen.get(one.item.code)) ?? null;
      return rowOf(one, way, way === null || now.has(one.item.code), world);
    })
    .sort(byFamily);
  return { today: snapshot.today, reviewDays, rows, orders: orders.map((order) => toldOrder(order, known)) };
}

/** Runs short, but nobody sells it, or what is on the way comes late and is enough. */
function isSeenShort({ projection }: Judged['answer']): boolean {
  return projection.shortOn !== null || (projection.runsOutOn !== null && projection.wanted > 0);
}

function toldOrder(order: SupplierOrder, { suppliers, drafts }: Known): SupplierOrderView {
  const draft = drafts.get(order.supplier);
  return {
    ...order,
    name: suppliers.find(({ supplier }) => supplier === order.supplier)!.name,
    draft: draft?.code ?? null,
    orderBy: isoOf(order.orderBy),
    lines: order.lines.map(({ item, orderBy, early }) => ({
      item,
      orderBy: isoOf(orderBy),
      early,
      drafted: draft?.items.has(item) ?? false,
    })),
  };
}

const ORDER_OF_FAMILIES = new Map<string, number>(FAMILIES.map((family, index) => [family, index]));

function byFamily(a: ReorderRow, b: ReorderRow): number {
  const families = (ORDER_OF_FAMILIES.get(a.family) ?? 99) - (ORDER_OF_FAMILIES.get(b.family) ?? 99);
  return families || byText(a.orderBy ?? '', b.orderBy ?? '') || byText(a.item, b.item);
}
