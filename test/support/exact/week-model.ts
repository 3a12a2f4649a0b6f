import type { Snapshot, SnapshotFormula, SnapshotLine } from '../../../src/kernel/plan/snapshot.js';
import { dayOf, isBusy, minutesFree, startOf } from './arithmetic.js';
import { type Cell, cellsOf, outOf } from './cells.js';
import { Mip, type Term, type Var } from './mip.js';
import { addPours } from './pours.js';
import { leastWaste } from './waste.js';
import { PLENTY } from './weeks.js';

/** What the best of all plans of a week comes to. */
export interface WeekOptimum {
  lateLines: number;
  /** The least sum of days late of all plans with so few late lines, everything being made in the end. */
  lateDays: number;
  /** The least value that expires of all those plans, in 1/10 000 of the currency unit. */
  wasteE4: number;
}

/** A line by what of it each batch gives, and the day on which all of it is there. */
interface LineVars {
  row: SnapshotLine;
  shipBy: number;
  /** Cells that could serve it, each with how much it gives and the last day on which that may go. */
  shares: { cell: Cell; share: Var; goodUntil: number }[];
  /**
   * Exactly one of them is 1: the day it goes, the first standing for all that are in time. Where everything is made in the
   * end, the last is the day after those looked at, on which it is there for nothing: as long as nothing better goes
   * then, looking further would find nothing better either.
   */
  goes: { day: number; late: number; chosen: Var }[];
}

export interface WeekModel {
  mip: Mip;
  shop: Snapshot;
  cells: Cell[];
  lines: LineVars[];
}

/** In how many batches a product is made at most, by its lines. */
const FOUR_OR_MORE = (lines: number): number => Math.max(4, 2 * lines);

/**
 * The best plan of a week, proven. Every day and vessel in which a batch could be made is a cell, used or not and with so
 * much coming out of it; a line takes what it needs from any of them. First as few late lines as can be, then as few days.
 */
export function bestWeek(shop: Snapshot, seconds = 600, batchesMost = FOUR_OR_MORE): WeekOptimum {
  const latestDue = Math.max(...shop.lines.map(({ shipBy }) => dayOf(shipBy)));
  const lateLines = fewestLate(shop, latestDue, seconds, batchesMost);
  for (let lastDay = latestDue + 4; ; lastDay += 7) {
    const model = weekModel(shop, lastDay, true, batchesMost);
    const { mip } = model;
    mip.row(lateTerms(model), '<=', lateLines);
    const days = mip.least(dayTerms(model), seconds)!;
    const isAllWithin = model.lines.every(({ goes }) => days.of(goes.at(-1)!.chosen) < 0.5);
    if (!isAllWithin) continue;
    mip.row(dayTerms(model), '<=', days.value);
    return { lateLines, lateDays: days.value, wasteE4: leastWaste(model, seconds) };
  }
}

/** Lines that cannot be in time are left out, so that nothing after the last line is due has to be looked at. */
function fewestLate(shop: Snapshot, latestDue: number, seconds: number, batchesMost: typeof FOUR_OR_MORE): number {
  const model = weekModel(shop, latestDue, false, batchesMost);
  const inTime = model.lines.flatMap(({ goes }): Term[] => goes.map(({ chosen }) => [-1, chosen]));
  return shop.lines.length + model.mip.least(inTime, seconds)!.value;
}

const lateTerms = ({ lines }: WeekModel): Term[] =>
  lines.flatMap(({ goes }) => goes.filter(({ late }) => late > 0).map(({ chosen }): Term => [1, chosen]));
const dayTerms = ({ lines }: WeekModel): Term[] =>
  lines.flatMap(({ goes }) => goes.map(({ late, chosen }): Term => [late, chosen]));

/** Everything a plan of this week must hold to. `isWhole`: all lines are served, however late. */
export function weekModel(shop: Snapshot, lastDay: number, isWhole: boolean, batchesMost = FOUR_OR_MORE): WeekModel {
  const mip = new Mip();
  const cells = cellsOf(shop, mip, lastDay);
  const model: WeekModel = { mip, shop, cells, lines: [] };
  for (const row of shop.lines) model.lines.push(lineVars(model, row, lastDay, isWhole));
  for (const cell of cells) addOutput(model, cell);
  for (const formula of shop.formulas) {
    const wanted = shop.lines.filter(({ item }) => item === formula.item).length;
    const used = cells.filter((cell) => cell.formula === formula).map(({ used: one }): Term => [1, one]);
    if (used.length > 0) mip.row(used, '<=', batchesMost(wanted));
  }
  const pours = addPours(model, lastDay);
  addBench(model, lastDay, pours.minutes);
  addVessels(model, lastDay, pours.held);
  addMaterials(model, lastDay, pours.poured);
  return model;
}

