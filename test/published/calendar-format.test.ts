import ICAL from 'ical.js';
import { describe, expect, it } from 'vitest';
import { calendarText } from '../../src/messages/calendar-text.js';

/*
 * RFC 5545, "Internet Calendaring and Scheduling Core Object Specification" (2009): lines of at most 75 octets without
 * their end and never broken within a character, ended by CRLF (3.1); text with backslash, semicolon, comma and line end
 * escaped (3.3.11); DTEND of a day is the day after (3.6.1, 3.8.2.2). What is written is read by another's parser.
 */
const event = (over: object) => ({
  uid: 'pour-B-1@lotwright',
  day: '2026-11-30',
  title: 'Make Fig',
  detail: '',
  url: '',
  ...over,
});
const AT = new Date('2026-11-25T06:07:08.999Z');

function read(text: string): ICAL.Event[] {
  const component = new ICAL.Component(ICAL.parse(text));
  return component.getAllSubcomponents('vevent').map((found) => new ICAL.Event(found));
}

describe('a calendar', () => {
  it('is read by another parser as what was written', () => {
    const detail = 'Wax; jars, wicks\\lids\nSecond line: "quoted"';
    const text = calendarText('Quarry Lane Workshop', [event({ detail, url: 'https://example.org/batches/B-1' })], AT);
    const [found] = read(text);
    expect(found!.uid).toBe('pour-B-1@lotwright');
    expect(found!.description).toBe(detail);
    expect(found!.startDate.toString()).toBe('2026-11-30');
    expect(found!.endDate.toString()).toBe('2026-12-01');
    expect(found!.startDate.isDate).toBe(true);
    const component = new ICAL.Component(ICAL.parse(text));
    expect(component.getFirstPropertyValue('version')).toBe('2.0');
    expect(component.getFirstPropertyValue('x-wr-calname')).toBe('Quarry Lane Workshop');
    expect(text).toContain('\r\nDTSTAMP:20261125T060708Z\r\n');
  });

  it('has no line above 75 octets, none broken within a character, and no bare line end', () => {
    const title = `Kerzenwachs für ${'Rosenblütenöl 蠟燭 🕯️ '.repeat(12)}`;
    const text = calendarText('Workshop', [event({ title })], AT);
    expect(text.endsWith('\r\n')).toBe(true);
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
    const lines = text.split('\r\n');
    expect(Math.max(...lines.map((line) => Buffer.byteLength(line)))).toBeLessThanOrEqual(75);
    expect(lines.length).toBeGreaterThan(12);
    expect(Buffer.from(text).toString()).toBe(text);
    expect(read(text)[0]!.summary).toBe(title);
  });

  it('ends a day at the next one, at the end of a month, of a year, and of a February', () => {
    const days = ['2026-02-28', '2028-02-28', '2026-12-31', '2026-10-25'];
    const found = read(
      calendarText(
        'Workshop',
        days.map((day) => event({ uid: day, day })),
        AT,
      ),
    );
    expect(found.map(({ endDate }) => endDate.toString())).toEqual([
      '2026-03-01',
      '2028-02-29',
      '2027-01-01',
      '2026-10-26',
    ]);
  });

  it('leaves out what may not stand in text', () => {
    const [found] = read(calendarText('Workshop', [event({ title: 'A\u0000B\u0007C\r\nEND:VEVENT' })], AT));
    expect(found!.summary).toBe('ABC\nEND:VEVENT');
  });
});
