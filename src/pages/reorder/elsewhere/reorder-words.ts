import { addDays } from '../../../kernel/measure/day.js';
import { shortDay } from '../../../ui/dates.js';
import type { ReorderList, ReorderRow } from '../../../reorder/reorder.schema.js';
import { amountText } from '../../../ui/amounts.js';
import { count } from '../../../ui/words.js';

const NAMED_MAX = 2;

/** `by Mon 30 Nov`, `today`, `by Wed 18 Nov, which is past` */
export const byDay = (day: string, today: string): string =>
  day === today ? 'today' : `by ${shortDay(day)}${day < today ? ', which is past' : ''}`;

/** Whether its own last day is after the next look: then it is ordered only along with others. */
export const comesAlong = ({ due, orderBy }: ReorderRow, { today, reviewDays }: ReorderList): boolean =>
  due && orderBy !== null && orderBy >= addDays(today, reviewDays);

/** What happens if it is not ordered, in one sentence each. */
export function ifNotOrdered(row: ReorderRow, today: string): string[] {
  const { needOn, orders, batches } = row.ifNot;
  const told: string[] = [];
  if (needOn !== null) {
    const hit = [
      ...(orders.length > 0 ? [`${count(orders.length, 'order line')} (${named(orders.map(orderWord))})`] : []),
      ...(batches.length > 0
        ? [`${count(batches.length, 'batch', 'batches')} (${named(batches.map(({ key }) => key))})`]
        : []),
    ];
    told.push(`From ${shortDay(needOn)} it is missing${hit.length > 0 ? ` for ${hit.join(' and ')}` : ''}.`);
  } else if (row.shortOn !== null)
    told.push(
      `${row.forecast?.said ? 'Going by what is expected' : 'Going by past use'} it is short from ${shortDay(row.shortOn)}; no order waits for it yet.`,
    );
  else if (row.runsOutOn !== null) told.push(underKeptWords(row, row.runsOutOn, today));
  if (row.lost > 0) told.push(`${amountText(row.lost, row.measure)} of it expire unused.`);
  return told;
}

/** That less is left than should be, and whether what is on the way puts that right again. */
function underKeptWords({ keep, measure, freeByDay, onTheWay }: ReorderRow, on: string, today: string): string {
  const kept = `the ${amountText(keep, measure)} kept for weeks that take more`;
  const again = freeByDay.findIndex((free, day) => addDays(today, day) > on && free >= keep);
  return onTheWay > 0 && again >= 0
    ? `From ${shortDay(on)} until ${shortDay(addDays(today, again))}, when what is on the way can be used, less is left than ${kept}.`
    : `From ${shortDay(on)} less is left than ${kept}.`;
}

const orderWord = ({ key, shipBy }: ReorderRow['ifNot']['orders'][number]): string =>
  `${key.split('/').slice(0, 2).join(' ')}, ships ${shortDay(shipBy)}`;

function named(words: readonly string[]): string {
  const shown = words.slice(0, NAMED_MAX).join('; ');
  return words.length > NAMED_MAX ? `${shown}; and ${words.length - NAMED_MAX} more` : shown;
}

const METHOD_WORDS: Record<NonNullable<ReorderRow['forecast']>['method'], string> = {
  mean: 'the mean of all weeks',
  smoothing: 'smoothing, recent weeks counting more',
  'rare-use': 'how much and how often it is used, taken apart',
  'yearly-wave': 'one rise and fall a year',
  'same-weeks-last-year': 'the same weeks last year',
};

type Expected = Pick<ReorderRow, 'forecast' | 'measure'>;

/** What speaks for what is expected and how far, or by which method past use is carried on; and how far that was wrong. */
export function forecastWords({ forecast, measure }: Expected): string {
  if (!forecast)
    return 'There is too little past use to go by and nothing is said of it, so only what is planned counts, and nothing is kept for what strays.';
  const amount = (quantity: number): string => amountText(Math.round(quantity), measure);
  const { said, weeksOfHistory } = forecast;
  const told = said
    ? saidWords(said, weeksOfHistory, amount, amount(forecast.weekly))
    : `Past use of ${count(weeksOfHistory, 'week')} leads one to expect ${amount(forecast.weekly)} next week, by ${METHOD_WORDS[forecast.method]}.`;
  if (forecast.rmse === null || forecast.naiveRmse === null)
    return said ? told : `${told} That is too short to try which method fits.`;
  const sums = forecast.horizonWeeks === 1 ? 'a week' : `${forecast.horizonWeeks} weeks together`;
  const yearAgo =
    forecast.seasonalNaiveRmse === null
      ? ''
      : `, by the same weeks a year before ${amount(forecast.seasonalNaiveRmse)}`;
  const method = said ? `Its own use, by ${METHOD_WORDS[forecast.method]}, was tried` : 'Tried';
  return `${told} ${method} on the past ${count(forecast.origins, 'time')}${said ? ' and' : ', it'} missed the use of ${sums} by ${amount(forecast.rmse)}; going by the last week alone by ${amount(forecast.naiveRmse)}${yearAgo}.`;
}

/** `From the estimate: 12 g a week; its own 3 weeks count for 27 %. Together that is 11.2 g next week.` */
function saidWords(
  said: NonNullable<NonNullable<ReorderRow['forecast']>['said']>,
  ownWeeks: number,
  amount: (quantity: number) => string,
  together: string,
): string {
  const by = {
    like: `From what is used of ${said.like}`,
    estimate: 'From the estimate',
    planned: 'From what is planned, since nothing else is known of it',
  }[said.by];
  const one = `${by}: ${amount(said.weekly)} ${said.by === 'planned' ? 'a week' : 'next week'}`;
  if (ownWeeks === 0) return `${one}; no week of its own counts yet.`;
  const own = ownWeeks === 1 ? 'its own week counts' : `its own ${ownWeeks} weeks count`;
  return `${one}; ${own} for ${Math.round(said.ownShare * 100)}\u00a0%. Together that is ${together}.`;
}

/** Why the amount is not simply what is wanted. */
export function limitWords(row: ReorderRow): string | null {
  if (row.limitedBy === 'shelf-life') return 'No more, since it would expire before it is used.';
  if (row.limitedBy === 'smallest-pack')
    return `No smaller pack is sold: about ${amountText(row.wasted, row.measure)} of it will expire unused.`;
  return null;
}
