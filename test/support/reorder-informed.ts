import { orderAmount } from '../../src/kernel/buy/order-amount.js';
import { gammaLoss } from '../../src/kernel/statistics/gamma.js';
import type { Policy } from './reorder-play.js';
import { HISTORY_DAYS, OFF_BY, type SaidItem } from './reorder-said-world.js';
import type { SaidOfItem } from './reorder-world.js';

/*
 * A periodic review that is told how use comes (steady, compound, by the season, by a trend) and what is said of a new item,
 * and estimates the numbers of just that from the same weeks. It knows what no program knows of a real item. It shares
 * nothing with the policy under test but the two functions of the gamma distribution and the choice of packs.
 */

/** Use of a stretch of days, as believed: mean, variance, and the part of the variance that uncertain rates make. */
interface Belief {
  over: (days: number) => { mean: number; variance: number };
  /** Of rare use: how many a day, how large, and how much sizes vary (squared deviation). */
  rare: { perDay: number; size: number; sizeVariance: number } | null;
}

const WEEK_DAYS = 7;
const YEAR_WEEKS = 52;
const BISECTIONS = 24;
/** Variation of a week's steady use in the world these items come from: six days of gammas of shape 0.8 to 2.8. */
const STEADY_VARIATION = 0.32;

/** Once a week the stock is brought up to the level at which what is short of a week's use is just what may be. */
export function informedReview(item: SaidItem, share: number): Policy {
  return ({ day, onHand, owed, coming, took }) => {
    if (day % WEEK_DAYS !== 0) return null;
    const leadDays = took.reduce((sum, days) => sum + days, 0) / took.length;
    const leadVariance = took.reduce((sum, days) => sum + (days - leadDays) ** 2, 0) / Math.max(1, took.length - 1);
    const belief = beliefOf(item, day);
    const until = (days: number, level: number) => shortage(belief, days, leadVariance, level);
    const most = (1 - share) * Math.max(1e-9, belief.over(leadDays + WEEK_DAYS).mean - belief.over(leadDays).mean);
    const { mean, variance } = belief.over(leadDays + WEEK_DAYS);
    let [low, high] = [0, mean * 2 + 20 * Math.sqrt(variance + 1) + 20 * mean];
    for (let i = 0; i < BISECTIONS; i++) {
      const middle = (low + high) / 2;
      if (until(leadDays + WEEK_DAYS, middle) - until(leadDays, middle) > most) low = middle;
      else high = middle;
    }
    const position = onHand - owed + coming.reduce((sum, { quantity }) => sum + quantity, 0);
    const need = Math.ceil(high - position);
    return need < 1 ? null : orderAmount(need, null, item.offers);
  };
}

/** What is expected to be wanted beyond a level within so many days that vary. */
function shortage({ over, rare }: Belief, days: number, leadVariance: number, level: number): number {
  if (rare) return rareShortage(rare, days, leadVariance, level);
  const { mean, variance } = over(days);
  const perDay = mean / days;
  return mean <= 0 ? 0 : gammaLoss(level, mean, Math.sqrt(variance + perDay ** 2 * leadVariance));
}

/** Sums over how many uses there are, Poisson or, where lead times vary, a mixture of it by a gamma (negative binomial). */
function rareShortage(rare: NonNullable<Belief['rare']>, days: number, leadVariance: number, level: number): number {
  const deviation = Math.sqrt(rare.sizeVariance);
  return chancesOf(rare.perDay * days, rare.perDay ** 2 * leadVariance).reduce(
    (sum, chance, uses) =>
      uses === 0 || chance < 1e-8
        ? sum
        : sum + chance * gammaLoss(level, uses * rare.size, Math.sqrt(uses) * deviation),
    0,
  );
}

/** Chances of 0, 1, 2 ... uses with this mean and, beyond that of a Poisson distribution, this variance. */
function chancesOf(mean: number, more: number): number[] {
  const shape = mean ** 2 / Math.max(more, 1e-9 * mean);
  const share = mean / (mean + shape);
  const chances = [Math.exp(-shape * Math.log1p(mean / shape))];
  let seen = chances[0]!;
  for (let uses = 1; seen < 1 - 1e-8 && uses < 400; uses++) {
    chances.push((chances[uses - 1]! * share * (uses - 1 + shape)) / uses);
    seen += chances[uses]!;
  }
  return chances;
}

function beliefOf(item: SaidItem, day: number): Belief {
  const weeks = weeksOf(item.use, day);
  switch (item.saidKind) {
    case 'lumpy':
      return rareBelief(weeks, null);
    case 'new and lumpy':
      return rareBelief(weeks, saidOf(item.said!));
    case 'new':
      return steadyBelief(weeks, saidOf(item.said!));
    case 'new, orders only':
      return ordersBelief(weeksOf(item.use, Math.min(day + 3 * WEEK_DAYS, item.use.length)));
    case 'seasonal':
      return seasonalBelief(weeks);
    default:
      return trendBelief(weeks);
  }
}

function saidOf(said: SaidOfItem): number {
  if (said.by === 'estimate') return said.perWeek;
  if (said.by === 'planned') throw new Error('orders are no estimate');
  return (said.times * WEEK_DAYS * sumOf(said.use.slice(0, HISTORY_DAYS))) / HISTORY_DAYS;
}

