import { invalid } from '../platform/problem.js';

/** As the tables have it. */
const FIRST_DAY = '1970-01-01';

/** The day an act was done: today unless said. Throws a 422 problem at `pointer` for a day still to come. */
export function dayOfAct(today: string, on: string | undefined, pointer: string): string {
  if (on !== undefined && on < FIRST_DAY)
    throw invalid(pointer, `This day is before ${FIRST_DAY}, the first there is here.`);
  if (on !== undefined && on > today) throw invalid(pointer, `This day is still to come; today is ${today}.`);
  return on ?? today;
}

/** Throws a 422 problem at `pointer` for a day before the lot came: a past day must not show less than nothing. */
export function refuseBefore(lot: { code: string; cameOn: string }, day: string, pointer: string): void {
  if (day < lot.cameOn) throw invalid(pointer, `Lot ${lot.code} came on ${lot.cameOn}, after this day.`);
}