function lineVars(model: WeekModel, row: SnapshotLine, lastDay: number, isWhole: boolean): LineVars {
  const { mip, shop, cells } = model;
  const shipBy = dayOf(row.shipBy);
  const { shelfLifeDays, owedLifeDays } = shop.items.find(({ code }) => code === row.item)!;
  const goes: LineVars['goes'] = [];
  for (let day = Math.max(shipBy, startOf(shop)); day <= lastDay; day++)
    if (isWhole || day === shipBy) goes.push({ day, late: day - shipBy, chosen: mip.yesNo() });
  const shares = cells
    .filter(({ formula }) => formula.item === row.item)
    .map((cell) => ({
      cell,
      share: mip.real(0, Math.min(row.quantity, cell.most)),
      goodUntil: shelfLifeDays === null ? Number.POSITIVE_INFINITY : cell.day + shelfLifeDays - owedLifeDays,
    }));
  const line: LineVars = { row, shipBy, shares, goes };
  addShares(model, line);
  if (isWhole) {
    goes.push({ day: lastDay + 1, late: lastDay + 1 - shipBy, chosen: mip.yesNo() });
    mip.row(
      goes.map(({ chosen }): Term => [1, chosen]),
      '=',
      1,
    );
  }
  return line;
}

/** All of a line comes out of cells, and of those that are ready and still good on the day it goes. */
function addShares({ mip }: WeekModel, { row: { quantity }, shares, goes }: LineVars): void {
  const given = (from: LineVars['shares']) => from.map(({ share }): Term => [1, share]);
  const taken = (on: LineVars['goes']) => on.map(({ chosen }): Term => [-quantity, chosen]);
  mip.row([...given(shares), ...taken(goes)], '=', 0);
  for (const { cell, share } of shares)
    mip.row(
      [
        [1, share],
        [-Math.min(quantity, cell.most), cell.used],
      ],
      '<=',
      0,
    );
  const onlyOn = (from: LineVars['shares'], on: LineVars['goes']): void => {
    if (from.length > 0) mip.row([...given(from), ...taken(on)], '<=', 0);
  };
  for (const { day } of goes) {
    onlyOn(
      shares.filter(({ cell }) => cell.ready > day),
      goes.filter((one) => one.day > day),
    );
    onlyOn(
      shares.filter(({ goodUntil }) => goodUntil < day),
      goes.filter((one) => one.day < day),
    );
  }
}

/** What comes out of a cell: what lines take, and no more than that where nothing rounds a batch up. */
function addOutput({ mip, lines }: WeekModel, cell: Cell): void {
  const { batchMin, batchMultiple } = cell.formula;
  const taken = lines.flatMap(({ shares }) => shares.filter((one) => one.cell === cell).map(({ share }) => share));
  const isRounded = batchMin > 1 || batchMultiple > 1;
  mip.row([...outOf(cell), ...taken.map((share): Term => [-1, share])], isRounded ? '>=' : '=', 0);
  mip.row([...outOf(cell), [-cell.most, cell.used]], '<=', 0);
  mip.row([...outOf(cell), [-batchMin, cell.used]], '>=', 0);
}

function addBench({ mip, shop, cells }: WeekModel, lastDay: number, poured: (day: number) => Term[]): void {
  for (let day = startOf(shop); day <= lastDay; day++) {
    const used = cells.filter((cell) => cell.day === day).flatMap(({ minutes }) => minutes);
    mip.row([...used, ...poured(day)], '<=', minutesFree(shop, day));
  }
}

/** A vessel holds one thing, from the day it is poured until the day it is ready. */
function addVessels(
  { mip, shop, cells }: WeekModel,
  lastDay: number,
  held: (vessel: string, day: number) => Term[],
): void {
  for (const { code } of shop.vessels)
    for (let day = startOf(shop); day <= lastDay; day++) {
      const standing = cells.filter(
        (cell) => cell.vessel === code && cell.day <= day && day <= cell.day + cell.formula.restDays,
      );
      const terms = [...standing.map(({ used }): Term => [1, used]), ...held(code, day)];
      mip.row(terms, '<=', isBusy(shop, code, day) ? 0 : 1);
    }
}

/** What has been taken of a material by a day is no more than has come by then; plenty is enough for all. */
function addMaterials(
  { mip, shop, cells }: WeekModel,
  lastDay: number,
  poured: (of: SnapshotFormula, day: number) => Term[],
): void {
  for (const { code, kind, stocked } of shop.items) {
    if (kind !== 'material' || !stocked) continue;
    for (let day = startOf(shop); day <= lastDay; day++) {
      const there = supplyBy(shop, code, day);
      if (there >= PLENTY) continue;
      const taken: Term[] = [];
      for (const formula of shop.formulas)
        for (const { item, amount, basis, step } of formula.lines) {
          if (item !== code) continue;
          const sooner = step === 'pack' ? formula.restDays : 0;
          if (basis === 'each')
            for (const cell of cells)
              if (cell.formula === formula && cell.day + sooner <= day)
                taken.push(...outOf(cell).map(([by, out]): Term => [by * amount, out]));
          // of what is weighed into a bulk there is none or plenty
          if (basis === 'part')
            for (let made = startOf(shop); made <= day; made++) taken.push(...poured(formula, made));
        }
      mip.row(taken, '<=', there);
    }
  }
}

const supplyBy = (shop: Snapshot, code: string, day: number): number =>
  shop.lots.filter(({ item }) => item === code).reduce((sum, { free }) => sum + free, 0) +
  shop.deliveries
    .filter((row) => row.item === code && dayOf(row.day) + shop.workshop.receivingDays <= day)
    .reduce((sum, { free }) => sum + free, 0);
