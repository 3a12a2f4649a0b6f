import { dayOf, weekdayOf } from '../kernel/measure/day.js';
import { dayInZone } from '../platform/zone.js';
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
export const dayOfMoment = (at: string | Date): string => clockHere().dayOf(new Date(at).getTime());

/** `Mon 30 Nov 2026, 14:05`, as a clock in the workshop showed it; it says UTC where no workshop is known. */
export function momentText(at: string | Date): string {
  const time = clockHere().time.format(new Date(at));
  return `${longDay(dayOfMoment(at))}, ${time}${pageWorkshop() ? '' : ' UTC'}`;
}

interface ZoneClock {
  dayOf: (ms: number) => string;
  /** `14:05` */
  time: Intl.DateTimeFormat;
}

const clocks = new Map<string, ZoneClock>();

function clockHere(): ZoneClock {
  const timeZone = pageWorkshop()?.timeZone ?? 'UTC';
  let clock = clocks.get(timeZone);
  if (!clock) {
    const time = new Intl.DateTimeFormat('en', { timeZone, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
    clocks.set(timeZone, (clock = { dayOf: dayInZone(timeZone), time }));
  }
  return clock;
}
