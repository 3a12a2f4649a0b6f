import type { BatchView } from '../../bench/bench.schema.js';
import { type WeighingCreate, weighingCreate } from '../../bench/bench.schema.js';
import { unitField, unitSent } from '../../ui/amount-field.js';
import { bodyOf, type Sent, written } from '../../ui/form.js';
import { type WeightUnit, weightUnit } from '../../ui/good-range.js';
import { pageWorkshop } from '../../ui/page-workshop.js';
import { scaleWeight } from './scale-text.js';
import type { Refused } from './sheet-props.js';

type Line = BatchView['inputs'][number];

/** Questions that the same form sent once more answers; a further portion is said in a field of its own. */
const ANSWERED_BY_REPEATING = ['off', 'found'] as const;

/** The unit printed beside the field: the one that was there when it was typed in, else that of the target. */
export const unitOf = (line: Line, sent: Sent | undefined): WeightUnit =>
  sent?.[unitField('quantity')] === undefined ? weightUnit(line.quantity) : unitSent(sent, 'quantity');

/** A weight as it was sent, with its unit. */
export const weightSent = (sent: Sent, name: string): string =>
  scaleWeight(written(sent, name), `/${name}`, {
    unit: unitSent(sent, name),
    timeZone: pageWorkshop()?.timeZone ?? 'UTC',
  });

/** Fields another value of which makes it another weighing, about which nothing was asked yet. */
const whatIsTyped = (sent: Sent): string =>
  JSON.stringify(
    ['position', 'lot', 'aside', 'quantity', unitField('quantity'), 'isAll'].map((name) => sent[name] ?? ''),
  );

/** What the form that is shown again sends back, so that the same sent once more is meant; '' where nothing is asked so. */
export function answersTo({ asks, sent }: Pick<Refused, 'asks' | 'sent'>): string {
  const repeated = ANSWERED_BY_REPEATING.filter((answer) => asks.includes(answer));
  return repeated.length === 0 ? '' : `${repeated.join(' ')} ${whatIsTyped(sent)}`;
}

/** What was sent of a line, as the API takes it. */
export function weighingSent(line: Line | undefined, sent: Sent): WeighingCreate {
  const isMeant = (answer: (typeof ANSWERED_BY_REPEATING)[number]): boolean => {
    const [answers, typed] = /^([a-z ]+) (\[.*)$/s.exec(sent['asked'] ?? '')?.slice(1) ?? [];
    return typed === whatIsTyped(sent) && answers!.split(' ').includes(answer);
  };
  return bodyOf(weighingCreate, {
    position: Number(sent['position']),
    lot: written(sent, 'lot') ?? written(sent, 'aside'),
    quantity: line?.measure === 'weighed' ? weightSent(sent, 'quantity') : (written(sent, 'quantity') ?? ''),
    isAll: sent['isAll'] === 'yes',
    further: sent['further'] === 'yes',
    off: isMeant('off'),
    found: isMeant('found'),
  });
}