/** The weeks that are known, those ordered for counting like those that were. */
function ordersBelief(weeks: readonly number[]): Belief {
  const mean = sumOf(weeks) / weeks.length;
  return linear(mean, (STEADY_VARIATION * mean) ** 2, (STEADY_VARIATION * mean) ** 2 / weeks.length);
}

/** Normal estimate of a mean whose first guess strays evenly within `OFF_BY`. */
function steadyBelief(weeks: readonly number[], said: number): Belief {
  const guess = (OFF_BY * said) ** 2 / 3;
  const noise = (STEADY_VARIATION * said) ** 2;
  const known = 1 / guess + weeks.length / noise;
  const mean = (said / guess + sumOf(weeks) / noise) / known;
  const variation = STEADY_VARIATION ** 2;
  return linear(mean, variation * mean ** 2, 1 / known);
}

const linear = (mean: number, weekVariance: number, meanVariance: number): Belief => ({
  over: (days) => {
    const weeks = days / WEEK_DAYS;
    return { mean: mean * weeks, variance: weekVariance * weeks + meanVariance * weeks ** 2 };
  },
  rare: null,
});

/** Compound Poisson by the moments of all weeks; the weeks without use say how often it comes. */
function rareBelief(weeks: readonly number[], said: number | null): Belief {
  // before anything is known: one use in eleven days, as they are rare in this world on the mean, sizes as uneven as there
  const guessed = said === null ? 0 : 26;
  const [rate, unevenness] = [WEEK_DAYS / 13, 0.5];
  const count = weeks.length + guessed;
  const none = weeks.filter((used) => used === 0).length + guessed * Math.exp(-rate);
  const perWeek = -Math.log(Math.min(Math.max(none, 0.5), count - 0.5) / count);
  const mean = (sumOf(weeks) + guessed * (said ?? 0)) / count;
  const guessedVariance = rate * ((said ?? 0) / rate) ** 2 * (1 + unevenness);
  const variance = (weeks.reduce((sum, used) => sum + (used - mean) ** 2, 0) + guessed * guessedVariance) / count;
  const size = mean / perWeek;
  const sizeVariance = Math.max(0.05 * size ** 2, variance / perWeek - size ** 2);
  return { ...linear(mean, variance, 0), rare: { perDay: perWeek / WEEK_DAYS, size, sizeVariance } };
}

/** A level and one wave a year by least squares over all weeks; weeks stray in proportion to their level. */
function seasonalBelief(weeks: readonly number[]): Belief {
  const turn = (week: number) => (2 * Math.PI * week) / YEAR_WEEKS;
  const fit = leastSquares(weeks, (week) => [1, Math.cos(turn(week)), Math.sin(turn(week))]);
  return fitted(weeks, (week) => {
    const level = fit[0]! + fit[1]! * Math.cos(turn(week)) + fit[2]! * Math.sin(turn(week));
    return Math.max(level, 0.02 * fit[0]!);
  });
}

/** The same share more each week: least squares of the logarithms, then brought to the mean. */
function trendBelief(weeks: readonly number[]): Belief {
  const fit = leastSquares(
    weeks.map((used) => Math.log(Math.max(used, 1))),
    (week) => [1, week],
  );
  const shape = (week: number) => Math.exp(fit[0]! + fit[1]! * week);
  const times = sumOf(weeks) / weeks.reduce((sum, _, week) => sum + shape(week), 0);
  return fitted(weeks, (week) => times * shape(week));
}

function fitted(weeks: readonly number[], level: (week: number) => number): Belief {
  const variation =
    weeks.reduce((sum, used, week) => sum + (used / level(week) - 1) ** 2 * level(week), 0) /
    weeks.reduce((sum, _, week) => sum + level(week), 0);
  return {
    over: (days) => {
      let [mean, variance] = [0, 0];
      for (let week = 0; week * WEEK_DAYS < days; week++) {
        const share = Math.min(1, days / WEEK_DAYS - week);
        mean += share * level(weeks.length + week);
        variance += share * variation * level(weeks.length + week) ** 2;
      }
      return { mean, variance };
    },
    rare: null,
  };
}

/** Coefficients by the normal equations, solved by elimination. */
function leastSquares(values: readonly number[], terms: (week: number) => number[]): number[] {
  const size = terms(0).length;
  const rows = Array.from({ length: size }, () => Array.from({ length: size + 1 }, () => 0));
  for (const [week, value] of values.entries()) {
    const at = [...terms(week), value];
    for (let i = 0; i < size; i++) for (let j = 0; j <= size; j++) rows[i]![j]! += at[i]! * at[j]!;
  }
  for (let i = 0; i < size; i++)
    for (let k = 0; k < size; k++) {
      if (k === i) continue;
      const times = rows[k]![i]! / rows[i]![i]!;
      for (let j = i; j <= size; j++) rows[k]![j]! -= times * rows[i]![j]!;
    }
  return rows.map((row, i) => row[size]! / row[i]!);
}

function weeksOf(use: readonly number[], day: number): number[] {
  return Array.from({ length: Math.floor(day / WEEK_DAYS) }, (_, week) =>
    sumOf(use.slice(week * WEEK_DAYS, week * WEEK_DAYS + WEEK_DAYS)),
  );
}

const sumOf = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0);
