import { scaleSheet } from '../formula/scaling.js';
import { putInFor } from '../measure/quantity.js';
import { mulDivCeil, roundUpTo } from '../measure/ratio.js';
import type { SnapshotFormula, SnapshotItem, SnapshotWorkshop } from './snapshot.js';

/** What one batch takes: the weight put in and the amount of every line, in the lines' own order. */
export interface Sheet {
  putInMg: number;
  amounts: number[];
  /** True where a weight lies under the smallest the scale can weigh. */
  belowScale: boolean[];
}

/**
 * The sheet of a batch with `output` coming out of it: grossed up for loss, put in a whole number of scale steps, split
 * over the lines so that they sum to it. Throws RangeError when an amount leaves the safe integers.
 */
export function sheetFor(
  formula: SnapshotFormula,
  output: number,
  itemOf: (code: string) => SnapshotItem,
  workshop: SnapshotWorkshop,
): Sheet {
  const { lines } = formula;
  const partLines = lines.filter((line) => line.basis === 'part');
  // Stryker disable next-line ArrowFunction: every amount is written below
  const sheet: Sheet = { putInMg: 0, amounts: lines.map(() => 0), belowScale: lines.map(() => false) };
  if (partLines.length > 0) {
    sheet.putInMg = roundUpTo(putInFor(output, formula.residueMg, formula.lossPpb), workshop.scaleStepMg);
    const scaled = scaleSheet({
      partsPpb: partLines.map((line) => line.amount),
      putInMg: sheet.putInMg,
      stepMg: workshop.scaleStepMg,
      leastMg: workshop.scaleLeastMg,
    });
    partLines.forEach((line, i) => {
      const at = lines.indexOf(line);
      sheet.amounts[at] = scaled.weightsMg[i]!;
      sheet.belowScale[at] = scaled.weightsMg[i]! > 0 && scaled.weightsMg[i]! < workshop.scaleLeastMg;
    });
  }
  lines.forEach((line, at) => {
    if (line.basis === 'part') return;
    const weighed = itemOf(line.item).measure === 'weighed';
    const wanted = line.basis === 'each' ? output * line.amount : line.amount;
    if (!Number.isSafeInteger(wanted))
      throw new RangeError(`${formula.item} needs more ${line.item} than can be counted`);
    // Bottles are not lost in the pot: only what is filled by weight is grossed up.
    sheet.amounts[at] =
      line.basis === 'each' && weighed ? putInFor(wanted, formula.residueMg, formula.lossPpb) : wanted;
    if (weighed) sheet.putInMg += sheet.amounts[at];
  });
  if (!Number.isSafeInteger(sheet.putInMg)) throw new RangeError(`a batch of ${formula.item} is too large to weigh`);
  return sheet;
}

export const SECONDS_PER_MINUTE = 60;

/** Minutes at the bench for so much output: those of any batch, and whole minutes for the seconds every unit takes. */
export function batchMinutes(formula: Pick<SnapshotFormula, 'minutesBatch' | 'secondsUnit'>, output: number): number {
  return formula.minutesBatch + mulDivCeil(output, formula.secondsUnit, SECONDS_PER_MINUTE);
}
