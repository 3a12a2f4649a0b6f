/**
 * Between which two levels a function that rises with the level crosses zero: from nothing to `guess`, or as far above that
 * as it takes, halved so many times.
 */
export function crossing(
  guess: number,
  bisections: number,
  rising: (level: number) => number,
): { low: number; high: number } {
  let high = guess;
  // Stryker disable next-line EqualityOperator: where it is nought, twice as far is as good
  while (rising(high) < 0) high *= 2;
  let low = 0;
  // Stryker disable next-line EqualityOperator: halved once more
  for (let i = 0; i < bisections; i++) {
    const middle = (low + high) / 2;
    // Stryker disable next-line EqualityOperator: where it is nought, it crosses in either half
    if (rising(middle) < 0) low = middle;
    else high = middle;
  }
  return { low, high };
}
