import { Injectable } from '@nestjs/common';
import { roundUpTo } from '../kernel/measure/ratio.js';
import type { Measure } from '../kernel/measure/quantity.js';
import { outputFor, printQuantity } from '../kernel/measure/quantity.js';
import { scaleSheet, type SheetFlag } from '../kernel/formula/scaling.js';
import { sheetFor } from '../kernel/plan/sheet.js';
import type { SnapshotFormula, SnapshotItem } from '../kernel/plan/snapshot.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { positiveAmountOf } from './amount.js';
import type { FormulaLine } from './formula.entity.js';
import { Formula } from './formula.entity.js';
import { formulaById, linesOf } from './formulas.service.js';
import type { LineInput, ScaleInput, SheetView, Solution, SolveInput } from './formulas.schema.js';
import { Item } from './item.entity.js';
import { itemByCode } from './items.service.js';
import { readLines } from './lines.js';
import type { Workshop } from './workshop.entity.js';
import { workshopOf } from './workshop.service.js';

type Lines = { line: Pick<FormulaLine, 'position' | 'basis' | 'amount' | 'step' | 'partPpb'>; item: Item }[];
type Scale = Pick<Workshop, 'scaleStepMg' | 'scaleLeastMg'>;

/** What is in it, and what one batch of it takes. Nothing here is written down. */
@Injectable()
export class SheetsService {
  constructor(private readonly database: Database) {}

  solve(body: SolveInput): Promise<Solution> {
    return this.database.read(async (tx) => {
      const lines = await readLines(tx, body.lines, body.kind ?? 'bulk');
      return {
        lines: lines.map(({ position, item, partPpb }) => ({
          line: position,
          item: item.code,
          partPpb,
          percent: partPpb === null ? null : percentText(partPpb),
        })),
      };
    });
  }

  /**
   * What these lines would be for an item, as a formula not yet kept: its parts, and the sheet of a batch of it. Throws
   * the same 422 problems as keeping it would.
   */
  tryOut(code: string, body: { lines: LineInput[]; batch: number | string }): Promise<TriedOut> {
    return this.database.read(async (tx) => {
      const item = await itemByCode(tx, code);
      const read = await readLines(tx, body.lines, item.kind);
      const lines = read.map(({ item: part, ...line }) => ({ line, item: part }));
      const asked = positiveAmountOf(body.batch, item, '/batch');
      const formula = tx.create(Formula, UNKEPT);
      return {
        measures: lines.map((row) => row.item.measure),
        partsPpb: read.map(({ partPpb }) => partPpb),
        sheet: sheetOf({ formula, item, lines, scale: await workshopOf(tx), asked, isPutIn: true }, '/batch'),
      };
    });
  }

  /** The sheet of a batch at the workshop's scale, from the weight put in or from what is to come out. */
  scale(id: number, body: ScaleInput): Promise<SheetView> {
    return this.database.read(async (tx) => {
      const formula = await formulaById(tx, id);
      const item = await tx.findOneByOrFail(Item, { id: formula.itemId });
      const lines = await linesOf(tx, id);
      const scale = await workshopOf(tx);
      const pointer = body.output === undefined ? '/batch' : '/output';
      const asked = positiveAmountOf(body.output ?? body.batch!, item, pointer);
      return sheetOf({ formula, item, lines, scale, asked, isPutIn: body.output === undefined }, pointer);
    });
  }
}

/** What a formula that is not kept says of itself beside its lines: nothing is lost, nothing is required. */
const UNKEPT: Partial<Formula> = {
  id: 0,
  version: 0,
  vesselKind: null,
  batchMin: 1,
  batchMax: null,
  batchMultiple: 1,
  lossPpb: 0,
  residueMg: 0,
  minutesBatch: 0,
  secondsUnit: 0,
  restDays: 0,
};

export interface TriedOut {
  /** By line, as the sheet's. */
  measures: Measure[];
  partsPpb: (number | null)[];
  sheet: SheetView;
}

/** The sheet, or a 422 problem at `pointer` for a batch that has none. */
function sheetOf(asked: Asked, pointer: string): SheetView {
  try {
    return sheetView(asked);
  } catch (error) {
    if (error instanceof RangeError) throw invalid(pointer, `No sheet for this batch: ${error.message}.`);
    throw error;
  }
}

