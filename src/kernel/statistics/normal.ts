/** The standard normal distribution: density, probability, quantile and loss. Absolute error below 1e-14. */
const DENSITY_AT_0 = 1 / Math.sqrt(2 * Math.PI);
/** Beyond this many deviations the tail is below what a double can tell from zero. */
const FAR = 8.3;
const BISECTIONS = 60;

export function normalDensity(z: number): number {
  return DENSITY_AT_0 * Math.exp((-z * z) / 2);
}

/** The probability of a value below `z`: the series of G. Marsaglia, J. Stat. Software 11(4), 2004. */
export function normalBelow(z: number): number {
  if (z < -FAR) return 0;
  if (z > FAR) return 1;
  let term = z;
  let sum = z;
  for (let i = 3; sum + term !== sum; i += 2) {
    term *= (z * z) / i;
    sum += term;
  }
  return 0.5 + sum * normalDensity(z);
}

/** The value a standard normal stays below with probability `p`, 0 < p < 1. Throws RangeError otherwise. */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`not a probability between 0 and 1: ${p}`);
  return bisect(-FAR, FAR, (z) => normalBelow(z) - p);
}

/** The unit normal loss: expected amount by which a standard normal exceeds `z`, density(z) - z (1 - probability(z)). */
export function unitNormalLoss(z: number): number {
  return z > FAR ? 0 : Math.max(0, normalDensity(z) - z * (1 - normalBelow(z)));
}

/** The `z` of this loss, which must be positive; a loss so small that no z up to 8 reaches it gives that. */
export function lossQuantile(loss: number): number {
  if (!(loss > 0)) throw new RangeError(`not a loss above 0: ${loss}`);
  // far below zero the loss is -z
  return bisect(-Math.max(FAR, loss + 1), FAR, (z) => loss - unitNormalLoss(z));
}

/** Where a rising function crosses zero. */
function bisect(from: number, to: number, rising: (z: number) => number): number {
  let [low, high] = [from, to];
  for (let i = 0; i < BISECTIONS; i++) {
    const middle = (low + high) / 2;
    if (rising(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
