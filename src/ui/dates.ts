import { dayOf, weekdayOf } from '../kernel/measure/day.js';

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
