import type { Day } from '../measure/day.js';
import { wholeUp } from '../measure/ratio.js';

/** What is known of one bought item. Amounts in its base unit. */
export interface Outlook {
  today: Day;
  /** Usable now and not reserved. */
  free: number;
  /** What comes on a day and is not reserved. */
  coming: readonly { day: Day; quantity: number }[];
  /** What the plan takes, by day. */
  needs: readonly { day: Day; quantity: number }[];
  /** What is set aside already, and so not in `free` nor in `coming`, by the day it is needed. */
  reserved: readonly { day: Day; quantity: number }[];
  /** Expected use of each week from today on, not whole; the last one goes on. Empty without enough history. */
  weekly: readonly number[];
  /** Days within which a need that is planned and one that is expected are taken for the same. */
  windowDays: number;
  /** Of what is free or comes, by the last day it may be used; used first expired first, the rest is lost after that day. */
  expiring: readonly { day: Day; quantity: number }[];
  /** Stock that should be left over. */
  keep: number;
  /** Last day looked at. */
  until: Day;
}

export interface Projection {
  /** First day free stock falls under what should be kept; null when it never does. */
  runsOutOn: Day | null;
  /** First day less than nothing is free; null when that never is. */
  shortOn: Day | null;
  /** What expires unused until the last day. */
  lost: number;
  /** What has to come to end the last day with what should be kept. */
  wanted: number;
  /** Planned and expected use until the last day. */
  expectedUse: number;
  /** What is free at the end of each day, from today to the last one; below zero is what would be short. */
  freeByDay: number[];
}

const WEEK_DAYS = 7;

/**
 * How long will it last, and how much is wanted? In each window the use is what is planned or set aside, each on its day,
 * and once past use leads one to expect more than all of that, what goes beyond it: a need that is both planned and usual
 * counts once. The next window starts anew, so that one large order does not swallow the usual use of months.
 */
export function project(outlook: Outlook): Projection {
  const { today, until, keep, windowDays } = outlook;
  const days = Math.max(0, until - today) + 1;
  const planned = byDay(outlook.needs, today, days);
  const reserved = byDay(outlook.reserved, today, days);
  const arriving = byDay(outlook.coming, today, days);
  const expiring = byDay(outlook.expiring, today - 1, days);
  const expected = expectedByDay(outlook, days);
  let supply = outlook.free;
  let [taken, beyond, use, lost, dated] = [0, 0, 0, 0, 0];
  let window = { committed: 0, expected: 0 };
  let runsOutOn: Day | null = null;
  let shortOn: Day | null = null;
  const freeByDay: number[] = [];
  for (let i = 0; i < days; i++) {
    if (i % windowDays === 0) {
      beyond += Math.max(0, window.expected - window.committed);
      const committed = sumOf(planned, i, i + windowDays) + sumOf(reserved, i, i + windowDays);
      window = { committed, expected: 0 };
    }
    // what expired yesterday, less what was used until then: the first to expire is used first
    dated += expiring[i]!;
    lost = Math.max(lost, dated - use);
    supply += arriving[i]!;
    taken += planned[i]!;
    window.expected += expected[i]!;
    use = taken + wholeUp(beyond + Math.max(0, window.expected - window.committed));
    const free = supply - use - lost;
    freeByDay.push(free);
    if (runsOutOn === null && use + lost > 0 && free < keep) runsOutOn = today + i;
    if (shortOn === null && free < 0) shortOn = today + i;
  }
  if (runsOutOn === null && supply - lost < keep) runsOutOn = today;
  const left = freeByDay.at(-1)!;
  return { runsOutOn, shortOn, lost, wanted: Math.max(0, keep - left), expectedUse: use, freeByDay };
}

function sumOf(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < Math.min(to, values.length); i++) sum += values[i]!;
  return sum;
}

function byDay(rows: readonly { day: Day; quantity: number }[], today: Day, days: number): Float64Array {
  const sums = new Float64Array(days);
  // what was due before today is due today
  for (const { day, quantity } of rows) if (day - today < days) sums[Math.max(0, day - today)]! += quantity;
  return sums;
}

/** Today's own use is over or in the plan, so that expectation starts with tomorrow. */
function expectedByDay({ weekly }: Outlook, days: number): Float64Array {
  const sums = new Float64Array(days);
  for (let i = 1; i < days; i++)
    sums[i] = (weekly[Math.min(Math.floor((i - 1) / WEEK_DAYS), weekly.length - 1)] ?? 0) / WEEK_DAYS;
  return sums;
}
