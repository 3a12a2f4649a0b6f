import type { Snapshot, SnapshotFormula } from '../../../src/kernel/plan/snapshot.js';

/*
 * What a batch weighs, takes and how long it lasts, by arithmetic of its own over the rows. Days are whole days since 1970.
 */

const MS_A_DAY = 86_400_000;
export const dayOf = (iso: string): number => Date.parse(`${iso}T00:00:00Z`) / MS_A_DAY;
export const isoOf = (day: number): string => new Date(day * MS_A_DAY).toISOString().slice(0, 10);
/** 1 January 1970 was a Thursday; Monday is 0. */
const weekday = (day: number): number => (((day + 3) % 7) + 7) % 7;

export const startOf = (shop: Snapshot): number => Math.max(dayOf(shop.today), dayOf(shop.weekStart));

/** Minutes of a day that nothing has yet. */
export function minutesFree(shop: Snapshot, day: number): number {
  const open = shop.workshop.closedDays.some((closed) => dayOf(closed) === day)
    ? 0
    : shop.workshop.benchMinutes[weekday(day)]!;
  const used = shop.making.filter((row) => dayOf(row.day) === day).reduce((sum, { minutes }) => sum + minutes, 0);
  return Math.max(0, open - used);
}

/** Whether a vessel holds something that was poured before this plan. */
export const isBusy = (shop: Snapshot, vessel: string, day: number): boolean =>
  shop.making.some(
    (row) => row.vessel === vessel && dayOf(row.day) <= day && day <= Math.max(dayOf(row.emptiedOn), dayOf(shop.today)),
  );

export const upTo = (quantity: number, step: number): number => Math.ceil(quantity / step) * step;

/** What must go in for so much to come out, the loss being a whole fraction of 10^9. */
function grossed(output: number, { lossPpb, residueMg }: SnapshotFormula): number {
  const kept = 1_000_000_000n - BigInt(lossPpb);
  return Number((BigInt(output + residueMg) * 1_000_000_000n + kept - 1n) / kept);
}

/** The weight that stands in the vessel. */
export function putIn(shop: Snapshot, formula: SnapshotFormula, output: number): number {
  const isPoured = formula.lines.some(({ basis }) => basis === 'part');
  let weight = isPoured ? upTo(grossed(output, formula), shop.workshop.scaleStepMg) : 0;
  for (const { item, basis, amount } of formula.lines) {
    if (basis === 'part' || shop.items.find(({ code }) => code === item)!.measure === 'counted') continue;
    weight += basis === 'each' ? grossed(output * amount, formula) : amount;
  }
  return weight;
}

export const minutesOf = ({ minutesBatch, secondsUnit }: SnapshotFormula, output: number): number =>
  minutesBatch + Math.ceil((output * secondsUnit) / 60);

/** The largest amount up to `most` that holds; 0 where not even 1 does. What holds for more must hold for less. */
export function largest(most: number, holds: (amount: number) => boolean): number {
  let [low, high] = [0, most];
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if (holds(middle)) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** The largest number that divides both. */
export const divisor = (a: number, b: number): number => (a === 0 ? b : divisor(b % a, a));
