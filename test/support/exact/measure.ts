import { readFileSync } from 'node:fs';
import { plan } from '../../../src/kernel/plan/plan.js';
import type { Proposal } from '../../../src/kernel/plan/proposal.js';
import type { Snapshot } from '../../../src/kernel/plan/snapshot.js';
import { dayOf } from './arithmetic.js';
import { expiryWeek } from './expiries.js';
import { Unproven } from './mip.js';
import { mostCovered, shortage } from './shortages.js';
import { bestWeek } from './week-model.js';
import { smallWeek } from './weeks.js';

/*
 * How far plans are from the best that there is. The best of each week is kept with the seed the week is drawn from, for
 * finding it takes up to a minute.
 */

export const FAMILIES = ['late', 'shortage', 'expiry'] as const;
export type Family = (typeof FAMILIES)[number];

/** What one week comes to. Of shortages only what is covered counts, of other weeks only what is late and expires. */
export interface Figures {
  lateLines: number;
  lateDays: number;
  covered: number;
  wasteE4: number;
}

export interface KnownOptimum extends Figures {
  seed: number;
  /** What the solver took. */
  seconds: number;
}

export interface Measured {
  family: Family;
  seed: number;
  best: KnownOptimum;
  found: Figures;
  /** Lines the plan does not serve at all; they count as late, and have no days. */
  unserved: number;
  milliseconds: number;
}

const DRAWN: Record<Family, (seed: number) => Snapshot> = {
  late: smallWeek,
  shortage,
  expiry: expiryWeek,
};

export const weekOf = (family: Family, seed: number): Snapshot => DRAWN[family](seed);

/** The best of a week, proven; null where that takes too long, or where too little is ordered to be worth a look. */
export function optimumOf(family: Family, seed: number, secondsMost: number): KnownOptimum | null {
  const shop = weekOf(family, seed);
  if (family === 'late' && shop.lines.length < 4) return null;
  const began = performance.now();
  try {
    const none = { lateLines: 0, lateDays: 0, covered: 0, wasteE4: 0 };
    const best = family === 'shortage' ? { covered: mostCovered(shop, secondsMost) } : bestWeek(shop, secondsMost);
    return { seed, ...none, ...best, seconds: Math.round((performance.now() - began) / 100) / 10 };
  } catch (error) {
    if (error instanceof Unproven) return null;
    throw error;
  }
}

export const fileOf = (family: Family): string => `test/data/optima/${family}.json`;

export const knownOptima = (family: Family): KnownOptimum[] => {
  const kept: unknown = JSON.parse(readFileSync(fileOf(family), 'utf8'));
  return kept as KnownOptimum[];
};

/** Text of the file: a week a line. */
export const optimaText = (optima: readonly KnownOptimum[]): string =>
  `[\n${optima.map((one) => `  ${JSON.stringify(one)}`).join(',\n')}\n]\n`;

/** Plans a week and reads from the plan what it comes to. */
export function measured(family: Family, best: KnownOptimum): Measured {
  const shop = weekOf(family, best.seed);
  const began = performance.now();
  const proposal = plan(shop);
  const milliseconds = performance.now() - began;
  const { unserved, ...found } = figuresOf(shop, proposal, family);
  return { family, seed: best.seed, best, found, unserved, milliseconds };
}