interface Asked {
  formula: Formula;
  item: Item;
  lines: Lines;
  scale: Scale;
  asked: number;
  /** `asked` is the weight put in, where the item is made by weight; else what comes out. */
  isPutIn: boolean;
}

function sheetView({ formula, item, lines, scale, asked, isPutIn }: Asked): SheetView {
  const parts = lines.filter(({ line }) => line.partPpb !== null);
  const byWeight = isPutIn && parts.length > 0;
  const putInMg = byWeight ? roundUpTo(asked, scale.scaleStepMg) : 0;
  const output = byWeight ? outputFor(putInMg, formula.residueMg, formula.lossPpb) : asked;
  if (output === 0) throw new RangeError('all of it would stay in the vessel');
  const sheet = sheetFor(planned(formula, item, lines), output, (code) => partItem(lines, code), {
    benchMinutes: [],
    closedDays: [],
    slackDays: 0,
    receivingDays: 0,
    scaleStepMg: scale.scaleStepMg,
    scaleLeastMg: scale.scaleLeastMg,
  });
  const partsMg = byWeight ? putInMg : sum(sheet.amounts.filter((_, at) => lines[at]!.line.partPpb !== null));
  const scaled =
    parts.length === 0
      ? { weightsMg: [], flags: [], stepMg: scale.scaleStepMg }
      : scaleSheet({
          partsPpb: parts.map(({ line }) => line.partPpb!),
          putInMg: partsMg,
          stepMg: scale.scaleStepMg,
          leastMg: scale.scaleLeastMg,
        });
  const amounts = sheet.amounts.slice();
  const flags = new Map<number, SheetFlag>();
  parts.forEach((part, index) => (amounts[lines.indexOf(part)] = scaled.weightsMg[index]!));
  for (const flag of scaled.flags) flags.set(lines.indexOf(parts[flag.line]!), flag);
  return {
    formula: formula.id,
    item: item.code,
    putInMg: sum(amounts.filter((_, at) => lines[at]!.item.measure === 'weighed')),
    output,
    scaleStepMg: scaled.stepMg,
    lines: lines.map(({ line, item: part }, at) => {
      const isLight = part.measure === 'weighed' && amounts[at]! > 0 && amounts[at]! < scale.scaleLeastMg;
      const flag = flags.get(at);
      return {
        line: line.position,
        item: part.code,
        name: part.name,
        step: line.step,
        amount: amounts[at]!,
        text: printQuantity(amounts[at]!, part.measure),
        flag: flag?.code ?? (isLight ? 'below-smallest' : null),
        advice: flag || isLight ? adviceFor(flag?.largerBatchMg) : [],
      };
    }),
  };
}

function adviceFor(largerBatchMg: number | undefined): string[] {
  const advice = ['Weigh it on a finer scale.', 'Weigh a larger amount of a predilution of it.'];
  if (largerBatchMg !== undefined && Number.isSafeInteger(largerBatchMg))
    advice.push(`Make a larger batch: from ${printQuantity(largerBatchMg, 'weighed')} put in it can be weighed.`);
  return advice;
}

/** The formula as the planner reads it, so that a sheet asked for here is the sheet of the plan. */
function planned(formula: Formula, item: Item, lines: Lines): SnapshotFormula {
  return {
    item: item.code,
    version: formula.version,
    vesselKind: formula.vesselKind,
    batchMin: formula.batchMin,
    batchMax: formula.batchMax,
    batchMultiple: formula.batchMultiple,
    lossPpb: formula.lossPpb,
    residueMg: formula.residueMg,
    minutesBatch: formula.minutesBatch,
    secondsUnit: formula.secondsUnit,
    restDays: formula.restDays,
    lines: lines.map(({ line, item: part }) => ({
      position: line.position,
      item: part.code,
      basis: line.partPpb === null ? (line.basis === 'each' ? 'each' : 'fixed') : 'part',
      amount: line.partPpb ?? line.amount ?? 0,
      step: line.step,
    })),
  };
}

function partItem(lines: Lines, code: string): SnapshotItem {
  return lines.find(({ item }) => item.code === code)!.item;
}

function sum(amounts: readonly number[]): number {
  return amounts.reduce((total, amount) => total + amount, 0);
}

/** Parts per billion in percent, exactly: 47 619 048 is "4.7619048". */
function percentText(ppb: number): string {
  const text = ppb.toString().padStart(8, '0');
  return `${text.slice(0, -7)}.${text.slice(-7)}`.replace(/\.?0+$/, '') + ' %';
}
