import { largestRemainder } from './scaling.js';
import { PPB_ONE } from '../measure/quantity.js';

/** One line of a batch that is weighed, in milligrams. */
export interface WeighedLine {
  /** What the sheet said first. */
  meantMg: number;
  /** What it is to be now. */
  targetMg: number;
  weighedMg: number;
  /** Nothing more goes in. */
  isClosed: boolean;
}

/** What will be in of a line if the rest is weighed as it stands. */
export function comingMg({ targetMg, weighedMg, isClosed }: WeighedLine): number {
  return isClosed ? weighedMg : Math.max(targetMg, weighedMg);
}

/**
 * Each line's part of the whole as the sheet meant it, and as it comes out with what is in already, in parts per billion
 * that sum to a whole each. All zero for a batch of nothing.
 */
export function sharesOf(lines: readonly WeighedLine[]): { meantPpb: number; sharePpb: number }[] {
  const meant = partsOf(lines.map(({ meantMg }) => meantMg));
  const coming = partsOf(lines.map(comingMg));
  return lines.map((_, at) => ({ meantPpb: meant[at]!, sharePpb: coming[at]! }));
}

function partsOf(weightsMg: readonly number[]): number[] {
  return weightsMg.every((mg) => mg === 0) ? weightsMg.map(() => 0) : largestRemainder(weightsMg, PPB_ONE);
}

/**
 * New targets that bring the lines nothing is weighed of yet into proportion with those that are begun: what those come
 * to, beside what they were meant to, is the factor; the sum of the rest is rounded to the scale's step and shared by
 * largest remainder. A line that is not zero stays above it, at a finer step if need be. Null by index for a line that
 * keeps its target. Undefined where nothing is begun, or nothing is left.
 */
export function rescaled(lines: readonly WeighedLine[], stepMg: number): (number | null)[] | undefined {
  const isOpen = ({ weighedMg, isClosed }: WeighedLine) => weighedMg === 0 && !isClosed;
  const begun = lines.filter((line) => !isOpen(line));
  const open = lines.filter(isOpen);
  const meantBegun = begun.reduce((sum, { meantMg }) => sum + BigInt(meantMg), 0n);
  const coming = begun.reduce((sum, line) => sum + BigInt(comingMg(line)), 0n);
  if (meantBegun === 0n || coming === 0n || open.length === 0) return undefined;
  const meantOpen = open.reduce((sum, { meantMg }) => sum + BigInt(meantMg), 0n);
  for (let step = stepMg; ; step = step % 10 === 0 ? step / 10 : 1) {
    const divisor = meantBegun * BigInt(step);
    const steps = (2n * meantOpen * coming + divisor) / (2n * divisor);
    const targets = largestRemainder(
      open.map(({ meantMg }) => meantMg),
      Number(steps) * step,
      step,
    );
    if (step > 1 && targets.some((target, at) => target === 0 && open[at]!.meantMg > 0)) continue;
    return lines.map((line) => (isOpen(line) ? targets[open.indexOf(line)]! : null));
  }
}
