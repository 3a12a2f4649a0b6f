import { describe, expect, it } from 'vitest';
import { addDays, dayOf, isoOf, weekdayOf } from '../../src/kernel/measure/day.js';

describe('a calendar day', () => {
  it.each([
    ['1970-01-01', 0],
    ['1970-01-02', 1],
    ['1969-12-31', -1],
    ['2000-02-29', 11_016],
    ['2027-01-04', 20_822],
    ['9999-12-31', 2_932_896],
  ])('%s is the day %d', (iso, day) => {
    expect(dayOf(iso)).toBe(day);
    // asked again it is the same
    expect(dayOf(iso)).toBe(day);
    expect(isoOf(day)).toBe(iso);
  });

  it.each([
    '2027-02-30',
    '2027-02-29',
    '2027-13-01',
    '2027-00-10',
    '2027-1-04',
    '2027-01-4',
    '20270104',
    '2027-01-04T00:00:00Z',
    ' 2027-01-04',
    '2027-01-04 ',
    '12027-01-04',
    '+012027-01',
    '-000001-01',
    '2027-01',
    'today',
    '',
  ])('is not %j', (text) => {
    expect(() => dayOf(text)).toThrow(new RangeError(`not a calendar day: ${text}`));
    expect(() => dayOf(text)).toThrow(RangeError);
  });

  it('is told apart from more others than are remembered', () => {
    for (let day = 0; day < 25_000; day++) expect(dayOf(isoOf(day))).toBe(day);
    expect(dayOf('1970-01-02')).toBe(1);
  });

  it('is moved over ends of months and years', () => {
    expect(addDays('2027-12-31', 1)).toBe('2028-01-01');
    expect(addDays('2028-03-01', -1)).toBe('2028-02-29');
    expect(addDays('2027-01-04', 0)).toBe('2027-01-04');
  });
});

it('has its weekday, Monday first, before 1970 as after', () => {
  const week = Array.from({ length: 7 }, (_, i) => i);
  for (const monday of ['2027-01-04', '1970-01-05', '1969-12-29', '1900-01-01'])
    expect(week.map((n) => weekdayOf(dayOf(monday) + n))).toEqual(week);
  expect(weekdayOf(dayOf('1970-01-01'))).toBe(3);
});
