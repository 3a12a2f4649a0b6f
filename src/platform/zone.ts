/** Milliseconds since 1970 to the calendar day of a time zone. Throws RangeError for a zone nobody knows. */
export function dayInZone(zone: string): (ms: number) => string {
  const format = new Intl.DateTimeFormat('en', {
    timeZone: zone,
    calendar: 'gregory',
    numberingSystem: 'latn',
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
  });
  return (ms) => {
    const parts = Object.fromEntries(format.formatToParts(ms).map(({ type, value }) => [type, value]));
    return `${parts['year']}-${parts['month']}-${parts['day']}`;
  };
}
