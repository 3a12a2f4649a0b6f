import { type Day, dayOf } from '../measure/day.js';
import { type Few, isTheirs } from './crew.js';
import type { Model } from './model.js';

/** Minutes of each day that batches in the making have already: all, or those that only `few` may make. */
export function minutesTaken({ snapshot }: Model, few?: Few): Map<Day, number> {
  const taken = new Map<Day, number>();
  for (const { day, minutes, skill } of snapshot.making)
    if (!few || isTheirs(few, skill)) taken.set(dayOf(day), (taken.get(dayOf(day)) ?? 0) + minutes);
  return taken;
}

export const minutesTakenByFew = (model: Model): Map<Few, Map<Day, number>> =>
  new Map((model.crew?.few ?? []).map((few) => [few, minutesTaken(model, few)]));
