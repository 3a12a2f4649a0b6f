import type { Day } from '../measure/day.js';
import type { OrderAmount } from './order-amount.js';
import { mulDivCeil } from '../measure/ratio.js';
import { CARRYING_PERCENT_A_YEAR, DAYS_A_YEAR } from './reorder-point.js';
import { byText } from '../measure/text-order.js';

/** What a supplier asks for an order, in 1/10 000 of the currency unit. */
export interface Terms {
  supplier: string;
  /** The least worth of goods they send. */
  minimumE4: number;
  /** What one parcel costs. */
  freightE4: number;
  /** From this worth of goods on the parcel is free; null: never. */
  freightFreeFromE4: number | null;
}

/** One way to get an item: from one supplier, until a last day. */
export interface Way {
  supplier: string;
  orderBy: Day;
  amount: OrderAmount;
}

export interface Wish {
  item: string;
  /** At least one, each of another supplier. */
  ways: readonly Way[];
}

export interface GroupedLine extends Way {
  item: string;
  /** It could wait until its own day; it comes along because that is cheaper. */
  early: boolean;
}

export interface SupplierOrder {
  supplier: string;
  orderBy: Day;
  lines: GroupedLine[];
  goodsE4: number;
  freightE4: number;
  /** What is missing to the least they send; 0 when it is reached. */
  belowMinimumE4: number;
}

const ROUNDS = 5;

/** When the list was looked at, and how long until it is again. */
export interface Review {
  today: Day;
  /** Days until the list is looked at again. */
  reviewDays: number;
}

/**
 * From whom each item is bought, and which are ordered together: in-time ways first, then whatever makes goods, parcels
 * and what minimum orders add cheapest together, found by moving one item or a supplier's whole order at a time. Within a
 * supplier an item comes along with an order before its own day when the parcel, or the missing minimum, would cost more
 * than having it so much sooner. Orders come by their day, then supplier; lines by their own last day, then item.
 */
export function groupOrders(wishes: readonly Wish[], terms: readonly Terms[], review: Review): SupplierOrder[] {
  const termsOf = new Map(terms.map((row) => [row.supplier, row]));
  const chosen = chooseWays(wishes, termsOf, review.today);
  const bySupplier = new Map<string, GroupedLine[]>();
  for (const [index, way] of chosen.entries()) {
    const line = { ...way, item: wishes[index]!.item, early: false };
    const lines = bySupplier.get(way.supplier);
    if (lines) lines.push(line);
    else bySupplier.set(way.supplier, [line]);
  }
  return [...bySupplier]
    .flatMap(([supplier, lines]) => ordersOf(termsOf.get(supplier) ?? free(supplier), lines, review))
    .sort((a, b) => a.orderBy - b.orderBy || byText(a.supplier, b.supplier));
}

const free = (supplier: string): Terms => ({ supplier, minimumE4: 0, freightE4: 0, freightFreeFromE4: null });

/** What a parcel of so much goods costs. */
export function freightOf(terms: Pick<Terms, 'freightE4' | 'freightFreeFromE4'>, goodsE4: number): number {
  return terms.freightFreeFromE4 !== null && goodsE4 >= terms.freightFreeFromE4 ? 0 : terms.freightE4;
}

function chooseWays(wishes: readonly Wish[], termsOf: ReadonlyMap<string, Terms>, today: Day): Way[] {
  const open = wishes.map(({ ways }) => {
    const inTime = ways.filter(({ orderBy }) => orderBy >= today);
    return inTime.length > 0 ? inTime : ways;
  });
  const chosen = open.map((ways) => [...ways].sort(byCost)[0]!);
  const goods = new Map<string, number>();
  for (const way of chosen) goods.set(way.supplier, (goods.get(way.supplier) ?? 0) + way.amount.costE4);
  for (let round = 0; round < ROUNDS; round++) {
    const moved = moveItems(open, chosen, goods, termsOf) + moveSuppliers(open, chosen, goods, termsOf);
    if (moved === 0) break;
  }
  return chosen;
}

/** What an order of so much goods costs besides, a missing minimum counted as bought for nothing. */
function besides(termsOf: ReadonlyMap<string, Terms>, supplier: string, goodsE4: number): number {
  const terms = termsOf.get(supplier);
  if (!terms || goodsE4 === 0) return 0;
  return freightOf(terms, goodsE4) + Math.max(0, terms.minimumE4 - goodsE4);
}

function moveItems(
  open: readonly (readonly Way[])[],
  chosen: Way[],
  goods: Map<string, number>,
  termsOf: ReadonlyMap<string, Terms>,
): number {
  let moved = 0;
  for (const [index, ways] of open.entries()) {
    for (const way of ways) {
      const now = chosen[index]!;
      if (way.supplier === now.supplier) continue;
      if (costOfMoves([[now, way]], goods, termsOf) >= 0) continue;
      shift(goods, now, way);
      chosen[index] = way;
      moved++;
    }
  }
  return moved;
}

