import type { EntityManager } from 'typeorm';
import { FAMILIES } from '../catalog/item.entity.js';
import { dayOf, isoOf } from '../kernel/measure/day.js';
import { byText } from '../kernel/measure/text-order.js';
import { groupOrders, type SupplierOrder } from '../kernel/buy/order-groups.js';
import { comingMonday } from '../planning/coming-monday.js';
import { proposalFrom } from '../planning/proposals.js';
import { MOMENT } from '../planning/snapshot.service.js';
import type { Means, Question } from '../planning/threads/question.js';
import { notFound } from '../platform/problem.js';
import { type Known, readKnown } from './known.js';
import type { ItemOutlook, ReorderList, ReorderRow, SupplierOrderView } from './reorder.schema.js';
import { isBought, type Judged, judge, rowOf, toldForecast, type World, worldOf } from './rows.js';

const OUTLOOK_WEEKS = 13;

/** The list, and the moment it shows; null where nobody else can see the same. */
export const REORDER_LIST: Question<{ today: string }, { moment: string | null; list: ReorderList }> = {
  name: 'reorder list',
  answer: ({ database, snapshots }, { today }) =>
    database.read(async (tx) => {
      const [asked] = await tx.query<{ moment: string | null }[]>(`select ${MOMENT} as moment`);
      return { moment: asked!.moment, list: listOf(await readWorld(tx, snapshots, today)) };
    }),
};

/** One item beside the list: its use by week, and how every method did on it. */
export const ITEM_OUTLOOK: Question<{ today: string; code: string }, Omit<ItemOutlook, 'today' | 'row'>> = {
  name: 'item outlook',
  answer: ({ database, snapshots }, { today, code }) =>
    database.read(async (tx) => {
      const world = await readWorld(tx, snapshots, today);
      const item = world.snapshot.items.find((row) => row.code === code && isBought(row));
      if (!item) throw notFound('bought item', code);
      const { forecast } = judge(item, world).asked;
      return {
        history: world.known.history.get(code) ?? [],
        forecast: toldForecast(forecast, world.known.said.get(code)?.like ?? null),
        errors: forecast?.errors ?? [],
        weekly: forecast?.weekly.slice(0, OUTLOOK_WEEKS) ?? [],
      };
    }),
};

async function readWorld(tx: EntityManager, snapshots: Means['snapshots'], today: string): Promise<World> {
  const taken = await snapshots.take(tx, today, comingMonday(today));
  return worldOf(taken.snapshot, proposalFrom(taken), await readKnown(tx, today));
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
