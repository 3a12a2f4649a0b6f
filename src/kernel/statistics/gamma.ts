import { crossing } from './crossing.js';
/** The gamma distribution, for use that is never below zero and often far above its mean. Relative error below 1e-10. */
const LANCZOS = [
  676.5203681218851, -1259.1392167224028, 771.3234287776531, -176.6150291621406, 12.507343278686905,
  -0.13857109526572012, 9.984369578019572e-6, 1.5056327351493116e-7,
];
const STEPS_MAX = 10_000;
const SMALL = 1e-15;
const BISECTIONS = 70;

/** ln of the gamma function for x > 0: C. Lanczos 1964, with nine coefficients. */
export function logGamma(x: number): number {
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x);
  let sum = 0.9999999999998099;
  for (let i = 0; i < LANCZOS.length; i++) sum += LANCZOS[i]! / (x + i);
  const t = x + LANCZOS.length - 1.5;
  return 0.5 * Math.log(2 * Math.PI) + (x - 0.5) * Math.log(t) - t + Math.log(sum);
}

/** The probability of more than `x` for this shape and scale 1: series below the mean, continued fraction above it. */
export function gammaAbove(x: number, shape: number): number {
  return x <= 0 ? 1 : aboveBy(frontOf(x, shape), x, shape);
}

const frontOf = (x: number, shape: number): number => Math.exp(shape * Math.log(x) - x - logGamma(shape));

const aboveBy = (front: number, x: number, shape: number): number =>
  x < shape + 1 ? 1 - front * seriesBelow(x, shape) : front * fractionAbove(x, shape);

function seriesBelow(x: number, shape: number): number {
  let term = 1 / shape;
  let sum = term;
  for (let n = 1; n < STEPS_MAX && Math.abs(term) > Math.abs(sum) * SMALL; n++) {
    term *= x / (shape + n);
    sum += term;
  }
  return sum;
}

/** By the method of W. J. Lentz. */
function fractionAbove(x: number, shape: number): number {
  let b = x + 1 - shape;
  let c = 1 / Number.MIN_VALUE ** 0.5;
  let d = 1 / b;
  let fraction = d;
  for (let i = 1; i < STEPS_MAX; i++) {
    const a = -i * (i - shape);
    b += 2;
    d = 1 / nonZero(a * d + b);
    c = nonZero(b + a / c);
    fraction *= d * c;
    if (Math.abs(d * c - 1) < SMALL) break;
  }
  return fraction;
}

const nonZero = (value: number): number => (Math.abs(value) < 1e-300 ? 1e-300 : value);

/** Expected amount by which a gamma of this mean and deviation exceeds `level`; both above zero. */
export function gammaLoss(level: number, mean: number, deviation: number): number {
  const shape = (mean / deviation) ** 2;
  const scale = deviation ** 2 / mean;
  if (level <= 0) return mean - level;
  return Math.max(0, mean * gammaAbove(level / scale, shape + 1) - level * gammaAbove(level / scale, shape));
}

/** Half the expected square of the amount by which a gamma of this mean and deviation exceeds `level`; both above zero. */
export function gammaSecondLoss(level: number, mean: number, deviation: number): number {
  const shape = (mean / deviation) ** 2;
  const squares = mean ** 2 + deviation ** 2;
  if (level <= 0) return (squares - 2 * level * mean + level ** 2) / 2;
  const x = level / (deviation ** 2 / mean);
  const front = frontOf(x, shape);
  const above = aboveBy(front, x, shape);
  // one more of shape adds x^shape e^-x / gamma(shape + 1) to what lies above
  const more = front / shape;
  const aboveOne = above + more;
  const aboveTwo = aboveOne + (more * x) / (shape + 1);
  return Math.max(0, squares * aboveTwo - 2 * level * mean * aboveOne + level ** 2 * above) / 2;
}

/** The level a gamma of this mean and deviation exceeds with probability `above`, between 0 and 1. */
export function gammaLevel(above: number, mean: number, deviation: number): number {
  const shape = (mean / deviation) ** 2;
  const scale = deviation ** 2 / mean;
  return crossed(mean, deviation, (level) => above - gammaAbove(level / scale, shape));
}

/** The level from which on the expected excess is no more than `loss`, above zero. */
export function gammaLossLevel(loss: number, mean: number, deviation: number): number {
  if (loss >= mean) return 0;
  return crossed(mean, deviation, (level) => loss - gammaLoss(level, mean, deviation));
}

function crossed(mean: number, deviation: number, rising: (level: number) => number): number {
  const { low, high } = crossing(mean + 2 * deviation, BISECTIONS, rising);
  return (low + high) / 2;
}
