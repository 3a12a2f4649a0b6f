import { mulDivFloor } from '../measure/ratio.js';

/**
 * Where lines are sent in parts, each line counts as so many, and a part of it as its share of them: so that what lines cost
 * stays a sum of whole numbers.
 */
export const SHARES_A_LINE = 1_000_000;

/** The shares of parts of a line, which add up to `whole`; `quantities` add up to the line. */
export function sharesOf(quantities: readonly number[], whole: number): number[] {
  const quantity = quantities.reduce((sum, part) => sum + part, 0);
  let [before, counted] = [0, 0];
  return quantities.map((part) => {
    before += part;
    const upTo = mulDivFloor(whole, before, quantity);
    const share = upTo - counted;
    counted = upTo;
    return share;
  });
}