/** All of a supplier's items to the cheapest others that sell them. */
function moveSuppliers(
  open: readonly (readonly Way[])[],
  chosen: Way[],
  goods: Map<string, number>,
  termsOf: ReadonlyMap<string, Terms>,
): number {
  let moved = 0;
  for (const supplier of [...goods.keys()].sort(byText)) {
    const moves: { index: number; from: Way; to: Way }[] = [];
    for (const [index, from] of chosen.entries()) {
      if (from.supplier !== supplier) continue;
      const others = open[index]!.filter((way) => way.supplier !== supplier && (goods.get(way.supplier) ?? 0) > 0);
      const [to] = others.sort(byCost);
      if (to) moves.push({ index, from, to });
    }
    if (moves.length === 0) continue;
    if (
      costOfMoves(
        moves.map(({ from, to }) => [from, to]),
        goods,
        termsOf,
      ) >= 0
    )
      continue;
    for (const { index, from, to } of moves) {
      shift(goods, from, to);
      chosen[index] = to;
      moved++;
    }
  }
  return moved;
}

function costOfMoves(
  moves: readonly (readonly [Way, Way])[],
  goods: ReadonlyMap<string, number>,
  termsOf: ReadonlyMap<string, Terms>,
): number {
  const change = new Map<string, number>();
  for (const [from, to] of moves) shift(change, from, to);
  let costE4 = 0;
  for (const [supplier, differenceE4] of change) {
    const before = goods.get(supplier) ?? 0;
    costE4 += differenceE4 + besides(termsOf, supplier, before + differenceE4) - besides(termsOf, supplier, before);
  }
  return costE4;
}

function shift(goods: Map<string, number>, from: Way, to: Way): void {
  goods.set(from.supplier, (goods.get(from.supplier) ?? 0) - from.amount.costE4);
  goods.set(to.supplier, (goods.get(to.supplier) ?? 0) + to.amount.costE4);
}

/** Splits a supplier's items, by their last days, into the orders that are cheapest together: exact, by dynamic programming. */
function ordersOf(terms: Terms, wanted: GroupedLine[], review: Review): SupplierOrder[] {
  const lines = [...wanted].sort((a, b) => a.orderBy - b.orderBy || byText(a.item, b.item));
  // the cheapest way to order the lines from each on, and where its first order ends
  const costE4: number[] = [];
  const ends: number[] = [];
  costE4[lines.length] = 0;
  for (let from = lines.length - 1; from >= 0; from--) {
    const orderOn = Math.max(lines[from]!.orderBy, review.today);
    let goodsE4 = 0;
    let carryingE4 = 0;
    costE4[from] = Infinity;
    for (let end = from + 1; end <= lines.length; end++) {
      const line = lines[end - 1]!;
      goodsE4 += line.amount.costE4;
      // what is due before the next look has to be ordered now anyhow
      const daysEarly = line.orderBy < orderOn + review.reviewDays ? 0 : line.orderBy - orderOn;
      carryingE4 += mulDivCeil(line.amount.costE4, CARRYING_PERCENT_A_YEAR * daysEarly, 100 * DAYS_A_YEAR);
      const missingE4 = Math.max(0, terms.minimumE4 - goodsE4);
      const total = freightOf(terms, goodsE4) + missingE4 + carryingE4 + costE4[end]!;
      if (total <= costE4[from]!) {
        costE4[from] = total;
        ends[from] = end;
      }
    }
  }
  const orders: SupplierOrder[] = [];
  for (let from = 0; from < lines.length; from = ends[from]!)
    orders.push(orderOf(terms, lines.slice(from, ends[from]), review));
  return orders;
}

function orderOf(terms: Terms, lines: GroupedLine[], { today, reviewDays }: Review): SupplierOrder {
  const { orderBy } = lines[0]!;
  const goodsE4 = lines.reduce((sum, line) => sum + line.amount.costE4, 0);
  return {
    supplier: terms.supplier,
    orderBy,
    lines: lines.map((line) => ({ ...line, early: line.orderBy >= Math.max(orderBy, today) + reviewDays })),
    goodsE4,
    freightE4: freightOf(terms, goodsE4),
    belowMinimumE4: Math.max(0, terms.minimumE4 - goodsE4),
  };
}

const byCost = (a: Way, b: Way): number =>
  a.amount.costE4 - b.amount.costE4 || b.orderBy - a.orderBy || byText(a.supplier, b.supplier);
