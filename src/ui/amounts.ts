import { type Measure, printQuantity } from '../kernel/measure/quantity.js';
import { invalid } from '../platform/problem.js';
import { pageWorkshop } from './page-workshop.js';

/**
 * The one way to write an amount on a page, on paper, in a message or in what is kept: to the step of the workshop's scale,
 * with ounces or pounds beside it where the workshop reads those; or as a count. Where no workshop is known (a program
 * asks) it is written to the milligram, and so is what the scale would not show at all.
 */
export function amountText(quantity: number, measure: Measure): string {
  if (measure === 'counted') return String(quantity);
  const step = pageWorkshop()?.scaleStep ?? 1;
  const shown = Math.round(quantity / step) * step;
  return besideUs(printQuantity(shown === 0 ? quantity : shown, measure), quantity, 2);
}

/** An amount as it is kept, to the milligram: in the ledger, on a sheet, in a formula. */
export function exactText(quantity: number, measure: Measure): string {
  return measure === 'counted' ? String(quantity) : besideUs(printQuantity(quantity, measure), quantity, 3);
}

/** `metric` with ounces or pounds beside it where the workshop reads those, to so many decimals. */
export function besideUs(metric: string, mg: number, decimals: number): string {
  return pageWorkshop()?.units === 'us' ? `${metric} (${usWeight(mg, decimals)})` : metric;
}

/** The same of a range, rounded inwards, so that what is read beside it is no wider. */
export function besideUsRange(metric: string, least: number, most: number): string {
  if (pageWorkshop()?.units !== 'us') return metric;
  const isPounds = most / MG_PER_OZ >= OZ_PER_LB;
  const per = isPounds ? MG_PER_OZ * OZ_PER_LB : MG_PER_OZ;
  const from = Math.ceil((least / per) * 1000) / 1000;
  const to = Math.floor((most / per) * 1000) / 1000;
  return `${metric} (${from} to ${to} ${isPounds ? 'lb' : 'oz'})`;
}

// NIST Handbook 44 (2014), appendix C: 1 ounce avoirdupois = 28.349 523 125 g, 1 pound = 16 ounces
const MG_PER_OZ = 28_349.523125;
const OZ_PER_LB = 16;

/** Milligrams in ounces, from a pound on in pounds. */
function usWeight(mg: number, decimals: number): string {
  const ounces = mg / MG_PER_OZ;
  const isPounds = Math.abs(ounces) >= OZ_PER_LB;
  return `${Number((isPounds ? ounces / OZ_PER_LB : ounces).toFixed(decimals))} ${isPounds ? 'lb' : 'oz'}`;
}

/** Money in 1/10 000 of the unit of `currency` (ISO 4217). */
export function moneyText(valueE4: number, currency: string): string {
  return new Intl.NumberFormat('en', { style: 'currency', currency }).format(valueE4 / 10_000);
}

/** Money as a person writes it ("38.50") in 1/10 000 of the unit. Throws a 422 problem at `pointer` for other text. */
export function moneyE4Of(text: string | undefined, pointer: string): number | undefined {
  if (text === undefined) return undefined;
  const match = /^(\d{1,9})(?:\.(\d{1,4}))?$/.exec(text);
  if (!match) throw invalid(pointer, 'Write an amount of money such as 38.50.');
  return Number(match[1]) * 10_000 + Number((match[2] ?? '').padEnd(4, '0'));
}
