/** Weeks of the season that is looked back to. */
export const SEASON_WEEKS = 52;

export const METHODS = ['mean', 'smoothing', 'rare-use', 'yearly-wave', 'same-weeks-last-year'] as const;

/**
 * `mean`: of all weeks. `smoothing`: simple exponential smoothing. `rare-use`: Croston's method with the correction of
 * Syntetos and Boylan. `yearly-wave`: one rise and fall a year. `same-weeks-last-year`: their use again, averaged with so
 * many weeks on either side.
 */
export interface Candidate {
  method: (typeof METHODS)[number];
  alpha: number | null;
  spreadWeeks: number | null;
}

/** Forecast made after `known` weeks of the week `ahead` weeks later (0 is the next). */
export type Rate = (known: number, ahead: number) => number;

const SMOOTHING_ALPHAS = [0.05, 0.1, 0.2, 0.3, 0.5, 0.8];
const WAVE: Candidate = { method: 'yearly-wave', alpha: null, spreadWeeks: null };
const RARE_ALPHAS = [0.05, 0.1, 0.2, 0.3];
const SPREADS = [2, 1, 0];
/** Weeks whose mean smoothing starts from. */
const FIRST_WEEKS = 8;
/** Below this mean interval hardly a week is without use, and smoothing says the same. */
const RARE_INTERVAL = 1.1;

/**
 * The methods a history of so many weeks can judge, steadiest first, and after how many weeks judging starts. A wave of a year and
 * the same weeks of last year take part when a year, the horizon and enough forecasts after it fit in.
 */
export function candidatesFor(history: {
  weeks: number;
  horizonWeeks: number;
  seasonWeeks: number;
  intervalWeeks: number;
  warmUpWeeks: number;
  leastOrigins: number;
}): { candidates: Candidate[]; start: number } {
  const { weeks, horizonWeeks, seasonWeeks, intervalWeeks, warmUpWeeks, leastOrigins } = history;
  const hasYear = weeks >= seasonWeeks + horizonWeeks + leastOrigins - 1;
  const smoothing = SMOOTHING_ALPHAS.map((alpha): Candidate => ({ method: 'smoothing', alpha, spreadWeeks: null }));
  const rare = RARE_ALPHAS.map((alpha): Candidate => ({ method: 'rare-use', alpha, spreadWeeks: null }));
  const seasonal = SPREADS.map((spreadWeeks): Candidate => ({
    method: 'same-weeks-last-year',
    alpha: null,
    spreadWeeks,
  }));
  return {
    candidates: [
      { method: 'mean', alpha: null, spreadWeeks: null },
      ...(intervalWeeks > RARE_INTERVAL ? rare : []),
      ...smoothing,
      ...(hasYear ? [WAVE, ...seasonal] : []),
    ],
    start: hasYear ? seasonWeeks : warmUpWeeks,
  };
}

export function weeklyRate(series: readonly number[], candidate: Candidate, seasonWeeks = SEASON_WEEKS): Rate {
  if (candidate.method === 'same-weeks-last-year') return sameWeeks(series, candidate.spreadWeeks!, seasonWeeks);
  if (candidate.method === 'yearly-wave') return yearlyWave(series, seasonWeeks);
  const rates =
    candidate.method === 'smoothing'
      ? smoothed(series, candidate.alpha!, mean(series.slice(0, FIRST_WEEKS)))
      : candidate.method === 'rare-use'
        ? rareUse(series, candidate.alpha!).map(({ corrected }) => corrected)
        : runningMeans(series);
  return (known) => rates[known - 1] ?? 0;
}

/** The last week's use again. */
export function naive(series: readonly number[]): Rate {
  return (known) => series[known - 1] ?? 0;
}

/**
 * The same week a year before, averaged with up to `spread` weeks on either side that were known by then; `seasonWeeks`
 * back, or as many seasons back as it takes to reach what is known.
 */
export function sameWeeks(series: readonly number[], spread: number, seasonWeeks = SEASON_WEEKS): Rate {
  const before = [0];
  for (const used of series) before.push(before.at(-1)! + used);
  return (known, ahead) => {
    const seasonsBack = Math.floor(ahead / seasonWeeks) + 1;
    const week = known + ahead - seasonsBack * seasonWeeks;
    const from = Math.max(0, week - spread);
    const to = Math.min(known, week + spread + 1);
    return to <= from ? 0 : (before[to]! - before[from]!) / (to - from);
  };
}

