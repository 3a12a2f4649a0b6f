import { partOf } from '../measure/quantity.js';
import { mulDivFloor } from '../measure/ratio.js';

/** Weights of one batch that is closed, in milligrams, and what its formula says of loss. */
export interface Closing {
  putInMg: number;
  madeMg: number;
  leftMg: number;
  lossPpb: number;
  residueMg: number;
  /** Of what was used: how far the loss may depart from the formula's without a reason. */
  tolerancePpb: number;
}

export interface Loss {
  /** Below zero where more came out than went in. */
  lossMg: number;
  expectedLossMg: number;
  toleranceMg: number;
  isExpected: boolean;
}

/** What was lost, beside what the formula expects of the weight that was used: its loss, and what stays in the vessel. */
export function lossOf({ putInMg, madeMg, leftMg, lossPpb, residueMg, tolerancePpb }: Closing): Loss {
  const usedMg = Math.max(0, putInMg - leftMg);
  const lossMg = putInMg - madeMg - leftMg;
  const expectedLossMg = Math.min(usedMg, partOf(usedMg, lossPpb, 'floor') + residueMg);
  const toleranceMg = partOf(usedMg, tolerancePpb, 'floor');
  return { lossMg, expectedLossMg, toleranceMg, isExpected: Math.abs(lossMg - expectedLossMg) <= toleranceMg };
}

/** What the hands cost: minutes at a rate by the hour, in 1/10 000 of the currency unit, rounded down. */
export function labourOf(minutes: number, rateE4: number | null): number {
  return mulDivFloor(minutes, rateE4 ?? 0, 60);
}

/** The part of a value that goes with `part` of `whole`, rounded down; all of it goes with the whole. */
export function valueOfPart(valueE4: number, part: number, whole: number): number {
  return part === whole ? valueE4 : mulDivFloor(valueE4, part, whole);
}
