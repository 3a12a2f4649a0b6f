import {
  type Candidate,
  candidatesFor,
  isSeasonal,
  naive,
  rollingError,
  rollingLevel,
  sameWeeks,
  SEASON_WEEKS,
  weeklyRate,
} from './forecast-methods.js';

/** Fewer weeks of use than this say nothing. */
export const LEAST_WEEKS = 6;
/** Fewer forecasts to judge a method by than this, and the plain mean is used. */
export const LEAST_ORIGINS = 8;
/** Weeks a method learns from before it is judged for the first time, where there is no year. */
const WARM_UP_WEEKS = 8;
/** A longer history is cut to so many years: what was used before says little. */
const MOST_SEASONS = 3;

/** A method with what it got wrong: the root mean square error of its forecasts of sums over `horizonWeeks`. */
export interface MethodError extends Candidate {
  rmse: number;
}

/** How use comes (Syntetos, Boylan & Croston 2005): mean weeks between uses 1.32, squared variation of size 0.49. */
export type Pattern = 'smooth' | 'erratic' | 'intermittent' | 'lumpy';

export interface Shape {
  pattern: Pattern;
  /** Mean weeks between weeks with use. */
  intervalWeeks: number;
  /** Weeks with use that were seen. */
  uses: number;
  /** How far weeks with use stray from their mean, over it, squared. */
  sizeVariation: number;
  /** How far the mean of a week may be off, as a share of it. */
  rateError: number;
}

/** What is said of an item, as far as it counts beside its own weeks. */
export interface SaidShare {
  /** `like`: use of another item. `estimate`: what somebody takes it to be. `planned`: orders and batches of the coming weeks. */
  by: 'like' | 'estimate' | 'planned';
  /** What it says of the coming week. */
  weekly: number;
  /** For how much the item's own weeks count beside it: 0 to 1. */
  ownShare: number;
}

export interface Forecast extends Shape {
  chosen: Candidate;
  /** Every method judged, best first; empty where the history is too short to judge any. */
  errors: MethodError[];
  /** The last week's use again; the same weeks a year ago. Null where the history does not reach. */
  naiveRmse: number | null;
  seasonalNaiveRmse: number | null;
  /** Weeks whose sums were forecast, and how many times. */
  horizonWeeks: number;
  origins: number;
  /** Expected use of each coming week, in the unit of the history; not whole. */
  weekly: number[];
  /** Standard deviation of the error of one week, and of the sum of `horizonWeeks` weeks. */
  weekDeviation: number;
  horizonDeviation: number;
  /** Expected use of a week at which that deviation was found; null where use is rare, whatever time of the year it is, or too short to judge. */
  deviationAt: number | null;
  weeksOfHistory: number;
  /** Null where only the item's own weeks speak. */
  said: SaidShare | null;
}

/**
 * What will be used in each of the next `weeks` weeks, by the method that would have been least wrong so far.
 *
 * `history` is the use of whole weeks, oldest first, none negative; weeks before the first use are left out. Every method
 * is judged the same way: at each week it forecasts the sum of the next `horizonWeeks` weeks from what was known then
 * (rolling origin), and its error is the root mean square of what it missed. With a year and enough weeks to judge it by,
 * all methods are judged on the weeks after the first year, so that the same weeks of last year can take part. Null when
 * there is too little history to say anything. What could not be used because nothing was left is not known here, so weeks
 * without stock make the forecast too low. `seasonWeeks` is the length of a year in whatever `history` counts.
 */
export function forecast(
  history: readonly number[],
  horizonWeeks: number,
  weeks: number,
  seasonWeeks = SEASON_WEEKS,
): Forecast | null {
  const first = history.findIndex((used) => used > 0);
  const series = first < 0 ? [] : history.slice(Math.max(first, history.length - MOST_SEASONS * seasonWeeks));
  if (series.length < LEAST_WEEKS) return null;
  const horizon = Math.max(1, Math.min(Math.round(horizonWeeks), Math.floor(series.length / 3)));
  const shape = shapeOf(series);
  const { candidates, start } = candidatesFor({
    weeks: series.length,
    horizonWeeks: horizon,
    seasonWeeks,
    intervalWeeks: shape.intervalWeeks,
    warmUpWeeks: WARM_UP_WEEKS,
    leastOrigins: LEAST_ORIGINS,
  });
  const origins = Math.max(0, series.length - horizon - start + 1);
  const judge = (rate: ReturnType<typeof weeklyRate>, over: number): number => rollingError(series, rate, start, over);
  if (origins < LEAST_ORIGINS) return plainMean(series, horizon, weeks, shape);
  const errors = candidates
    .map((candidate) => ({ ...candidate, rmse: judge(weeklyRate(series, candidate, seasonWeeks), horizon) }))
    .sort((a, b) => a.rmse - b.rmse);
  const chosen = steadiest(candidates, errors, isRare(shape) ? hardlyWorseOfRare(origins / horizon) : HARDLY_WORSE);
  const rmse = errors.find((row) => isSame(row, chosen))!.rmse;
  const rate = weeklyRate(series, chosen, seasonWeeks);
  const weekDeviation = judge(rate, 1);
  return {
    chosen,
    errors,
    naiveRmse: judge(naive(series), horizon),
    seasonalNaiveRmse: candidates.some(({ method }) => method === 'same-weeks-last-year')
      ? judge(sameWeeks(series, 0, seasonWeeks), horizon)
      : null,
    horizonWeeks: horizon,
    origins,
    weekly: Array.from({ length: weeks }, (_, k) => rate(series.length, k)),
    weekDeviation,
    horizonDeviation: blended(rmse, weekDeviation, horizon, origins),
    deviationAt: isSeasonal(chosen) || !isRare(shape) ? rollingLevel(series, rate, start) : null,
    ...shape,
    weeksOfHistory: series.length,
    said: null,
  };
}

