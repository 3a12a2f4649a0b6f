import type { Snapshot, SnapshotFormula } from '../../../src/kernel/plan/snapshot.js';
import { largest, minutesFree, minutesOf, putIn, startOf, upTo } from './arithmetic.js';
import type { Mip, Term, Var } from './mip.js';

/** One batch of a product that could be made: on this day, in this vessel, or filled from what stands in it. */
export interface Cell {
  formula: SnapshotFormula;
  day: number;
  ready: number;
  /** What it is made in; null where it needs none. */
  vessel: string | null;
  /** What the bulk it is filled from stands in; null where it is filled from none. */
  from: string | null;
  used: Var;
  /** How many multiples come out. */
  multiples: Var;
  most: number;
  minutes: Term[];
}

export const outOf = ({ formula, multiples }: Cell): Term[] => [[formula.batchMultiple, multiples]];

/** The bulk a product is filled from; undefined where there is none. */
export const bulkOf = (shop: Snapshot, { lines }: SnapshotFormula): SnapshotFormula | undefined =>
  shop.formulas.find(({ item }) => lines.some((line) => line.item === item));

export const isBulk = (shop: Snapshot, { item }: SnapshotFormula): boolean =>
  shop.items.find(({ code }) => code === item)!.kind === 'bulk';

/** Every batch of a product that could be made and be ready by `lastDay`. */
export function cellsOf(shop: Snapshot, mip: Mip, lastDay: number): Cell[] {
  const cells: Cell[] = [];
  for (const formula of shop.formulas.filter((one) => !isBulk(shop, one))) {
    const wanted = shop.lines.filter(({ item }) => item === formula.item).reduce((sum, row) => sum + row.quantity, 0);
    if (wanted === 0) continue;
    const most = Math.max(upTo(formula.batchMin, formula.batchMultiple), upTo(wanted, formula.batchMultiple));
    for (const place of placesOf(shop, formula))
      for (let day = startOf(shop); day + formula.restDays <= lastDay; day++) {
        const cell = cellOn(shop, mip, formula, day, place, most);
        if (cell) cells.push(cell);
      }
  }
  return cells;
}

/** A vessel with how much of a product it allows. */
interface Place {
  vessel: string | null;
  from: string | null;
  most: number;
}

function placesOf(shop: Snapshot, formula: SnapshotFormula): Place[] {
  const ample = formula.batchMax ?? Number.MAX_SAFE_INTEGER;
  const kindOf = (kind: string | null) => shop.vessels.filter((vessel) => vessel.kind === kind);
  if (formula.vesselKind !== null)
    return kindOf(formula.vesselKind).map(({ code, capacityMg }) => ({
      vessel: code,
      from: null,
      most: largest(Math.min(ample, capacityMg), (output) => putIn(shop, formula, output) <= capacityMg),
    }));
  const bulk = bulkOf(shop, formula);
  if (!bulk) return [{ vessel: null, from: null, most: ample }];
  const drawn = formula.lines.find(({ item }) => item === bulk.item)!.amount;
  return kindOf(bulk.vesselKind).map(({ code, capacityMg }) => ({
    vessel: null,
    from: code,
    most: Math.min(ample, Math.floor(holds(shop, bulk, capacityMg) / drawn)),
  }));
}

/** How much of a bulk a vessel holds. */
export const holds = (shop: Snapshot, bulk: SnapshotFormula, capacityMg: number): number =>
  largest(capacityMg, (output) => putIn(shop, bulk, output) <= capacityMg);

function cellOn(
  shop: Snapshot,
  mip: Mip,
  formula: SnapshotFormula,
  day: number,
  { vessel, from, most: fits }: Place,
  wanted: number,
): Cell | null {
  const { batchMin, batchMultiple, minutesBatch, secondsUnit, restDays } = formula;
  const open = minutesFree(shop, day);
  const benchMost = largest(Math.min(fits, wanted), (output) => minutesOf(formula, output) <= open);
  const most = benchMost - (benchMost % batchMultiple);
  if (most < Math.max(1, upTo(batchMin, batchMultiple))) return null;
  const used = mip.yesNo();
  const multiples = mip.whole(0, most / batchMultiple);
  const minutes: Term[] = [[minutesBatch, used]];
  const each = secondsUnit * batchMultiple;
  if (each % 60 === 0) minutes.push([each / 60, multiples]);
  else {
    const rounded = mip.whole(0, Math.ceil((secondsUnit * most) / 60));
    mip.row(
      [
        [60, rounded],
        [-each, multiples],
      ],
      '>=',
      0,
    );
    minutes.push([1, rounded]);
  }
  return { formula, day, ready: day + restDays, vessel, from, used, multiples, most, minutes };
}
