import type { GoodRange } from '../kernel/bench/good-range.js';
import { type Measure, printQuantity } from '../kernel/measure/quantity.js';
import { besideUs, besideUsRange } from './amounts.js';
import { count } from './words.js';

/** The units a page writes a weight in. */
export type WeightUnit = 'g' | 'kg';

const MG_PER: Record<WeightUnit, number> = { g: 1_000, kg: 1_000_000 };

/** The unit in which a page writes a weight. */
export const weightUnit = (mg: number): WeightUnit => (mg >= MG_PER.kg && mg % MG_PER.g === 0 ? 'kg' : 'g');

/** An amount to the milligram, in the unit of its target, so that the two and the range read alike. */
export function besideTarget(quantity: number, target: number, measure: Measure): string {
  if (measure === 'counted') return String(quantity);
  return besideUs(printQuantity(quantity, measure, weightUnit(target)), quantity, 3);
}

/** "504.2 to 514.3 g is good": in the unit of the target, with the decimals the scale shows. */
export function goodText({ least, most }: GoodRange, target: number, measure: Measure, stepMg: number): string {
  if (measure === 'counted') return `the sheet says ${count(most, 'piece')}`;
  const unit = weightUnit(target);
  const decimals = decimalsOf(stepMg, unit);
  const [from, to] = [least, most].map((mg) => (mg / MG_PER[unit]).toFixed(decimals));
  const metric = least === 0 ? `up to ${to} ${unit}` : `${from} to ${to} ${unit}`;
  return `${besideUsRange(metric, least, most)} is good`;
}

/** Places behind the point that one step of the scale needs. */
function decimalsOf(stepMg: number, unit: WeightUnit): number {
  let decimals = 0;
  for (let part = MG_PER[unit]; stepMg % part !== 0 && part > 1; part /= 10) decimals++;
  return decimals;
}
