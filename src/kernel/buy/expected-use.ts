import { deviationOfUse, forecast, type Forecast, patternOf, plainMean, type Shape, useOver } from './forecast.js';

/** What is said of an item, whose own weeks may not say enough. */
export interface Said extends Pick<Shape, 'intervalWeeks' | 'sizeVariation' | 'uses' | 'rateError'> {
  by: 'like' | 'estimate';
  /** Expected use of each week from today on; the last one goes on. */
  weekly: readonly number[];
  /** How far one week strays, as a share of what is expected of it. */
  weekVariation: number;
}

/** What is said counts as much as so many weeks of the item's own. */
export const SAID_COUNTS_AS_WEEKS = 8;
/** From so many weeks of its own on only they speak. */
export const SAID_UNTIL_WEEKS = 52;
/** How far what is said strays from the truth, and a week from its mean, both as a share of it. Common practice, no source. */
const SAID_ERROR = 0.25;
const WEEK_VARIATION = 0.5;

/** An estimate of somebody's. It does not say how the use comes. */
export const estimated = (weekly: readonly number[]): Said => ({
  by: 'estimate',
  weekly,
  weekVariation: WEEK_VARIATION,
  intervalWeeks: 1,
  sizeVariation: 0,
  uses: 0,
  rateError: SAID_ERROR,
});

/** Used like another item, `times` as much: as often, as unevenly, and by the same time of the year. */
export function alike(other: Forecast, times: number): Said {
  const mean = other.deviationAt ?? other.weekly[0] ?? 0;
  return {
    by: 'like',
    weekly: other.weekly.map((used) => used * times),
    weekVariation: mean > 0 ? other.weekDeviation / mean : WEEK_VARIATION,
    intervalWeeks: other.intervalWeeks,
    sizeVariation: other.sizeVariation,
    uses: other.uses,
    rateError: Math.hypot(SAID_ERROR, other.rateError),
  };
}

/** What is said, from a day on: by week from today, before that day what was usual. Days count from today; a past one is below zero. */
export function beginning(weekly: readonly number[], startsInDays: number, before: readonly number[]): number[] {
  return weekly.map((used, week) => {
    const share = Math.min(1, Math.max(0, week + 1 - startsInDays / WEEK_DAYS));
    return share * used + (1 - share) * (before[week] ?? 0);
  });
}

const WEEK_DAYS = 7;
/** Planned orders say what is usual where they fall into so many weeks, own weeks with use counted in. */
const PLANNED_LEAST_USES = 3;
const PLANNED_LEAST_WEEKS = 4;

export interface KnownUse {
  /** Use of whole weeks, oldest first; where something is said of the item, from the week it began on. */
  history: readonly number[];
  said: Said | null;
  /** What is planned or set aside for the coming weeks, up to the last with any. */
  planned: readonly number[];
}

/**
 * What will be used in each of the next `weeks` weeks, by what speaks of it. Its own weeks, n of them, and what is said of it
 * count as n to 8: both what is expected and how far it strays are mixed so, and the more the two differ the more is taken
 * to stray. After a year only its own weeks speak. Where nothing is said, and there are too few of its own, they count
 * together with the weeks orders are planned for, each as much. Null where that says nothing either.
 */
export function expectedUse(known: KnownUse, horizonWeeks: number, weeks: number): Forecast | null {
  const { history, said, planned } = known;
  if (said && history.length < SAID_UNTIL_WEEKS) return mixed(history, said, horizonWeeks, weeks);
  return forecast(history, horizonWeeks, weeks) ?? byPlanned(history, planned, horizonWeeks, weeks);
}

/** Of two beliefs, each with its share: the variance within, and that between them. */
function mixed(history: readonly number[], said: Said, horizonWeeks: number, weeks: number): Forecast {
  const horizon = Math.max(1, Math.round(horizonWeeks));
  const ownShare = history.length / (history.length + SAID_COUNTS_AS_WEEKS);
  const saidShare = 1 - ownShare;
  const own = ownWeeks(history, horizon, weeks);
  const between = (over: number): number => useOver(own, over) - useOver(said, over);
  const deviation = (over: number): number => {
    const use = useOver(said, over);
    const ofSaid = (said.weekVariation * use) ** 2 / over + (SAID_ERROR * use) ** 2;
    const ofOwn = deviationOfUse(own, over) ** 2;
    return Math.sqrt(ownShare * ofOwn + saidShare * ofSaid + ownShare * saidShare * between(over) ** 2);
  };
  const shape = mixedShape(own, said, ownShare);
  return {
    ...own,
    horizonWeeks: horizon,
    weekly: own.weekly.map((used, week) => ownShare * used + saidShare * weekOf(said, week)),
    weekDeviation: deviation(1),
    horizonDeviation: deviation(horizon),
    deviationAt: null,
    ...shape,
    pattern: patternOf(shape),
    said: { by: said.by, weekly: weekOf(said, 0), ownShare },
  };
}

/** How its uses come, by both. */
function mixedShape(own: Forecast, said: Said, ownShare: number): Omit<Shape, 'pattern'> {
  const saidShare = 1 - ownShare;
  const mix = (ofOwn: number, ofSaid: number): number => ownShare * ofOwn + saidShare * ofSaid;
  const [ownWeek, saidWeek] = [weekOf(own, 0), weekOf(said, 0)];
  const week = mix(ownWeek, saidWeek);
  const between = week > 0 ? ownShare * saidShare * ((ownWeek - saidWeek) / week) ** 2 : 0;
  return {
    intervalWeeks: 1 / mix(1 / own.intervalWeeks, 1 / said.intervalWeeks),
    uses: own.uses + saidShare * said.uses,
    sizeVariation: mix(own.sizeVariation, said.sizeVariation),
    rateError: Math.sqrt(mix(own.rateError ** 2, said.rateError ** 2) + between),
  };
}

const NO_USE: Shape = { pattern: 'smooth', intervalWeeks: Infinity, uses: 0, sizeVariation: 0, rateError: 0 };

/** By the methods there are where they can be judged, else by the mean; weeks without use count from the first on. */
function ownWeeks(history: readonly number[], horizonWeeks: number, weeks: number): Forecast {
  const judged = forecast(history, horizonWeeks, weeks);
  if (judged && judged.origins > 0) return judged;
  const used = history.some((amount) => amount > 0);
  const mean = plainMean(history.length > 0 ? history : [0], horizonWeeks, weeks, used ? undefined : NO_USE);
  return { ...mean, weeksOfHistory: history.length };
}

/** Where nothing is said: own weeks from the first use on and the weeks of planned orders, each as much. */
function byPlanned(
  history: readonly number[],
  planned: readonly number[],
  horizonWeeks: number,
  weeks: number,
): Forecast | null {
  const first = history.findIndex((used) => used > 0);
  const own = first < 0 ? [] : history.slice(first);
  const all = [...own, ...planned];
  while (all.length < PLANNED_LEAST_WEEKS) all.push(0);
  if (planned.length === 0 || all.filter((used) => used > 0).length < PLANNED_LEAST_USES) return null;
  return {
    ...plainMean(all, Math.max(1, Math.round(horizonWeeks)), weeks),
    weeksOfHistory: own.length,
    said: {
      by: 'planned',
      weekly: planned.reduce((sum, used) => sum + used, 0) / (all.length - own.length),
      ownShare: own.length / all.length,
    },
  };
}

const weekOf = ({ weekly }: Pick<Said, 'weekly'>, week: number): number =>
  weekly[Math.min(week, weekly.length - 1)] ?? 0;
