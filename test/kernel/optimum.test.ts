import { writeFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import {
  FAMILIES,
  type Family,
  fileOf,
  gaps,
  hasFewestLate,
  isBeyond,
  knownOptima,
  type KnownOptimum,
  type Measured,
  measured,
  optimaText,
  optimumOf,
  weekOf,
} from '../support/exact/measure.js';
import { plan } from '../../src/kernel/plan/plan.js';
import { faultsOf } from '../support/plan-checker.js';
import { patience, runs } from '../support/scale.js';

/*
 * Plans beside proven optima. The optima are kept in test/data/optima; LOTWRIGHT_OPTIMA=1 finds all of them anew, and
 * leaves out each week that is not proven within a minute. LOTWRIGHT_GAPS=1 says how plans stand to them.
 */
const WEEKS: Record<Family, number> = { late: 200, shortage: 100, expiry: 100 };
const SECONDS_MOST = 60;

const found = (family: Family): KnownOptimum[] => {
  const optima: KnownOptimum[] = [];
  for (let seed = 1; optima.length < WEEKS[family]; seed++) {
    const optimum = optimumOf(family, seed, SECONDS_MOST);
    if (optimum) optima.push(optimum);
  }
  writeFileSync(fileOf(family), optimaText(optima));
  return optima;
};

const optima = process.env['LOTWRIGHT_OPTIMA'] === '1' ? found : knownOptima;
const isAll = runs(0, 1) === 1;
const weeks = Object.fromEntries(FAMILIES.map((family) => [family, optima(family)])) as Record<Family, KnownOptimum[]>;
const plans = Object.fromEntries(
  FAMILIES.map((family) => [
    family,
    weeks[family].filter((_, i) => isAll || i % 5 === 0).map((best) => measured(family, best)),
  ]),
) as Record<Family, Measured[]>;

const sum = (among: readonly Measured[], of: (week: Measured) => number): number =>
  among.reduce((total, week) => total + of(week), 0);
const share = (among: readonly Measured[], holds: (week: Measured) => boolean): number =>
  among.filter(holds).length / among.length;

afterAll(() => {
  if (process.env['LOTWRIGHT_GAPS'] === '1') console.error(gaps());
}, 600_000);

describe.each(FAMILIES)('%s: the best of a week', (family) => {
  it('is found again', { timeout: patience(120_000) }, () => {
    // five that do not take long, from all over; each of them among the proofs
    const quick = weeks[family].filter(({ seconds }) => seconds <= 2);
    const sample = quick.filter((_, i) => i % Math.ceil(quick.length / 5) === 0);
    for (const known of isAll ? weeks[family] : sample)
      expect(optimumOf(family, known.seed, 10 * SECONDS_MOST)).toEqual({ ...known, seconds: expect.any(Number) });
  });

  it('is bettered by no plan, and no plan is wrong', () => {
    expect(weeks[family]).toHaveLength(WEEKS[family]);
    expect(plans[family].filter(isBeyond)).toEqual([]);
    for (const { seed } of plans[family]) {
      const shop = weekOf(family, seed);
      expect({ seed, faults: faultsOf(shop, plan(shop)) }).toEqual({ seed, faults: [] });
    }
  });
});

/* What plans reach; the best there is would be all lines and nothing more. LOTWRIGHT_GAPS=1 prints how far it is. */
describe('a plan', () => {
  it('has as few late lines as can be in 95 % of weeks, and never more than one more', () => {
    const late = (week: Measured): number => week.found.lateLines - week.best.lateLines;
    expect(share(plans.late, (week) => late(week) === 0)).toBeGreaterThanOrEqual(0.95);
    expect(plans.late.filter((week) => late(week) > 1).map(({ seed }) => seed)).toEqual([]);
  });

  it('is within 3 % of the fewest days late, where it has the fewest late lines', () => {
    const fewest = plans.late.filter(hasFewestLate);
    const days = sum(fewest, (week) => week.found.lateDays);
    expect(days).toBeLessThanOrEqual(1.03 * sum(fewest, (week) => week.best.lateDays));
  });

  it('covers within 1 % of the most lines there is material for, and never more than one less', () => {
    const covered = sum(plans.shortage, (week) => week.found.covered);
    expect(covered).toBeGreaterThanOrEqual(0.99 * sum(plans.shortage, (week) => week.best.covered));
    const isFar = ({ found: of, best }: Measured): boolean => of.covered < best.covered - 1;
    expect(plans.shortage.filter(isFar).map(({ seed }) => seed)).toEqual([]);
  });

  it('lets no more expire than it must in 95 % of weeks', () => {
    const isLeast = (week: Measured): boolean =>
      hasFewestLate(week) && week.found.lateDays === week.best.lateDays && week.found.wasteE4 === week.best.wasteE4;
    expect(share(plans.expiry, isLeast)).toBeGreaterThanOrEqual(0.95);
  });
});
