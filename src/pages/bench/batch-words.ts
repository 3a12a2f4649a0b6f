import { restWord, count } from '../../ui/words.js';
import { longDay, shortDay } from '../../ui/dates.js';
import type { BatchView } from '../../bench/bench.schema.js';
import type { KeptSample } from '../../checks/samples.schema.js';
import { type GoodRange, goodRange } from '../../kernel/bench/good-range.js';
import { amountText, exactText } from '../../ui/amounts.js';
import { goodText } from '../../ui/good-range.js';
import { pageWorkshop } from '../../ui/page-workshop.js';
import { onHoldWords } from './elsewhere/on-hold.js';

type Line = BatchView['inputs'][number];
type Rests = Pick<BatchView, 'family' | 'vessel' | 'readyOn' | 'isPaused' | 'status' | 'onHold'>;

/** How far a batch is, in the maker's words, and how that is marked. */
export function stateOf(batch: Rests, today?: string): readonly [mark: 'good' | 'care' | 'bad', words: string] {
  if (batch.onHold.length > 0) return ['bad', onHoldWords(batch.onHold)];
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

/** The step of the scale of the workshop whose page this is, in milligrams. */
const scaleStep = (): number => pageWorkshop()?.scaleStep ?? 1;

/** What of a line is right, as its scale shows it. */
export const goodOf = ({ quantity, tolerance }: Line): GoodRange => goodRange(quantity, tolerance, scaleStep());

/** Whether a line has less in it than is good. */
export const isBelowGood = (line: Line): boolean => line.weighed < goodOf(line).least;

/** A target with what is good: "50 g: 49.5 to 50.5 g is good". */
export function targetText(line: Line): string {
  const { quantity, measure, tolerance } = line;
  const target = exactText(quantity, measure);
  return tolerance > 0 ? `${target}: ${goodText(goodOf(line), quantity, measure, scaleStep())}` : target;
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
