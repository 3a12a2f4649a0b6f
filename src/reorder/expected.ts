import { alike, beginning, estimated, expectedUse, type Said } from '../kernel/buy/expected-use.js';
import { forecast, type Forecast } from '../kernel/buy/forecast.js';
import { type Day, dayOf, weekdayOf } from '../kernel/measure/day.js';
import { PPB_ONE } from '../kernel/measure/quantity.js';
import type { Known, SaidOf } from './known.js';

const WEEK_DAYS = 7;
const DAYS_A_YEAR = 365;
const MONTHS_A_YEAR = 12;

interface Asked {
  today: Day;
  /** What is planned or set aside, by day. */
  takes: readonly { day: Day; quantity: number }[];
  horizonWeeks: number;
  weeks: number;
}

/** What is expected of an item: by its own weeks, by what is said of it until they say enough, or by what is planned. */
export function expectedOf(item: string, known: Known, asked: Asked): Forecast | null {
  const history = known.history.get(item) ?? [];
  const told = known.said.get(item);
  const said = told ? saidOf(told, known, asked) : null;
  const spoken = said && told?.from ? beginningOn(dayOf(told.from), { history, said }, asked) : { history, said };
  return expectedUse({ ...spoken, planned: plannedByWeek(asked) }, asked.horizonWeeks, asked.weeks);
}

/** What is said, from a day on, and the weeks of its own that count beside it. */
function beginningOn(day: Day, { history, said }: { history: readonly number[]; said: Said }, asked: Asked) {
  const before = forecast(history, asked.horizonWeeks, asked.weeks)?.weekly ?? [];
  return {
    history: lastWeeks(history, wholeWeeksSince(day, asked.today)),
    said: { ...said, weekly: beginning(said.weekly, day - asked.today, before) },
  };
}

/** Null where the other item itself is used too little to say anything. */
function saidOf({ like, likePpb, quantity, per }: SaidOf, known: Known, { horizonWeeks, weeks }: Asked): Said | null {
  if (like === null)
    return estimated(Array.from({ length: weeks }, () => quantity! * (per === 'week' ? 1 : WEEKS_OF_MONTH)));
  const other = forecast(known.history.get(like) ?? [], horizonWeeks, weeks);
  return other && alike(other, likePpb! / PPB_ONE);
}

/** What of a month's use falls into a week. */
const WEEKS_OF_MONTH = (MONTHS_A_YEAR * WEEK_DAYS) / DAYS_A_YEAR;

/** Weeks, Monday to Sunday, that lie wholly between the day and today. */
function wholeWeeksSince(from: Day, today: Day): number {
  const lastMonday = today - weekdayOf(today);
  const firstMonday = from + ((WEEK_DAYS - weekdayOf(from)) % WEEK_DAYS);
  return Math.max(0, (lastMonday - firstMonday) / WEEK_DAYS);
}

/** The last so many, those before the first use among them. */
function lastWeeks(history: readonly number[], count: number): number[] {
  if (count <= history.length) return history.slice(history.length - count);
  return [...Array.from({ length: count - history.length }, () => 0), ...history];
}

function plannedByWeek({ today, takes }: Asked): number[] {
  const weeks: number[] = [];
  for (const { day, quantity } of takes) {
    const week = Math.max(0, Math.floor((day - today) / WEEK_DAYS));
    while (weeks.length <= week) weeks.push(0);
    weeks[week]! += quantity;
  }
  return weeks;
}
