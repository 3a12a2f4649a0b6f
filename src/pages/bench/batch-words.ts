import { restWord, count } from '../../ui/words.js';
import { longDay, shortDay } from '../../ui/dates.js';
import type { BatchView } from '../../bench/bench.schema.js';
import type { KeptSample } from '../../checks/samples.schema.js';
import { amountText, exactText } from '../../ui/amounts.js';

type Line = BatchView['inputs'][number];
type Rests = Pick<BatchView, 'family' | 'vessel' | 'readyOn' | 'isPaused' | 'status'>;

/** How far a batch is, in the maker's words, and how that is marked. */
export function stateOf(batch: Rests, today?: string): readonly [mark: 'good' | 'care' | 'bad', words: string] {
  if (batch.isPaused) return ['care', 'paused'];
  switch (batch.status) {
    case 'reserved':
      return ['good', 'lots set aside'];
    case 'weighed':
      return ['good', 'weighed'];
    case 'resting':
      return today !== undefined && batch.readyOn <= today
        ? ['care', 'to check and release']
        : ['good', `${restWord(batch.family, batch.vessel !== null)} until ${shortDay(batch.readyOn)}`];
    case 'rejected':
      return ['bad', 'rejected'];
    case 'cancelled':
      return ['bad', 'cancelled'];
    default:
      return ['good', batch.status];
  }
}

/** A target with what it may depart by: "50 g, give or take 0.5 g". */
export function targetText({ quantity, measure, tolerance }: Line): string {
  const target = exactText(quantity, measure);
  return tolerance > 0 ? `${target}, give or take ${exactText(tolerance, measure)}` : target;
}

/** Parts per billion in percent to two places. */
export const percentOf = (ppb: number): string => `${(ppb / 10_000_000).toFixed(2)} %`;

export const leftOf = (line: Line): number => Math.max(0, line.quantity - line.weighed);

/** What comes of a batch: an amount of a bulk, so many pieces of a product. */
export const outputText = (quantity: number, measure: Line['measure']): string =>
  measure === 'counted' ? count(quantity, 'piece') : amountText(quantity, measure);

/** "30 g of lot 26329-002, at sample shelf 1: kept by Wren on Wed 25 Nov 2026, until Sat 25 Nov 2028" */
export function sampleText(sample: KeptSample): string {
  const { measure, quantity, lot, place, keptOn, keptBy, discardOn, discardedOn, discardedBy } = sample;
  const end = discardedOn === null ? '' : `, thrown away by ${discardedBy} on ${longDay(discardedOn)}`;
  return `${outputText(quantity, measure)} of lot ${lot}, at ${place}: kept by ${keptBy} on ${longDay(keptOn)}, until ${longDay(discardOn)}${end}`;
}
