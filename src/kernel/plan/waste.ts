import { mulDivCeil } from '../measure/ratio.js';
import { keptBack } from './line-waits.js';
import type { Model, ModelLot } from './model.js';
import type { Planned } from './planned.js';

/** A lot that ends while the plan goes on, and what the plan leaves of it. */
export interface EndingLot extends ModelLot {
  left: number;
}

/** Lots that end before the last order is to go, and of which not all is used. */
export function endingLots(model: Model, planned: Planned): EndingLot[] {
  const { netted, shelf } = planned;
  if (model.ending.length === 0) return [];
  const ending = new Map(model.ending.map((lot) => [lot.row.code, { ...lot, left: lot.row.free }]));
  const use = (taken: readonly { from: string; key: string; quantity: number }[]): void => {
    for (const { from, key, quantity } of taken) {
      const lot = from === 'lot' ? ending.get(key) : undefined;
      if (lot) lot.left -= quantity;
    }
  };
  for (const job of netted.jobs)
    if (!shelf.short.has(job)) for (const input of job.inputs) use(shelf.inputs.get(input)?.taken ?? []);
  const back = keptBack(model, planned);
  for (const line of netted.lines) if (!back.has(line)) use([...line.taken, ...(shelf.lines.get(line)?.taken ?? [])]);
  return [...ending.values()].filter(({ left }) => left > 0);
}

/** What lots are worth that end unused, in 1/10 000 of the currency unit. */
export const wasteOf = (model: Model, planned: Planned): number =>
  endingLots(model, planned).reduce((sum, { row, left }) => sum + mulDivCeil(row.valueE4, left, row.onHand), 0);
