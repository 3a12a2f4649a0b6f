import { dayOf, isoOf } from '../measure/day.js';
import { byText } from '../measure/text-order.js';
import type { Model } from './model.js';
import type { Shortfall } from './proposal.js';
import { priced } from './shortfall.js';
import type { Snapshot } from './snapshot.js';

/** Where a bought item would come from that nobody has ordered yet. */
const TO_BE_ORDERED = 'to be ordered';

const isBought = ({ items }: Model, item: string): boolean => items.get(item)!.row.kind === 'material';

/** Whether orders wait for it, and somebody could sell it. */
export const keepsOrdersBack = (model: Model, { item, hurts }: Shortfall): boolean =>
  isBought(model, item) && hurts.lines.length > 0;

/** The workshop of a model in which what is called short has been bought, and can be used on the day it is needed. */
export function withBought(model: Model, shortfalls: readonly Shortfall[]): Snapshot {
  const { snapshot, today } = model;
  const bought = shortfalls
    .filter(({ item }) => isBought(model, item))
    .map(({ item, quantity, needOn }) => ({
      key: `${TO_BE_ORDERED} ${item}`,
      item,
      free: quantity,
      day: isoOf(Math.max(today, dayOf(needOn) - snapshot.workshop.receivingDays)),
      expiresOn: null,
    }));
  return { ...snapshot, deliveries: [...snapshot.deliveries, ...bought] };
}

/** What is short in all: `first`, and what orders would lack even once that is bought. */
export function addShort(model: Model, first: readonly Shortfall[], more: readonly Shortfall[]): Shortfall[] {
  const byItem = new Map(first.map((shortfall) => [shortfall.item, shortfall]));
  for (const { item, quantity, needOn, hurts } of more) {
    const before = byItem.get(item);
    byItem.set(
      item,
      priced(model, item, {
        quantity: quantity + (before?.quantity ?? 0),
        needOn: Math.min(dayOf(needOn), dayOf(before?.needOn ?? needOn)),
        lines: [...new Set([...(before?.hurts.lines ?? []), ...hurts.lines])],
        batches: before?.hurts.batches ?? [],
      }),
    );
  }
  return [...byItem.values()].sort((a, b) => byText(a.needOn, b.needOn) || byText(a.item, b.item));
}
