import type { Measure } from '../measure/quantity.js';
import { partOf, PPB_ONE } from '../measure/quantity.js';

/** The least and the most of a line that are right, in its unit. */
export interface GoodRange {
  least: number;
  most: number;
}

/** What says how exactly is weighed. */
export interface WeighRules {
  scaleStepMg: number;
  weighTolerancePpb: number;
}

/** How far what goes in may depart from its target: a part of it, never less than a step of the scale; a count not at all. */
export function toleranceOf(target: number, measure: Measure, { scaleStepMg, weighTolerancePpb }: WeighRules): number {
  if (measure === 'counted') return 0;
  return Math.max(scaleStepMg, partOf(target, Math.min(weighTolerancePpb, PPB_ONE), 'floor'));
}

/** What the scale may show: the target with its tolerance, rounded inwards to the step of the scale. */
export function goodRange(target: number, tolerance: number, stepMg: number): GoodRange {
  if (tolerance === 0) return { least: target, most: target };
  return {
    least: Math.max(0, Math.ceil((target - tolerance) / stepMg) * stepMg),
    most: Math.floor((target + tolerance) / stepMg) * stepMg,
  };
}

/** By how much an amount lies outside the range, counted from the target: above zero is too much. 0 is right. */
export function offBy(amount: number, target: number, { least, most }: GoodRange): number {
  return amount < least || amount > most ? amount - target : 0;
}
