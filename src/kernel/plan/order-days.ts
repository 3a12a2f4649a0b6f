import { type Day, dayOf } from '../measure/day.js';
import type { SnapshotLine } from './snapshot.js';

/** By when a line has to go, and from when on it may: where its order is sent complete, with all the others of it. */
export interface OrderDays {
  needBy: Day;
  /** Minus infinity where any day will do. */
  notBefore: Day;
}

/** A line of an order that is sent complete goes no later than the first of it is due, and no sooner than the last may. */
export function orderDaysOf(lines: readonly SnapshotLine[]): (row: SnapshotLine) => OrderDays {
  const ofOrder = new Map<string, OrderDays>();
  for (const row of lines) {
    const order = orderSentComplete(row);
    if (order === null) continue;
    const { needBy, notBefore } = ofOrder.get(order) ?? ownDaysOf(row);
    const own = ownDaysOf(row);
    ofOrder.set(order, { needBy: Math.min(needBy, own.needBy), notBefore: Math.max(notBefore, own.notBefore) });
  }
  return (row) => {
    const order = orderSentComplete(row);
    return order === null ? ownDaysOf(row) : ofOrder.get(order)!;
  };
}

/** The order with which a line goes; null where it is not sent complete. */
export const orderSentComplete = ({ sends, order, key }: SnapshotLine): string | null =>
  sends === 'complete' ? (order ?? key) : null;

const ownDaysOf = ({ shipBy, notBefore, asideOn }: SnapshotLine): OrderDays => ({
  needBy: dayOf(shipBy),
  notBefore: Math.max(...[notBefore, asideOn].map((day) => (day ? dayOf(day) : Number.NEGATIVE_INFINITY))),
});
