/** An event that takes a whole day, of a calendar to subscribe to. */
export interface CalendarEvent {
  /** The same for the same thing, whenever the calendar is read. */
  uid: string;
  /** YYYY-MM-DD */
  day: string;
  title: string;
  detail: string;
  /** Absolute, or empty. */
  url: string;
}

const LINE_OCTETS_MAX = 75;

/** Within text, RFC 5545, section 3.3.11, escapes these; other control characters may not stand in it at all. */
const escaped = (text: string): string =>
  text
    .replaceAll(/\r\n|\r/g, '\n')
    .replaceAll(/[^\P{Cc}\n\t]/gu, '')
    .replaceAll(/[\\;,]/g, (found) => `\\${found}`)
    .replaceAll('\n', '\\n');

/** Long lines go on after a line end and a space: at most 75 octets each, never within a character (section 3.1). */
function folded(line: string): string {
  const lines: string[] = [];
  let current = '';
  let octets = 0;
  for (const character of line) {
    const size = Buffer.byteLength(character);
    if (octets + size > LINE_OCTETS_MAX) {
      lines.push(current);
      current = ' ';
      octets = 1;
    }
    current += character;
    octets += size;
  }
  return [...lines, current].join('\r\n');
}

const dateOf = (iso: string): string => iso.replaceAll('-', '');

/** The end of a day is the day after it: DTEND is the first moment that is no longer part of the event (3.6.1). */
function dayAfter(iso: string): string {
  const next = new Date(`${iso}T00:00:00Z`);
  next.setUTCDate(next.getUTCDate() + 1);
  return next.toISOString().slice(0, 10);
}

/** A calendar in the format of RFC 5545. `at`: the instant it was made. */
export function calendarText(name: string, events: readonly CalendarEvent[], at: Date): string {
  const stamp = `${at.toISOString().slice(0, 19).replaceAll(/[-:]/g, '')}Z`;
  const lines = [
    'BEGIN:VCALENDAR',
    'VERSION:2.0',
    'PRODID:-//Lotwright//Calendar//EN',
    'CALSCALE:GREGORIAN',
    'METHOD:PUBLISH',
    `NAME:${escaped(name)}`,
    `X-WR-CALNAME:${escaped(name)}`,
    'REFRESH-INTERVAL;VALUE=DURATION:PT1H',
    ...events.flatMap(({ uid, day, title, detail, url }) => [
      'BEGIN:VEVENT',
      `UID:${escaped(uid)}`,
      `DTSTAMP:${stamp}`,
      `DTSTART;VALUE=DATE:${dateOf(day)}`,
      `DTEND;VALUE=DATE:${dateOf(dayAfter(day))}`,
      `SUMMARY:${escaped(title)}`,
      ...(detail === '' ? [] : [`DESCRIPTION:${escaped(detail)}`]),
      ...(url === '' ? [] : [`URL:${url}`]),
      // a day with something to do is not a day away
      'TRANSP:TRANSPARENT',
      'END:VEVENT',
    ]),
    'END:VCALENDAR',
  ];
  return `${lines.map(folded).join('\r\n')}\r\n`;
}
