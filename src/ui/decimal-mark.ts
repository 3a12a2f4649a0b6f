/** Node tells the zones of a region by one or the other of these, whichever its age. */
type WithZones = Intl.Locale & { timeZones?: string[]; getTimeZones?: () => string[] | undefined };

const LETTERS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ'.split('');

const marks = new Map<string, ',' | '.'>();

/**
 * What is written before the decimals where a time zone belongs: a comma in Berlin, a point in Chicago and Zurich. A point
 * where it is not known.
 */
export function decimalMark(timeZone: string): ',' | '.' {
  const known = marks.get(timeZone);
  if (known !== undefined) return known;
  const mark = markIn(regionOf(canonical(timeZone)));
  marks.set(timeZone, mark);
  return mark;
}

/** A zone has several names; Node lists the one it calls it by itself. */
const canonical = (timeZone: string): string => new Intl.DateTimeFormat('en', { timeZone }).resolvedOptions().timeZone;

/** The region a time zone is one of, as CLDR has it: its two letters, where there is one. */
function regionOf(timeZone: string): string | undefined {
  const regions = LETTERS.flatMap((first) => LETTERS.map((second) => first + second));
  return regions.find((region) => {
    const locale: WithZones = new Intl.Locale(`und-${region}`);
    return (locale.getTimeZones?.() ?? locale.timeZones)?.includes(timeZone) ?? false;
  });
}

function markIn(region: string | undefined): ',' | '.' {
  if (region === undefined) return '.';
  const { language } = new Intl.Locale(`und-${region}`).maximize();
  const parts = new Intl.NumberFormat(`${language}-${region}`).formatToParts(1.5);
  return parts.find(({ type }) => type === 'decimal')?.value === ',' ? ',' : '.';
}
