/** Days since 1970-01-01, a calendar day without zone. Only the kernel counts this way; its border speaks ISO 8601. */
export type Day = number;

const ISO_DAY = /^(\d{4})-(\d{2})-(\d{2})$/;
const MS_PER_DAY = 86_400_000;

// A plan asks for the same few hundred days a hundred thousand times over; remembering them is five times faster.
const known = new Map<string, Day>();
const written = new Map<Day, string>();
const KNOWN_MAX = 10_000;

/** `YYYY-MM-DD` to a day number. Throws RangeError for anything that is not a real calendar day. */
export function dayOf(iso: string): Day {
  let day = known.get(iso);
  // Stryker disable next-line ConditionalExpression: what is remembered is what would be found again
  if (day === undefined) {
    day = parse(iso);
    // Stryker disable next-line ConditionalExpression,EqualityOperator: as above
    if (known.size >= KNOWN_MAX) known.clear();
    known.set(iso, day);
  }
  return day;
}

function parse(iso: string): Day {
  const ms = ISO_DAY.test(iso) ? Date.parse(`${iso}T00:00:00Z`) : Number.NaN;
  // Date.parse rolls 30 February over to March, so a day is real only if it prints back the same
  if (Number.isNaN(ms) || isoOf(ms / MS_PER_DAY) !== iso) throw new RangeError(`not a calendar day: ${iso}`);
  return ms / MS_PER_DAY;
}

/** A day number to `YYYY-MM-DD`. */
export function isoOf(day: Day): string {
  let iso = written.get(day);
  // Stryker disable next-line ConditionalExpression: as above
  if (iso === undefined) {
    iso = new Date(day * MS_PER_DAY).toISOString().slice(0, 10);
    // Stryker disable next-line ConditionalExpression,EqualityOperator: as above
    if (written.size >= KNOWN_MAX) written.clear();
    written.set(day, iso);
  }
  return iso;
}

/** 0 for Monday to 6 for Sunday (ISO 8601 weekday less one). 1970-01-01 was a Thursday. */
export function weekdayOf(day: Day): number {
  return (((day + 3) % 7) + 7) % 7;
}

/** `iso` moved by `days`. */
export function addDays(iso: string, days: number): string {
  return isoOf(dayOf(iso) + days);
}
