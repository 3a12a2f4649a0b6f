import { dayOf } from '../kernel/measure/day.js';

/** The order of day and month in dates such as 3/4/2026, where the file does not use ISO 8601. */
export const DATE_ORDERS = ['dmy', 'mdy'] as const;
export type DateOrder = (typeof DATE_ORDERS)[number];

/** A calendar day, or why the text is none, as the end of a sentence that begins with the text. */
export type DayReading = { day: string } | { reason: string };

const YEAR_MIN = 1970;
const YEAR_MAX = 2199;

const ISO_DAY = /^(\d{4})-(\d{2})-(\d{2})(?:[T ](.+))?$/i;
const BASIC_DAY = /^(\d{4})(\d{2})(\d{2})$/;
const YEAR_FIRST = /^(\d{4})([/.])(\d{1,2})\2(\d{1,2})(?: (.+))?$/;
const YEAR_LAST = /^(\d{1,2})([/.-])(\d{1,2})\2(\d{2}|\d{4})(?:,? (.+))?$/;
const TIME =
  /^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d{1,9})?)?(?: ?([ap])\.?m\.?)?(?: ?(z|utc|gmt|[+-]\d{2}:?(?:\d{2})?))?$/i;

/**
 * Reads a day out of the cell of an order file: ISO 8601 (2026-03-02, 2026-03-02T10:20:00Z, 2026-03-02 10:20 +0100), or
 * day, month and year in the `order` the request stated. Without a stated order a date is read only where it can mean
 * one day: 25/12/2026, but not 3/4/2026 and not a year of two digits. A time with a zone is turned into the day it is
 * then in the workshop (`dayIn`, from milliseconds since 1970); a time without one is left out.
 */
export function readDay(text: string, order: DateOrder | undefined, dayIn: (ms: number) => string): DayReading {
  const iso = ISO_DAY.exec(text) ?? BASIC_DAY.exec(text);
  if (iso) return atTime(iso[1]!, iso[2]!, iso[3]!, iso[4], dayIn);
  const yearFirst = YEAR_FIRST.exec(text);
  if (yearFirst) return atTime(yearFirst[1]!, yearFirst[3]!, yearFirst[4]!, yearFirst[5], dayIn);
  const yearLast = YEAR_LAST.exec(text);
  if (!yearLast) return { reason: 'is not a date: write it as 2026-03-02' };
  const [, first = '', , second = '', year = '', time] = yearLast;
  if (order === undefined && (year.length === 2 || isAmbiguous(Number(first), Number(second))))
    return { reason: 'may mean more than one day: write it as 2026-03-02, or say which comes first, day or month' };
  const dayFirst = order === undefined ? Number(first) > 12 : order === 'dmy';
  const [day, month] = dayFirst ? [first, second] : [second, first];
  return atTime(year.length === 2 ? `20${year}` : year, month, day, time, dayIn);
}

function isAmbiguous(first: number, second: number): boolean {
  return first <= 12 && second <= 12 && first !== second;
}

function atTime(
  year: string,
  month: string,
  day: string,
  time: string | undefined,
  dayIn: (ms: number) => string,
): DayReading {
  const iso = `${year}-${month.padStart(2, '0')}-${day.padStart(2, '0')}`;
  if (!isRealDay(iso)) return { reason: 'is not a day of the calendar' };
  if (Number(year) < YEAR_MIN || Number(year) > YEAR_MAX)
    return { reason: `is not in the years ${YEAR_MIN} to ${YEAR_MAX}` };
  if (time === undefined) return { day: iso };
  const parts = TIME.exec(time);
  const minutes = parts && minutesOf(parts);
  if (!parts || minutes === null) return { reason: 'has a time that cannot be read: write it as 2026-03-02T10:20:00Z' };
  const zone = parts[5] === undefined ? undefined : offsetMinutes(parts[5]);
  if (zone === null) return { reason: 'has a time zone that cannot be read: write it as +01:00 or Z' };
  if (zone === undefined) return { day: iso };
  const seconds = Number(parts[3] ?? 0);
  return { day: dayIn(Date.parse(`${iso}T00:00:00Z`) + ((minutes - zone) * 60 + seconds) * 1000) };
}

function isRealDay(iso: string): boolean {
  try {
    dayOf(iso);
    return true;
  } catch {
    return false;
  }
}

/** Minutes since midnight, or null for a time no clock shows. */
function minutesOf(parts: RegExpExecArray): number | null {
  const [hour, minute, second] = [Number(parts[1]), Number(parts[2]), Number(parts[3] ?? 0)];
  const half = parts[4]?.toLowerCase();
  if (minute > 59 || second > 60) return null;
  if (half === undefined) return hour > 23 ? null : hour * 60 + minute;
  return hour < 1 || hour > 12 ? null : ((hour % 12) + (half === 'p' ? 12 : 0)) * 60 + minute;
}

/** Minutes east of UTC, or null for an offset no place has. */
function offsetMinutes(zone: string): number | null {
  if (/^[a-z]/i.test(zone)) return 0;
  const [hours, minutes] = [Number(zone.slice(1, 3)), Number(zone.slice(3).replace(':', '') || '0')];
  if (hours > 14 || minutes > 59) return null;
  return (zone.startsWith('-') ? -1 : 1) * (hours * 60 + minutes);
}