/** The deviation of the error of a sum over `weeks` weeks, whole or not: between and beyond what was judged, by the root. */
export function deviationOver(
  judged: Pick<Forecast, 'horizonWeeks' | 'horizonDeviation' | 'weekDeviation'>,
  weeks: number,
): number {
  const { horizonWeeks, horizonDeviation, weekDeviation } = judged;
  if (weeks >= horizonWeeks || weekDeviation === 0) return horizonDeviation * Math.sqrt(weeks / horizonWeeks);
  if (weeks <= 1) return weekDeviation * Math.sqrt(weeks);
  return weekDeviation * weeks ** (Math.log(horizonDeviation / weekDeviation) / Math.log(horizonWeeks));
}

/** Use strays in proportion to what is expected, but never less than this share of what was found. */
const LEAST_OF_DEVIATION = 0.2;

/** How far the use of the coming `weeks` weeks, whole or not and above zero, strays from what is expected of them. */
export function deviationOfUse(expected: Forecast, weeks: number): number {
  const { deviationAt } = expected;
  const found = deviationOver(expected, weeks);
  if (deviationAt === null || deviationAt <= 0) return found;
  return found * Math.max(LEAST_OF_DEVIATION, useOver(expected, weeks) / weeks / deviationAt);
}

/** Expected use of the coming `weeks` weeks, whole or not. */
export function useOver({ weekly }: { weekly: readonly number[] }, weeks: number): number {
  let use = 0;
  for (let week = 0; week < weeks; week++)
    use += (weekly[Math.min(week, weekly.length - 1)] ?? 0) * Math.min(1, weeks - week);
  return use;
}

/** Of the methods hardly worse than the best the one that changes least with every week: differences this small are chance. */
const HARDLY_WORSE = 1.02;
/** Of what comes rarely few uses are seen, and much more is chance: by the root of the windows that do not overlap. */
const hardlyWorseOfRare = (windows: number): number => 1 + 1 / Math.sqrt(windows);

/** `candidates` come steadiest first, `errors` best first. */
function steadiest(candidates: readonly Candidate[], errors: readonly MethodError[], hardlyWorse: number): Candidate {
  const limit = errors[0]!.rmse * hardlyWorse;
  return candidates.find((candidate) => errors.some((row) => isSame(row, candidate) && row.rmse <= limit))!;
}

const isSame = (a: Candidate, b: Candidate): boolean =>
  a.method === b.method && a.alpha === b.alpha && a.spreadWeeks === b.spreadWeeks;

/** Windows that do not overlap whose sums count as much as what single weeks make. */
const WINDOWS_FOR_HALF = 10;

/**
 * Sums over the horizon show whether errors of weeks go together, but a history holds few of them that do not overlap; so
 * many that it does, so much they count beside the root of single weeks.
 */
function blended(rmse: number, weekDeviation: number, horizon: number, origins: number): number {
  const windows = origins / horizon;
  const weight = windows / (windows + WINDOWS_FOR_HALF);
  return Math.sqrt(weight * rmse ** 2 + (1 - weight) * horizon * weekDeviation ** 2);
}

/** Forecast by the mean of the weeks alone, at least one of them, as uncertain as they are few. */
export function plainMean(
  series: readonly number[],
  horizonWeeks: number,
  weeks: number,
  shape: Shape = shapeOf(series),
): Forecast {
  const mean = series.reduce((sum, used) => sum + used, 0) / series.length;
  const variance = series.reduce((sum, used) => sum + (used - mean) ** 2, 0) / Math.max(1, series.length - 1);
  // the mean itself is uncertain: by the variance over the number of weeks it was taken from
  const weekDeviation = Math.sqrt(variance * (1 + 1 / series.length));
  return {
    chosen: { method: 'mean', alpha: null, spreadWeeks: null },
    errors: [],
    naiveRmse: null,
    seasonalNaiveRmse: null,
    horizonWeeks,
    origins: 0,
    weekly: Array.from({ length: weeks }, () => mean),
    weekDeviation,
    horizonDeviation: Math.sqrt(variance * horizonWeeks * (1 + horizonWeeks / series.length)),
    deviationAt: null,
    ...shape,
    weeksOfHistory: series.length,
    said: null,
  };
}

const RARE_INTERVAL = 1.32;
const UNEVEN_VARIATION = 0.49;

export const isRare = ({ intervalWeeks }: Pick<Shape, 'intervalWeeks'>): boolean => intervalWeeks > RARE_INTERVAL;

function shapeOf(series: readonly number[]): Shape {
  const sizes = series.filter((used) => used > 0);
  const mean = sizes.reduce((sum, size) => sum + size, 0) / sizes.length;
  const sizeVariation = sizes.reduce((sum, size) => sum + (size / mean - 1) ** 2, 0) / sizes.length;
  const intervalWeeks = series.length / sizes.length;
  // a week strays, squared and over its mean squared, by (1 + variation) x interval - 1
  const rateError = Math.sqrt(((1 + sizeVariation) * intervalWeeks - 1) / series.length);
  const pattern = patternOf({ intervalWeeks, sizeVariation });
  return { pattern, intervalWeeks, uses: sizes.length, sizeVariation, rateError };
}

export function patternOf(shape: Pick<Shape, 'intervalWeeks' | 'sizeVariation'>): Pattern {
  if (shape.sizeVariation > UNEVEN_VARIATION) return isRare(shape) ? 'lumpy' : 'erratic';
  return isRare(shape) ? 'intermittent' : 'smooth';
}
