import { dayOf, isoOf, weekdayOf } from '../kernel/measure/day.js';

/** Today if it is a Monday, else the next one. */
export function comingMonday(today: string): string {
  const day = dayOf(today);
  return isoOf(day + ((7 - weekdayOf(day)) % 7));
}
