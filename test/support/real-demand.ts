import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { forecast } from '../../src/kernel/buy/forecast.js';
import { naive, sameWeeks } from '../../src/kernel/buy/forecast-methods.js';

const rows = (file: string): string[][] =>
  readFileSync(join('test/data/demand', file), 'utf8')
    .trim()
    .split('\n')
    .slice(1)
    .map((line) => line.split(','));
const numbers = (text: string): number[] => text.split(' ').map(Number);

/** Root mean square error of what was chosen with the weeks known then, and of other forecasts, of sums over `horizon`. */
export function outOfSample(series: readonly number[], from: number, horizon: number, season: number) {
  const squares = { chosen: 0, naive: 0, seasonal: 0 };
  const last = naive(series);
  const yearAgo = sameWeeks(series, 0, season);
  let count = 0;
  for (let known = from; known + horizon <= series.length; known++) {
    const actual = series.slice(known, known + horizon).reduce((sum, used) => sum + used, 0);
    const chosen = forecast(series.slice(0, known), horizon, horizon, season);
    const sum = (rate: (ahead: number) => number) =>
      Array.from({ length: horizon }, (_, ahead) => rate(ahead)).reduce((total, used) => total + used, 0);
    // before the first uses there is nothing to go by
    squares.chosen += (actual - sum((ahead) => chosen?.weekly[ahead] ?? 0)) ** 2;
    squares.naive += (actual - sum((ahead) => last(known, ahead))) ** 2;
    if (known >= season) squares.seasonal += (actual - sum((ahead) => yearAgo(known, ahead))) ** 2;
    count++;
  }
  const root = (total: number) => Math.sqrt(total / count);
  return { chosen: root(squares.chosen), naive: root(squares.naive), seasonal: root(squares.seasonal) };
}

/** Weekly sales of real products; sources and licences beside the data. */
export function weeklyProducts(): { code: string; weeks: number[]; least: number; most: number }[] {
  return rows('weekly-products.csv').map(([code, weeks, least, most]) => ({
    code: code!,
    weeks: numbers(weeks!),
    least: Number(least),
    most: Number(most),
  }));
}

/** Bottles sold by month, fourteen years and a half. */
export function monthlyBottles(): number[] {
  return rows('monthly-bottles.csv').flatMap(([, list]) => numbers(list!));
}

/** Over the second half year of the weekly sales: the error as a share of the naive one (geometric mean), and how often it is less. */
export function besideNaive(horizon: number): { ratio: number; better: number; products: number } {
  const products = weeklyProducts();
  let [better, logs] = [0, 0];
  for (const { weeks } of products) {
    const rmse = outOfSample(weeks, 26, horizon, 52);
    logs += Math.log(rmse.chosen / rmse.naive);
    if (rmse.chosen < rmse.naive) better++;
  }
  return { ratio: Math.exp(logs / products.length), better, products: products.length };
}
