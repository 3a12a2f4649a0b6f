import { logGamma } from '../statistics/gamma.js';

/** Of `population` lots, `marked` contain something; of the `drawn` that were complained about, `hits` do. */
export interface Contingency {
  population: number;
  marked: number;
  drawn: number;
  hits: number;
}

const logChoose = (n: number, k: number): number => logGamma(n + 1) - logGamma(k + 1) - logGamma(n - k + 1);

/**
 * Fisher's exact test, one-sided: how probable it is that chance alone puts at least so many of the marked among the drawn
 * (the upper tail of the hypergeometric distribution). R. A. Fisher, The Design of Experiments, 1935, chapter II.
 */
export function fisherTail({ population, marked, drawn, hits }: Contingency): number {
  const most = Math.min(marked, drawn);
  const least = Math.max(0, drawn + marked - population);
  if (hits <= least) return 1;
  const all = logChoose(population, drawn);
  let sum = 0;
  // the smallest first, so that none is lost beside the others
  for (let k = most; k >= hits; k--)
    sum += Math.exp(logChoose(marked, k) + logChoose(population - marked, drawn - k) - all);
  return Math.min(1, sum);
}