/** What a plan comes to, by arithmetic of its own over the answer's days and takes. */
export function figuresOf(
  shop: Snapshot,
  { lines, batches }: Proposal,
  family: Family,
): Figures & { unserved: number } {
  const served = lines.filter(({ readyOn }) => readyOn !== null);
  const unserved = lines.length - served.length;
  if (family === 'shortage') return { lateLines: 0, lateDays: 0, covered: served.length, wasteE4: 0, unserved };
  const days = served.map(({ readyOn, shipBy }) => Math.max(0, dayOf(readyOn!) - dayOf(shipBy)));
  const taken = [...batches.flatMap(({ inputs }) => inputs), ...lines].flatMap((row) => row.taken);
  const wasteE4 = shop.lots
    .filter(({ expiresOn }) => expiresOn !== null)
    .reduce((sum, { code, free, valueE4, onHand }) => {
      const used = taken.filter(({ from, key }) => from === 'lot' && key === code);
      return sum + (valueE4 * (free - used.reduce((of, { quantity }) => of + quantity, 0))) / onHand;
    }, 0);
  return {
    lateLines: unserved + days.filter((late) => late > 0).length,
    lateDays: days.reduce((sum, late) => sum + late, 0),
    covered: 0,
    wasteE4,
    unserved,
  };
}

/** Whether a plan is better than the best there is: then the best is not the best. */
export function isBeyond({ best, found, unserved, family }: Measured): boolean {
  if (family === 'shortage') return found.covered > best.covered;
  if (found.lateLines !== best.lateLines) return found.lateLines < best.lateLines;
  if (unserved > 0) return false;
  if (found.lateDays !== best.lateDays) return found.lateDays < best.lateDays;
  return found.wasteE4 < best.wasteE4;
}

/** Whether all lines are served, and as few late as can be: only then days and waste may be compared. */
export const hasFewestLate = ({ best, found, unserved }: Measured): boolean =>
  unserved === 0 && found.lateLines === best.lateLines;

/** A table: of each family how its plans stand to the best there is. */
export function gaps(families: readonly Family[] = FAMILIES): string {
  const rows = families.map((family) => gapsOf(knownOptima(family).map((best) => measured(family, best))));
  const head = ['family', 'weeks', ...Object.keys(rows[0] ?? {}).slice(2)];
  const table = [head, ...rows.map((row) => Object.values(row))];
  const widths = head.map((_, i) => Math.max(...table.map((cells) => cells[i]!.length)));
  return table.map((cells) => cells.map((cell, i) => cell.padEnd(widths[i]!)).join('  ')).join('\n');
}

function gapsOf(weeks: readonly Measured[]): Record<string, string> {
  const sum = (of: (week: Measured) => number, among = weeks): number =>
    among.reduce((total, week) => total + of(week), 0);
  const pair = (key: keyof Figures, among = weeks): string =>
    `${sum(({ found }) => found[key], among)}/${sum(({ best }) => best[key], among)}`;
  const fewest = weeks.filter(hasFewestLate);
  const inTime = fewest.filter(({ found, best }) => found.lateDays === best.lateDays);
  const isShortage = weeks[0]?.family === 'shortage';
  const key = isShortage ? 'covered' : 'lateLines';
  return {
    family: weeks[0]?.family ?? '',
    weeks: String(weeks.length),
    'late lines plan/best': isShortage ? '-' : pair('lateLines'),
    'covered plan/best': isShortage ? pair('covered') : '-',
    equal: String(weeks.filter(({ found, best }) => found[key] === best[key]).length),
    worst: String(Math.max(...weeks.map(({ found, best }) => Math.abs(found[key] - best[key])))),
    'late days plan/best (of weeks)': isShortage ? '-' : `${pair('lateDays', fewest)} (${fewest.length})`,
    'waste g plan/best': isShortage
      ? '-'
      : grams(
          sum(({ found }) => found.wasteE4),
          sum(({ best }) => best.wasteE4),
        ),
    'waste equal (of weeks)': isShortage
      ? '-'
      : `${inTime.filter(({ found, best }) => found.wasteE4 === best.wasteE4).length} (${inTime.length})`,
    'plan ms': sum(({ milliseconds }) => milliseconds).toFixed(0),
    'solver s': sum(({ best }) => best.seconds).toFixed(0),
    beyond: String(weeks.filter(isBeyond).length),
  };
}

const grams = (found: number, best: number): string => `${Math.round(found / 1_000)}/${Math.round(best / 1_000)}`;
