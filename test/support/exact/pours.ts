import type { Snapshot, SnapshotFormula } from '../../../src/kernel/plan/snapshot.js';
import { divisor, isBusy, minutesFree, startOf } from './arithmetic.js';
import { bulkOf, type Cell, holds, isBulk, outOf } from './cells.js';
import type { Mip, Term, Var } from './mip.js';

/** One bulk in one vessel on one day. */
interface VesselDay {
  day: number;
  /** Whether it is poured on this day. */
  pours: Var;
  /** Whether it stands there on this day. */
  stands: Var;
  /** How much is poured, and how much is left in the evening, in `unit`s. */
  poured: Var;
  left: Var;
}

export interface Pours {
  minutes: (day: number) => Term[];
  held: (vessel: string, day: number) => Term[];
  poured: (formula: SnapshotFormula, day: number) => Term[];
}

/**
 * Bulks in the vessels they are filled from: from the day they are poured until they are ready and nothing is left. A
 * filling draws from what stands there and is ready, so that it never comes out of two pours.
 */
export function addPours({ mip, shop, cells }: { mip: Mip; shop: Snapshot; cells: Cell[] }, lastDay: number): Pours {
  const stays: { formula: SnapshotFormula; vessel: string; days: VesselDay[] }[] = [];
  for (const formula of shop.formulas.filter((one) => isBulk(shop, one))) {
    const fillings = cells.filter((cell) => bulkOf(shop, cell.formula) === formula);
    if (fillings.length === 0) continue;
    const unit = fillings.reduce((sum, cell) => divisor(sum, drawnBy(cell, formula)), 0);
    for (const { code, kind, capacityMg } of shop.vessels) {
      if (kind !== formula.vesselKind) continue;
      const most = Math.floor(holds(shop, formula, capacityMg) / unit);
      const days = vesselDays(mip, shop, lastDay, most);
      const drawn = fillings.filter(({ from }) => from === code);
      addStay(mip, shop, { formula, vessel: code, most, unit, days, drawn });
      stays.push({ formula, vessel: code, days });
    }
  }
  const on = (is: (stay: (typeof stays)[number]) => boolean, day: number) =>
    stays
      .filter(is)
      .flatMap(({ formula, days }) => days.filter((one) => one.day === day).map((at) => ({ formula, at })));
  return {
    minutes: (day) => on(() => true, day).map(({ formula, at }): Term => [formula.minutesBatch, at.pours]),
    held: (vessel, day) => on((stay) => stay.vessel === vessel, day).map(({ at }): Term => [1, at.stands]),
    poured: (of, day) => on((stay) => stay.formula === of, day).map(({ at }): Term => [1, at.pours]),
  };
}

const drawnBy = ({ formula }: Cell, bulk: SnapshotFormula): number =>
  formula.lines.find(({ item }) => item === bulk.item)!.amount;

function vesselDays(mip: Mip, shop: Snapshot, lastDay: number, most: number): VesselDay[] {
  const days: VesselDay[] = [];
  for (let day = startOf(shop); day <= lastDay; day++)
    days.push({ day, pours: mip.yesNo(), stands: mip.yesNo(), poured: mip.real(0, most), left: mip.real(0, most) });
  return days;
}

interface OneStay {
  formula: SnapshotFormula;
  vessel: string;
  most: number;
  unit: number;
  days: VesselDay[];
  drawn: Cell[];
}

function addStay(mip: Mip, shop: Snapshot, { formula, vessel, most, unit, days, drawn }: OneStay): void {
  const { restDays, minutesBatch, item } = formula;
  const life = shop.items.find(({ code }) => code === item)!.shelfLifeDays ?? Number.POSITIVE_INFINITY;
  days.forEach(({ day, pours, stands, poured, left }, i) => {
    const before = days[i - 1];
    const mayPour = minutesFree(shop, day) > 0 && minutesFree(shop, day) >= minutesBatch && !isBusy(shop, vessel, day);
    if (!mayPour) mip.row([[1, pours]], '=', 0);
    const pouredWithin = (from: number, to: number): Term[] =>
      days.filter((one) => from <= one.day && one.day <= to).map((one): Term => [1, one.pours]);
    const resting = pouredWithin(day - restDays, day);
    mip.row([...resting, [-1, stands]], '<=', 0);
    mip.row([[1, stands], [-1, pours], ...(before ? [[-1, before.stands] as const] : [])], '<=', 0);
    mip.row(
      [
        [1, poured],
        [-most, pours],
      ],
      '<=',
      0,
    );
    mip.row(
      [
        [1, left],
        [-most, stands],
      ],
      '<=',
      0,
    );
    if (before) {
      mip.row(
        [
          [1, before.left],
          [most, pours],
        ],
        '<=',
        most,
      );
      mip.row(
        [
          [1, before.left],
          [-most, stands],
        ],
        '<=',
        0,
      );
    }
    const fillings = drawn.filter((cell) => cell.day === day);
    const taken = fillings.flatMap((cell) =>
      outOf(cell).map(([by, out]): Term => [(by * drawnBy(cell, formula)) / unit, out]),
    );
    mip.row([[1, left], [-1, poured], ...(before ? [[-1, before.left] as const] : []), ...taken], '=', 0);
    const restingStill = pouredWithin(day - restDays + 1, day);
    for (const { used } of fillings) {
      mip.row([[1, used], [-1, stands], ...restingStill], '<=', 0);
      if (life < Number.POSITIVE_INFINITY)
        mip.row([[1, used], ...pouredWithin(day - life, day - restDays).map(([, one]): Term => [-1, one])], '<=', 0);
    }
  });
  // what is poured is filled in the end
  const last = days.at(-1);
  if (last) mip.row([[1, last.left]], '=', 0);
}
