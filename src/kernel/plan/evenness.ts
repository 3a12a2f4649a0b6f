import type { Day } from '../measure/day.js';
import type { Job } from './job.js';
import { minutesTaken } from './minutes-taken.js';
import type { Model } from './model.js';
import type { Placed } from './schedule-job.js';
import type { WashedInAll } from './washed.js';

/**
 * How unevenly days are filled: of each day the square of the share of its minutes that is used, in millionths, added up, so
 * that two days half full cost less than one that is full. A closed day on which something is made counts as the longest, and
 * as a minute where no day is open.
 */
export function unevenness(
  model: Model,
  placed: Iterable<readonly [Job, Placed]>,
  { planned, making }: WashedInAll,
): number {
  const used = minutesTaken(model);
  const take = (day: Day, minutes: number): void => void used.set(day, (used.get(day) ?? 0) + minutes);
  for (const [{ minutes }, { day }] of placed) if (day !== null) take(day, minutes);
  for (const { day, more } of [...planned.values(), ...making.values()]) take(day, more);
  let sum = 0;
  for (const [day, minutes] of used) {
    const open = model.openMinutes(day) || model.longestDay || 1;
    sum += Math.round((1_000_000 * minutes * minutes) / (open * open));
  }
  return sum;
}
