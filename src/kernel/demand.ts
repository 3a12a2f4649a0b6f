import type { Day } from './day.js';

/** What is known of one bought item. Amounts in its base unit. */
export interface Outlook {
  today: Day;
  /** Usable now and not reserved. */
  free: number;
  coming: readonly { day: Day; quantity: number }[];
  /** What the plan takes, by day. */
  needs: readonly { day: Day; quantity: number }[];
  /** Past use over 28 days; null without enough history. */
  per28Days: number | null;
  /** Stock that should be left over; 0 when it is bought to order. */
  keep: number;
  /** Last day looked at. */
  until: Day;
}

export interface Projection {
  /** First day free stock falls under what should be kept; null when it never does. */
  runsOutOn: Day | null;
  /** What has to come to end the last day with what should be kept. */
  wanted: number;
  /** Expected use until the last day. */
  expectedUse: number;
  /** What is free at the end of each day, from today to the last one; below zero is what would be short. */
  freeByDay: number[];
}

/**
 * How long will it last, and how much is wanted? Each day's demand so far is the larger of what is planned and what past
 * use leads one to expect, so that a need that is both planned and usual counts once.
 */
export function project(outlook: Outlook): Projection {
  const { today, until, per28Days, keep } = outlook;
  const days = Math.max(0, until - today) + 1;
  const planned = new Float64Array(days);
  const arriving = new Float64Array(days);
  const at = (day: Day): number => Math.max(0, day - today);
  for (const need of outlook.needs) if (at(need.day) < days) planned[at(need.day)]! += need.quantity;
  for (const row of outlook.coming) if (at(row.day) < days) arriving[at(row.day)]! += row.quantity;
  let supply = outlook.free;
  let plannedSoFar = 0;
  let runsOutOn: Day | null = null;
  let expectedUse = 0;
  const freeByDay: number[] = [];
  for (let i = 0; i < days; i++) {
    supply += arriving[i]!;
    plannedSoFar += planned[i]!;
    expectedUse = Math.max(plannedSoFar, Math.ceil(((per28Days ?? 0) * i) / 28));
    freeByDay.push(supply - expectedUse);
    if (runsOutOn === null && expectedUse > 0 && supply - expectedUse < keep) runsOutOn = today + i;
  }
  if (runsOutOn === null && supply < keep) runsOutOn = today;
  return { runsOutOn, wanted: Math.max(0, expectedUse + keep - supply), expectedUse, freeByDay };
}
