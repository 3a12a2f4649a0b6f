import { dayOf, weekdayOf } from '../kernel/day.js';
import type { LineCover } from '../kernel/proposal.js';

const WEEKDAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Why an order or a batch is late or not covered, in the maker's words. */
export const REASONS: Record<NonNullable<LineCover['because']>, string> = {
  'bench-full': 'the bench is full',
  'no-vessel': 'no vessel is free',
  delivery: 'waits for a delivery',
  rest: 'cannot rest long enough',
  source: 'waits for its bulk',
  short: 'something is short',
  'no-formula': 'has no formula',
};

/** What resting is called: a spray matures, a candle cures, soap sets in its mould and then cures. */
export function restWord(family: string | undefined, inVessel: boolean): 'matures' | 'cures' | 'sets' {
  if (family === 'soap' && inVessel) return 'sets';
  return family === 'candle' || family === 'soap' ? 'cures' : 'matures';
}

/** `Mon 30 Nov` */
export function shortDay(iso: string): string {
  const [, month, day] = iso.split('-').map(Number);
  return `${WEEKDAYS[weekdayOf(dayOf(iso))]} ${day} ${MONTHS[month! - 1]}`;
}

/** `Mon 30 Nov 2026` */
export const longDay = (iso: string): string => `${shortDay(iso)} ${iso.slice(0, 4)}`;