/** Whether a method says another use for another time of the year. */
export const isSeasonal = ({ method }: Candidate): boolean =>
  method === 'yearly-wave' || method === 'same-weeks-last-year';

/**
 * A level and one wave a year, a + b cos + c sin, by least squares over all weeks known: the first terms of J. Fourier's
 * series. Never below zero. Before a whole year is known it is the mean.
 */
export function yearlyWave(series: readonly number[], seasonWeeks = SEASON_WEEKS): Rate {
  const angle = (2 * Math.PI) / seasonWeeks;
  let [ones, cos, sin, cosCos, cosSin, sinSin, use, useCos, useSin] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  const waves = series.map((used, week) => {
    const [x, y] = [Math.cos(angle * week), Math.sin(angle * week)];
    ones++;
    cos += x;
    sin += y;
    cosCos += x * x;
    cosSin += x * y;
    sinSin += y * y;
    use += used;
    useCos += used * x;
    useSin += used * y;
    if (ones < seasonWeeks) return { level: use / ones, cos: 0, sin: 0 };
    // the three normal equations, by Cramer's rule
    const [p, q, r] = [cosCos * sinSin - cosSin ** 2, cos * sinSin - cosSin * sin, cos * cosSin - cosCos * sin];
    const whole = ones * p - cos * q + sin * r;
    return {
      level: (use * p - useCos * q + useSin * r) / whole,
      cos: (-use * q + useCos * (ones * sinSin - sin ** 2) - useSin * (ones * cosSin - cos * sin)) / whole,
      sin: (use * r - useCos * (ones * cosSin - cos * sin) + useSin * (ones * cosCos - cos ** 2)) / whole,
    };
  });
  return (known, ahead) => {
    const wave = waves[known - 1];
    if (!wave) return 0;
    const turned = angle * (known + ahead);
    return Math.max(0, wave.level + wave.cos * Math.cos(turned) + wave.sin * Math.sin(turned));
  };
}

/** Root mean square of what was forecast of the next week, after each week from `start` on. */
export function rollingLevel(series: readonly number[], rate: Rate, start: number): number {
  let squares = 0;
  for (let known = start; known < series.length; known++) squares += rate(known, 0) ** 2;
  return Math.sqrt(squares / (series.length - start));
}

/** Levels of simple exponential smoothing after each week: level + alpha x (use - level), from level `first`. */
export function smoothed(series: readonly number[], alpha: number, first: number): number[] {
  let level = first;
  return series.map((used) => (level += alpha * (used - level)));
}

/**
 * Croston's method after each week: sizes and waiting times of the weeks with use are smoothed apart and change only in
 * a week with use; the forecast of a week is size / interval, times (1 - alpha / 2) once corrected. It starts with the first
 * size and how long that took. J. D. Croston 1972; A. A. Syntetos & J. E. Boylan 2005.
 */
export function rareUse(
  series: readonly number[],
  alpha: number,
): { size: number; interval: number; plain: number; corrected: number }[] {
  let size = 0;
  let interval = 0;
  let waited = 0;
  return series.map((used) => {
    waited++;
    if (used > 0) {
      size = size === 0 ? used : size + alpha * (used - size);
      interval = interval === 0 ? waited : interval + alpha * (waited - interval);
      waited = 0;
    }
    const plain = interval === 0 ? 0 : size / interval;
    return { size, interval, plain, corrected: plain * (1 - alpha / 2) };
  });
}

/** Root mean square error of the forecasts of sums over `horizon` weeks, made after each week from `start` on. */
export function rollingError(series: readonly number[], rate: Rate, start: number, horizon: number): number {
  let squares = 0;
  let origins = 0;
  for (let known = start; known + horizon <= series.length; known++) {
    let missed = 0;
    for (let ahead = 0; ahead < horizon; ahead++) missed += series[known + ahead]! - rate(known, ahead);
    squares += missed * missed;
    origins++;
  }
  return origins === 0 ? Number.NaN : Math.sqrt(squares / origins);
}

function runningMeans(series: readonly number[]): number[] {
  let sum = 0;
  return series.map((used, index) => (sum += used) / (index + 1));
}

const mean = (series: readonly number[]): number => series.reduce((sum, used) => sum + used, 0) / series.length;
