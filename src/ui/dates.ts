import { dayOf, weekdayOf } from '../kernel/measure/day.js';
import { pageWorkshop } from './page-workshop.js';

/** In the order of ISO 8601, as bench minutes and order days count them. */
export const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'] as const;

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** `Mon 30 Nov` */
export function shortDay(iso: string): string {
  const [, month, day] = iso.split('-').map(Number);
  return `${WEEKDAYS[weekdayOf(dayOf(iso))]!.slice(0, 3)} ${day} ${MONTHS[month! - 1]}`;
}

/** `Mon 30 Nov 2026` */
export const longDay = (iso: string): string => `${shortDay(iso)} ${iso.slice(0, 4)}`;

/** The day, in ISO 8601, on which something happened where the workshop is; by UTC where no workshop is known. */
export const dayOfMoment = (at: string | Date): string => inWorkshop(at).slice(0, 10);

/** `Mon 30 Nov 2026, 14:05`, as a clock in the workshop showed it; it says UTC where no workshop is known. */
export function momentText(at: string | Date): string {
  const [day, time] = inWorkshop(at).split(', ');
  return `${longDay(day!)}, ${time}${pageWorkshop() ? '' : ' UTC'}`;
}

/** `2026-11-30, 14:05` */
function inWorkshop(at: string | Date): string {
  const timeZone = pageWorkshop()?.timeZone ?? 'UTC';
  // Sweden writes days as ISO 8601 does
  let clock = clocks.get(timeZone);
  if (!clock) {
    clock = new Intl.DateTimeFormat('sv-SE', { timeZone, dateStyle: 'short', timeStyle: 'short' });
    clocks.set(timeZone, clock);
  }
  return clock.format(new Date(at)).replace(' ', ', ');
}

const clocks = new Map<string, Intl.DateTimeFormat>();
